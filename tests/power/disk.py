"""What a disk may hold after the power went: from a log of every change that a process made.

Only what was synced is certain. Of the rest a disk may hold nothing, all, a beginning whose last write is
torn, or any part, in sectors; of names that were made, moved or taken away, a beginning.
"""

from __future__ import annotations

import random
import struct
from dataclasses import dataclass, field
from pathlib import Path

HEAD = struct.Struct("=5Q")
SECTOR = 512
WAYS = ("nothing", "all", "torn", "any part")


@dataclass(frozen=True)
class Change:
    """One record of the log: new file, write, truncation, sync, folder sync, rename, link, ..."""

    what: str
    file: int
    at: int
    a: bytes
    b: bytes


def changes(log: Path) -> list[Change]:
    """The records of a log, in the order in which they came to pass."""
    raw, at, found = log.read_bytes(), 0, []
    while at < len(raw):
        what, file, place, a_size, b_size = HEAD.unpack_from(raw, at)
        at += HEAD.size
        a, b = raw[at : at + a_size], raw[at + a_size : at + a_size + b_size]
        at += a_size + b_size
        found.append(Change(chr(what), file, place, a, b))
    return found


@dataclass
class File:
    """A file's bytes as synced, and what was written since: (place, bytes), or (size, None) for a cut."""

    synced: bytes = b""
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)

    def sync(self) -> None:
        self.synced = _with(self.synced, self.waiting)
        self.waiting = []

    def left(self, way: str, chance: random.Random) -> bytes:
        """What may be there after a power cut."""
        if way == "nothing":
            return self.synced
        if way == "all":
            return _with(self.synced, self.waiting)
        if way == "torn":
            kept = self.waiting[: chance.randrange(len(self.waiting) + 1)]
        else:
            kept = [one for one in self.waiting if chance.random() < 0.5]
        if kept and kept[-1][1] is not None:
            at, data = kept[-1]
            assert data is not None
            kept = [*kept[:-1], (at, data[: chance.randrange(0, len(data) + 1, SECTOR)])]
        return _with(self.synced, kept)


def _with(begun: bytes, waiting: list[tuple[int, bytes | None]]) -> bytes:
    whole = bytearray(begun)
    for at, data in waiting:
        size = at if data is None else max(len(whole), at + len(data))
        whole = whole[:size].ljust(size, b"\0")
        if data is not None:
            whole[at : at + len(data)] = data
    return bytes(whole)


@dataclass(eq=False)
class Naming:
    """A name that went, one that came, or both as one: a rename."""

    gone: str
    made: str
    file: File | None

    def folders(self) -> set[str]:
        return {str(Path(name).parent) for name in (self.gone, self.made) if name}


@dataclass
class Disk:
    """Every file and folder below ``root``; a folder's name stands for None."""

    root: Path
    names: dict[str, File | None] = field(default_factory=dict)
    waiting: list[Naming] = field(default_factory=list)
    files: dict[int, File] = field(default_factory=dict)

    @classmethod
    def of(cls, root: Path) -> Disk:
        """The disk as it is now, all of it synced."""
        disk = cls(root)
        for path in sorted(root.rglob("*")):
            if path.is_dir():
                disk.names[str(path)] = None
            else:
                file = disk.files[path.stat().st_ino] = File(path.read_bytes())
                disk.names[str(path)] = file
        return disk

    def change(self, one: Change) -> None:
        """One change comes to pass."""
        a, b = one.a.decode("utf-8", "surrogateescape"), one.b.decode("utf-8", "surrogateescape")
        if one.what == "O":
            self.files[one.file] = File()
            self.waiting.append(Naming("", a, self.files[one.file]))
        elif one.what == "W":
            self.files[one.file].waiting.append((one.at, one.a))
        elif one.what == "T":
            self.files[one.file].waiting.append((one.at, None))
        elif one.what == "S":
            self.files[one.file].sync()
        elif one.what == "D":
            self._sync_names(a)
        elif one.what in "RL":
            self.waiting.append(Naming(a if one.what == "R" else "", b, self._now(a)))
        elif one.what == "U":
            self.waiting.append(Naming(a, "", None))
        elif one.what == "M":
            self.waiting.append(Naming("", a, None))

    def _now(self, path: str) -> File | None:
        return _named(self.names, self.waiting)[path]

    def _sync_names(self, folder: str) -> None:
        here = [one for one in self.waiting if folder in one.folders()]
        self.names = _named(self.names, here)
        self.waiting = [one for one in self.waiting if one not in here]

    def left(self, way: str, chance: random.Random, folder: Path) -> None:
        """Put into ``folder`` what may be there after a power cut."""
        kept = self.waiting if way == "all" else []
        if way in ("torn", "any part"):
            kept = self.waiting[: chance.randrange(len(self.waiting) + 1)]
        names = _named(self.names, kept)
        for name, file in sorted(names.items()):
            above = Path(name).parent
            if above != self.root and str(above) not in names:
                continue
            path = folder / Path(name).relative_to(self.root)
            if file is None:
                path.mkdir(parents=True, exist_ok=True)
            elif path.parent.is_dir():
                path.write_bytes(file.left(way, chance))


def _named(names: dict[str, File | None], waiting: list[Naming]) -> dict[str, File | None]:
    now = dict(names)
    for one in waiting:
        now.pop(one.gone, None)
        if one.made:
            now[one.made] = one.file
    return now
