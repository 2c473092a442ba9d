"""An S3-compatible bucket as the store of a depot, through obstore; blocking calls only.

Credentials come from the environment or the keyring, and go nowhere but to the library.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import TYPE_CHECKING

import obstore
from obstore import exceptions
from obstore.store import S3Store

from herdsync.exchange.credentials import credential, how_to_give
from herdsync.exchange.places import Place
from herdsync.faults import Refused
from herdsync.wall import environment

if TYPE_CHECKING:
    from obstore.store import S3Config

KEY_VARIABLE = "AWS_ACCESS_KEY_ID"
SECRET_VARIABLE = "AWS_SECRET_ACCESS_KEY"
TOKEN_VARIABLE = "AWS_SESSION_TOKEN"
REGION_VARIABLE = "AWS_REGION"
REGION = "us-east-1"
_PAGE = 1_000


class Bucket:
    """One bucket, or a part of it under a prefix. Raises Refused where there are no credentials."""

    def __init__(self, place: Place) -> None:
        self.where = place.shown
        key, secret = credential(place, KEY_VARIABLE), credential(place, SECRET_VARIABLE)
        if not key or not secret:
            raise Refused(
                f"There are no credentials for {self.where}.",
                how_to_give(place, KEY_VARIABLE, SECRET_VARIABLE),
            )
        token = credential(place, TOKEN_VARIABLE)
        endpoint = place.asked.get("endpoint", "")
        config: S3Config = {
            "access_key_id": key,
            "secret_access_key": secret,
            "region": place.asked.get("region") or environment(REGION_VARIABLE) or REGION,
            "virtual_hosted_style_request": False,
        }
        if endpoint:
            config["endpoint"] = endpoint
        if token:
            config["session_token"] = token
        self._store = S3Store(
            place.host,
            prefix=place.path or None,
            config=config,
            client_options={
                "timeout": "60s",
                "connect_timeout": "10s",
                "allow_http": endpoint.startswith("http://"),
            },
            retry_config={"max_retries": 3, "retry_timeout": timedelta(seconds=30)},
        )

    def listing(self, most: int) -> dict[str, int]:
        """See `depot.Store`."""
        found: dict[str, int] = {}
        with self._sentences():
            for page in obstore.list(self._store, chunk_size=_PAGE):
                for one in page:
                    if "/" not in one["path"]:
                        found[one["path"]] = one["size"]
                    if len(found) >= most:
                        return found
        return found

    def part(self, name: str, start: int, length: int) -> bytes | None:
        """See `depot.Store`."""
        with self._sentences():
            try:
                size = obstore.head(self._store, name)["size"]
                length = min(length, size - start)
                if length <= 0:
                    return b""
                return bytes(obstore.get_range(self._store, name, start=start, length=length))
            except (FileNotFoundError, exceptions.NotFoundError):
                return None

    def put(self, name: str, data: bytes) -> bool:
        """See `depot.Store`."""
        with self._sentences():
            try:
                obstore.put(self._store, name, data, mode="create", use_multipart=False)
            except exceptions.AlreadyExistsError:
                return False
        return True

    def delete(self, name: str) -> None:
        """See `depot.Store`."""
        with self._sentences():
            obstore.delete(self._store, name)

    def close(self) -> None:
        """Nothing is held open."""

    @contextmanager
    def _sentences(self) -> Iterator[None]:
        """The library's faults as sentences; its own words may name what is secret."""
        try:
            yield
        except (exceptions.UnauthenticatedError, exceptions.PermissionDeniedError) as fault:
            raise Refused(
                f"{self.where} does not let this laptop in.",
                f"See whether {KEY_VARIABLE} and {SECRET_VARIABLE} are right and may use it.",
            ) from fault
        except (FileNotFoundError, exceptions.NotFoundError) as fault:
            raise Refused(
                f"There is no {self.where}.", "Make the bucket first, or see how it is written."
            ) from fault
        except exceptions.BaseError as fault:
            raise Refused(
                f"{self.where} could not be used ({type(fault).__name__}).",
                "See whether the network is there, then exchange again: it goes on where it was.",
            ) from fault
