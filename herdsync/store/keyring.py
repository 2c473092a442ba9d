"""The device's secrets and its marker: in the user's data folder, never in the farm's or a backup.

The marker remembers how far this device's log had come. A log behind its marker, or a marker of
another machine, means a restored or copied farm: writing on would split the log in two. Its file has
two slots that take turns and are overwritten in place, each in a disk's sector of its own: a write that
a power cut tears leaves the one before it whole, and a full disk has room for it. A marker need not be
on the disk when an act is acknowledged: one that lags behind its log is sound, so it costs no sync.
"""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import msgspec
import platformdirs
from msgspec import Struct

from herdsync import wall
from herdsync.faults import DamagedFarm, Refused
from herdsync.log.signing import SigningKey
from herdsync.store.lasting import make_folder, move_into_place

KEYS_VARIABLE = "HERDSYNC_KEYS"
SLOT_BYTES = 512
HASH_BYTES = 32


class Secret(Struct, frozen=True):
    """A device's seeds. Stays on this machine."""

    farm: bytes
    sign_seed: bytes
    seal_seed: bytes

    def key(self) -> SigningKey:
        """The keys that the seeds stand for."""
        return SigningKey(self.sign_seed, self.seal_seed)


class Marker(Struct, frozen=True):
    """How far this device's log had come when it last wrote; ``sequence`` -1 before its first entry."""

    sequence: int
    id: bytes
    machine: str


class Turn(Struct, frozen=True):
    """What one slot of a marker's file holds; the slot with the higher ``turn`` counts."""

    turn: int
    marker: Marker


def keys_folder() -> Path:
    """Where secrets live: HERDSYNC_KEYS, else the user's data folder."""
    told = wall.environment(KEYS_VARIABLE)
    folder = Path(told) if told else Path(platformdirs.user_data_dir("herdsync")) / "keys"
    if not folder.is_dir():
        make_folder(folder, 0o700)
    return folder


def keep_secret(device: bytes, secret: Secret) -> None:
    """Write a new device's seeds and a marker that stands before its first entry. Raises Refused."""
    with _sentences():
        told = _summed(msgspec.json.encode(secret))
        write_private(_path(secret.farm, device, "key"), told)
        keep_marker(secret.farm, device, Marker(-1, b"", wall.machine()))


def secret_of(farm: bytes, device: bytes) -> Secret | None:
    """The seeds kept for a device of a farm, or None where this machine has none."""
    return _read(_path(farm, device, "key"))


def keep_marker(farm: bytes, device: bytes, marker: Marker) -> None:
    """Remember how far the log has come, once that is on the disk itself. Raises OSError."""
    path = _path(farm, device, "marker")
    before = _newest_turn(path)
    if before is None:
        write_private(path, _slot(Turn(0, marker)).ljust(2 * SLOT_BYTES, b"\0"))
        return
    turn = before.turn + 1
    handle = os.open(path, os.O_WRONLY)
    try:
        os.lseek(handle, turn % 2 * SLOT_BYTES, os.SEEK_SET)
        if os.write(handle, _slot(Turn(turn, marker))) != SLOT_BYTES:
            raise OSError(errno.EIO, "it was written only in part")
    finally:
        os.close(handle)


def marker_of(farm: bytes, device: bytes) -> Marker | None:
    """The marker kept for a device, or None. Raises DamagedFarm where neither slot is whole."""
    path = _path(farm, device, "marker")
    newest = _newest_turn(path)
    if newest is None and path.exists():
        raise _damaged_file(path)
    return newest.marker if newest is not None else None


def _slot(turn: Turn) -> bytes:
    told = msgspec.json.encode(turn).ljust(SLOT_BYTES - HASH_BYTES)
    return sha256(told).digest() + told


def _newest_turn(path: Path) -> Turn | None:
    """The newer of the slots that are whole, or None."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return None
    whole = []
    for at in range(0, len(raw), SLOT_BYTES):
        told = raw[at + HASH_BYTES : at + SLOT_BYTES]
        if sha256(told).digest() == raw[at : at + HASH_BYTES]:
            whole.append(msgspec.json.decode(told, type=Turn))
    return max(whole, key=lambda one: one.turn, default=None)


def keep_pending(folder: Path, told: bytes) -> None:
    """Keep what a laptop that asked to join into ``folder`` must remember until it is welcomed.

    Raises Refused.
    """
    with _sentences():
        write_private(_pending(folder), _summed(told))


def pending_of(folder: Path) -> bytes | None:
    """What was kept for a farm that is to come into ``folder``, or None; empty where it is damaged."""
    path = _pending(folder)
    try:
        return _whole(path, path.read_bytes())
    except FileNotFoundError:
        return None
    except DamagedFarm:
        return b""


def drop_pending(folder: Path) -> None:
    """Forget a request that was answered; one that a failing disk keeps does no harm beside its farm."""
    with contextlib.suppress(OSError):
        _pending(folder).unlink(missing_ok=True)


def _pending(folder: Path) -> Path:
    name = sha256(b"herdsync/1/pending\0" + str(folder.resolve()).encode()).hexdigest()[:32]
    return keys_folder() / f"{name}.pending"


def write_private(path: Path, data: bytes) -> None:
    """Replace a file whole and durably, readable by its owner alone (mode 0600)."""
    handle, temporary = tempfile.mkstemp(prefix=".", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        move_into_place(Path(temporary), path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(temporary).unlink()
        raise


@contextmanager
def _sentences() -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise Refused(
            f"This laptop's keys could not be kept ({fault.strerror}).",
            "See whether the disk that holds your data folder is full or read-only, then try again.",
        ) from fault


def _path(farm: bytes, device: bytes, what: str) -> Path:
    name = sha256(b"herdsync/1/keyring\0" + farm + device).hexdigest()[:32]
    return keys_folder() / f"{name}.{what}"


def _read(path: Path) -> Secret | None:
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    try:
        return msgspec.json.decode(_whole(path, data), type=Secret)
    except (msgspec.MsgspecError, UnicodeError) as fault:
        raise _damaged_file(path) from fault


def _summed(told: bytes) -> bytes:
    """A line of JSON, and under it its SHA-256: a flipped bit must not become another key."""
    return told + b"\n" + sha256(told).hexdigest().encode()


def _whole(path: Path, raw: bytes) -> bytes:
    """The line of JSON; files of before version 1 have no sum. Raises DamagedFarm."""
    told, line, digest = raw.partition(b"\n")
    sound = sha256(told).hexdigest().encode() == digest if line else told.endswith(b"}")
    if not sound:
        raise _damaged_file(path)
    return told


def _damaged_file(path: Path) -> DamagedFarm:
    return DamagedFarm(
        f"This laptop's own {path.suffix[1:]} file is damaged.",
        "Move it away; the farm then opens to read, and this laptop can join afresh.",
    )
