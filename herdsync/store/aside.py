"""What looks leave beside the farm's file for the next run: no part of the farm, free to be deleted.

It tells which log it was read from, by which program and under which rules of its zone, and stands
under a hash; whatever differs, is torn or cannot be read counts as never left. Leaving it waits for
nobody and fails silently: a look at a farm that is read-only, locked or on a full medium is a look.
"""

from __future__ import annotations

import contextlib
import functools
import os
import shutil
import sys
import zoneinfo
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import msgspec
from msgspec import Struct

import herdsync
from herdsync.store.view import View

FILE = "farm.looks"
# Less room than this is left to the keeper's own acts.
ROOM_BYTES = 256 * 1024 * 1024
HASH_BYTES = 32
# What looks are worked out by; their letters stand for every version of this program.
_ROOMS = ("trade", "kinds", "log", "merge", "store", "projections")


class Aside(Struct, frozen=True, array_like=True):
    """What was left, still packed, and what it rests on.

    ``mark``: how many entries the log held; ``tips``: the newest of each of its chains; ``tables``: a
    number that changes whenever what is derived was folded anew.
    """

    program: bytes
    rules: bytes
    mark: int
    tips: list[bytes]
    tables: int
    told: bytes


_aside = msgspec.msgpack.Decoder(Aside)


def leave(folder: Path, view: View, zone: zoneinfo.ZoneInfo, told: bytes) -> None:
    """Leave what looks found, where that can be done at once."""
    chains = view.log.chains.all.values()
    mark = _newest(view)
    # A mark tells which entries there are only where none is missing before it.
    if not _program() or mark != sum(chain.tip_sequence - chain.split for chain in chains):
        return
    tips = [chain.tip for chain in chains]
    packed = msgspec.msgpack.encode(
        Aside(_program(), _rules(zone), mark, tips, _tables(view), told)
    )
    path, part = folder / FILE, folder / f"{FILE}.part"
    try:
        if shutil.disk_usage(folder).free >= ROOM_BYTES:
            part.write_bytes(sha256(packed).digest() + packed)
            part.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def left(folder: Path, view: View, zone: zoneinfo.ZoneInfo) -> bytes | None:
    """What looks left, if it was of this very log, or of one that has grown to it; else None."""
    try:
        raw = (folder / FILE).read_bytes()
        packed = memoryview(raw)[HASH_BYTES:]
        if sha256(packed).digest() != raw[:HASH_BYTES]:
            return None
        found = _aside.decode(packed)
    except (OSError, msgspec.MsgspecError):
        return None
    alike = (found.program, found.rules, found.tables) == (_program(), _rules(zone), _tables(view))
    return found.told if alike and _grown_from(found, view) else None


def drop(folder: Path) -> None:
    """Let the next look work out everything anew."""
    with contextlib.suppress(OSError):
        (folder / FILE).unlink(missing_ok=True)


def _grown_from(found: Aside, view: View) -> bool:
    """Whether the first ``mark`` entries are those it was read from.

    Each tip vouches for everything before it; together that were ``mark`` entries, so if all of them
    stand at positions up to it, no other does.
    """
    return all(
        view.log.place_of(tip) is not None and view.log.position(tip) <= found.mark
        for tip in found.tips
    )


def _newest(view: View) -> int:
    return view.shelf.changes(-1).mark


def _tables(view: View) -> int:
    return int(view.connection.execute("PRAGMA schema_version").fetchone()[0])


@functools.cache
def _program() -> bytes:
    """A digest of the code that looks are worked out by; empty where it cannot be read."""
    home = Path(herdsync.__file__).parent
    digest = sha256(f"{sys.version}\0{msgspec.__version__}".encode())
    try:
        alone = [path for path in sorted(home.iterdir()) if path.suffix == ".py"]
        for room in (*alone, *(home / name for name in _ROOMS)):
            for path in _files(room):
                text = path.read_bytes()
                digest.update(f"\0{path.relative_to(home)}\0{len(text)}\0".encode() + text)
    except OSError:
        return b""
    return digest.digest()


def _files(place: Path) -> Iterator[Path]:
    """A file, or those of a folder and the folders in it. Raises OSError where it is not there."""
    if place.is_file():
        yield place
        return
    with os.scandir(place) as entries:
        for entry in sorted(entries, key=lambda one: one.name):
            if entry.is_file():
                yield Path(entry)
            elif entry.name != "__pycache__":
                yield from _files(Path(entry))


@functools.cache
def _rules(zone: zoneinfo.ZoneInfo) -> bytes:
    """A digest of the rules of a zone as this machine has them."""
    for folder in zoneinfo.TZPATH:
        path = Path(folder) / zone.key
        if path.is_file():
            return sha256(path.read_bytes()).digest()
    from importlib import resources

    *parts, name = zone.key.split("/")
    package = resources.files(".".join(["tzdata", "zoneinfo", *parts]))
    return sha256(package.joinpath(name).read_bytes()).digest()
