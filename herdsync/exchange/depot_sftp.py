"""A folder on an SFTP account as the store of a depot, through asyncssh, its host key pinned.

A file is written under another name, synced and renamed, so that nobody sees it half. Credentials come
from the SSH agent, a key file, the environment or the keyring, and go nowhere but to the library.
"""

from __future__ import annotations

import asyncio
import concurrent.futures
import hmac
import threading
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

import asyncssh

from herdsync.exchange.credentials import credential, how_to_give
from herdsync.exchange.folder import TEMPORARY
from herdsync.exchange.places import Place
from herdsync.faults import Refused
from herdsync.wall import environment

T = TypeVar("T")

KEY_VARIABLE = "HERDSYNC_SFTP_KEY"
PASSWORD_VARIABLE = "HERDSYNC_SFTP_PASSWORD"
PORT = 22
CONNECT_S = 15
# For one file of at most a few megabytes over a slow line.
STEP_S = 180
_RANDOM_BYTES = 6
_BLOCK_BYTES = 32_768


class Account:
    """One folder of an SFTP account; ``pin`` is the fingerprint its server must show."""

    def __init__(self, place: Place, pin: str, entropy: Callable[[int], bytes]) -> None:
        self.where = place.shown
        self._place = place
        # Asked for here: a keyring may ask its owner to unlock it first.
        password = credential(place, PASSWORD_VARIABLE)
        self._folder = (place.path or ".").encode()
        self._entropy = entropy
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._connection: asyncssh.SSHClientConnection | None = None
        self._files: asyncssh.SFTPClient
        door = _Door(pin)
        try:
            with self._sentences(door):
                self._connection, self._files = self._await(_connected(place, door, password))
                self._await(self._files.makedirs(self._folder, exist_ok=True))
        except BaseException:
            self.close()
            raise

    def listing(self, most: int) -> dict[str, int]:
        """See `depot.Store`."""
        with self._sentences():
            return self._await(self._listing(most))

    async def _listing(self, most: int) -> dict[str, int]:
        found: dict[str, int] = {}
        async for one in self._files.scandir(self._folder):
            # As bytes: one name that is no text must not hide all others.
            assert isinstance(one.filename, bytes), "a folder asked for in bytes answers in bytes"
            if one.attrs.type == asyncssh.FILEXFER_TYPE_REGULAR and len(found) < most:
                found[one.filename.decode("utf-8", "surrogateescape")] = one.attrs.size or 0
        return found

    def part(self, name: str, start: int, length: int) -> bytes | None:
        """See `depot.Store`."""
        with self._sentences():
            try:
                return self._await(self._part(self._path(name), start, length))
            except asyncssh.SFTPNoSuchFile:
                return None

    async def _part(self, path: bytes, start: int, length: int) -> bytes:
        async with self._files.open(path, "rb", block_size=_BLOCK_BYTES) as file:
            data = await file.read(length, start)
            assert isinstance(data, bytes), "the file was opened for bytes"
            return data

    def put(self, name: str, data: bytes) -> bool:
        """See `depot.Store`."""
        with self._sentences():
            return self._await(self._put(name, data))

    async def _put(self, name: str, data: bytes) -> bool:
        path = self._path(name)
        if await self._files.lexists(path):
            return False
        aside = self._path(f".{name}-{self._entropy(_RANDOM_BYTES).hex()}{TEMPORARY}")
        try:
            async with self._files.open(aside, "xb", block_size=_BLOCK_BYTES) as file:
                await file.write(data)
                # Not every server can: reading back is the promise.
                with suppress(asyncssh.SFTPOpUnsupported):
                    await file.fsync()
            # The plain rename of SFTP version 3 refuses a name that is taken.
            await self._files.rename(aside, path)
        except asyncssh.SFTPFailure:
            if not await self._files.lexists(path):
                raise
            return False
        finally:
            with suppress(asyncssh.SFTPError):
                await self._files.remove(aside)
        return True

    def delete(self, name: str) -> None:
        """See `depot.Store`."""
        with self._sentences(), suppress(asyncssh.SFTPNoSuchFile):
            self._await(self._files.remove(self._path(name)))

    def close(self) -> None:
        """End the connection."""
        if self._connection is not None:
            self._connection.close()
            with suppress(OSError, asyncssh.Error, concurrent.futures.TimeoutError):
                self._await(self._connection.wait_closed())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def _path(self, name: str) -> bytes:
        return self._folder + b"/" + name.encode("utf-8", "surrogateescape")

    def _await(self, work: Coroutine[Any, Any, T]) -> T:
        future = asyncio.run_coroutine_threadsafe(work, self._loop)
        try:
            return future.result(STEP_S)
        except concurrent.futures.TimeoutError:
            future.cancel()
            raise

    @contextmanager
    def _sentences(self, door: _Door | None = None) -> Iterator[None]:
        """The library's faults as sentences."""
        try:
            yield
        except asyncssh.HostKeyNotVerifiable as fault:
            raise self._unpinned(door) from fault
        except asyncssh.PermissionDenied as fault:
            raise Refused(
                f"{self.where} does not let this laptop in.",
                f"Give the SSH agent the account's key, name its file in {KEY_VARIABLE}, or give its "
                f"password: {how_to_give(self._place, PASSWORD_VARIABLE)}",
            ) from fault
        except asyncssh.SFTPPermissionDenied as fault:
            raise Refused(
                f"{self.where} may not be read or written.", "See whose folder it is."
            ) from fault
        except asyncssh.SFTPError as fault:
            raise Refused(
                f"{self.where} refused ({type(fault).__name__}).",
                "See whether its disk is full or its folder is there, then exchange again.",
            ) from fault
        except (OSError, asyncssh.Error, concurrent.futures.TimeoutError, ValueError) as fault:
            raise Refused(
                f"{self.where} could not be reached ({type(fault).__name__}).",
                "See whether the network is there, then exchange again: it goes on where it was.",
            ) from fault

    def _unpinned(self, door: _Door | None) -> Refused:
        shown = door.shown if door is not None else ""
        if door is not None and door.pin:
            return Refused(
                f"{self.where} shows another host key ({shown}) than before: someone may stand between.",
                "Ask whoever runs the server. If it has a new key, name it with ?hostkey=.",
            )
        return Refused(
            f"{self.where} shows the host key {shown}, which this laptop does not know yet.",
            f"Compare it with what the server's keeper says, then add ?hostkey={shown} this once.",
        )


class _Door(asyncssh.SSHClient):
    """Lets pass the one host key that is pinned; ``shown`` is the fingerprint the server showed."""

    def __init__(self, pin: str) -> None:
        self.pin = pin
        self.shown = ""

    def validate_host_public_key(self, *shown: object) -> bool:
        """Whether the server's key (the last of what the library tells) is the pinned one."""
        key = shown[-1]
        assert isinstance(key, asyncssh.SSHKey)
        self.shown = key.get_fingerprint("sha256")
        return hmac.compare_digest(self.shown.encode(), self.pin.encode())


async def _connected(
    place: Place, door: _Door, password: str | None
) -> tuple[asyncssh.SSHClientConnection, asyncssh.SFTPClient]:
    keys = environment(KEY_VARIABLE)
    connection, _ = await asyncssh.create_connection(
        lambda: door,
        place.host,
        place.port or PORT,
        username=place.user,
        password=password,
        known_hosts=([], [], []),
        config=None,
        connect_timeout=CONNECT_S,
        login_timeout=CONNECT_S,
        keepalive_interval=CONNECT_S,
        **({"client_keys": [keys]} if keys else {}),
    )
    try:
        return connection, await connection.start_sftp_client()
    except BaseException:
        connection.close()
        raise
