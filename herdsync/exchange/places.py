"""The places of depots as a keeper writes them: sftp://user@host:port/path, s3://bucket/prefix?endpoint=...

Must not open anything.
"""

from __future__ import annotations

from urllib.parse import unquote, urlsplit

from msgspec import Struct

from herdsync.faults import Refused
from herdsync.safe_text import safe_text

SFTP = "sftp"
S3 = "s3"
_KNOWN = {SFTP: {"hostkey"}, S3: {"endpoint", "region"}}
_FORMS = {
    SFTP: "sftp://user@host:port/path, with ?hostkey=SHA256:... the first time",
    S3: "s3://bucket/prefix?endpoint=https://host:port",
}


class Place(Struct, frozen=True):
    """A depot's scheme, user, host (or bucket), port, path and what was asked behind the ``?``."""

    scheme: str
    user: str
    host: str
    port: int | None
    path: str
    asked: dict[str, str]

    @property
    def account(self) -> str:
        """The account or bucket, whatever folder of it."""
        user = f"{self.user}@" if self.user else ""
        host = f"[{self.host}]" if ":" in self.host else self.host
        port = f":{self.port}" if self.port is not None else ""
        return safe_text(f"{self.scheme}://{user}{host}{port}")

    @property
    def shown(self) -> str:
        """The place without what was asked, as sentences name it and notes know it."""
        at = f"?endpoint={self.asked['endpoint']}" if "endpoint" in self.asked else ""
        return self.account + safe_text(f"/{self.path}{at}")


def place_in(text: str) -> Place:
    """The place that a text names. Raises Refused, also for one that carries a password."""
    try:
        parts = urlsplit(text)
        scheme, host, port = parts.scheme.lower(), parts.hostname, parts.port
    except ValueError as fault:
        raise Refused(
            f"{safe_text(text)} cannot be read as a place.", "See how it is written."
        ) from fault
    if parts.password is not None or (scheme == S3 and parts.username):
        raise Refused(
            "A place of a depot carries no password or key: it would be kept where others read it.",
            "Leave it out; credentials are read from the environment or this laptop's keyring.",
        )
    asked = dict(_pair(one) for one in parts.query.split("&") if one)
    strange = sorted(set(asked) - _KNOWN.get(scheme, set()))
    path = unquote(parts.path.removeprefix("/")).rstrip("/")
    if not host or strange or parts.fragment or ".." in path.split("/") or "\0" in path:
        raise Refused(
            f"{safe_text(text)} is no place of a depot that this program knows.",
            f"Write it as {_FORMS.get(scheme, _FORMS[S3])}.",
        )
    if scheme == SFTP and not parts.username:
        raise Refused(f"{safe_text(text)} names no user.", f"Write it as {_FORMS[SFTP]}.")
    bucket = parts.netloc.rpartition("@")[2].partition(":")[0]
    return Place(
        scheme, unquote(parts.username or ""), bucket if scheme == S3 else host, port, path, asked
    )


def _pair(text: str) -> tuple[str, str]:
    name, _, value = text.partition("=")
    # A plus is a plus: fingerprints have them.
    return name, unquote(value)
