"""The edges of the engine where fate strikes: SQLite, files and folders of the machine it runs on.

While a world is running, every statement that writes, every sync, rename, link and new file passes
here. Fate may cut the power at the n-th of them, or let it fail; a carrier may be full, write-protected
or know no hard links.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from herdsync import wall

WRITING = ("BEGIN IMMEDIATE", "INSERT", "UPDATE", "DELETE", "DROP", "CREATE", "COMMIT")
CUT, IO_ERROR, FULL, LATE_ERROR = "power cut", "storage error", "disk full", "error after commit"


class PowerCut(BaseException):
    """The machine is off. Nothing after this moment was done."""


@dataclass
class Fate:
    """What strikes, and at which passing of an edge."""

    what: str
    at: int
    struck: str = ""


class Edges:
    """The edges of one world. ``on_cut`` keeps what the disks hold at the moment of a power cut."""

    def __init__(self) -> None:
        self.fate: Fate | None = None
        self.on_cut: Callable[[], None] = lambda: None
        self.machine = ""
        self.keys = Path()
        self.full: Path | None = None
        self.protected: Path | None = None
        self.no_links: set[Path] = set()
        self._full_files: set[int] = set()
        self._real: dict[str, Any] = {}

    @contextmanager
    def standing(self) -> Iterator[None]:
        """Stand between the engine and the machine; everything is put back afterwards."""
        places: list[tuple[Any, str, Any]] = [
            (sqlite3, "connect", self._connect),
            (os, "open", self._open),
            (os, "fsync", self._fsync),
            (os, "fdatasync", self._fsync),
            (os, "link", self._link),
            (os, "replace", self._replace),
            (wall, "machine", lambda: self.machine),
            (wall, "environment", self._environment),
        ]
        before = [(owner, name, getattr(owner, name)) for owner, name, _ in places]
        self._real = {name: real for _, name, real in before}
        for owner, name, ours in places:
            setattr(owner, name, ours)
        try:
            yield
        finally:
            for owner, name, real in before:
                setattr(owner, name, real)

    def passing(self, edge: str, *, late: bool = False) -> None:
        """One passing; raises where fate strikes here."""
        fate = self.fate
        if fate is None or fate.struck:
            return
        if fate.what == LATE_ERROR:
            if not late:
                return
        elif late and fate.what != CUT:
            return
        fate.at -= 1
        if fate.at >= 0:
            return
        fate.struck = edge
        if fate.what == CUT:
            self.on_cut()
            raise PowerCut(edge)
        if edge.startswith("sqlite"):
            said = "database or disk is full" if fate.what == FULL else "disk I/O error"
            raise sqlite3.OperationalError(said)
        raise OSError(errno.ENOSPC if fate.what == FULL else errno.EIO, "fate", edge)

    def _connect(self, *args: Any, **named: Any) -> sqlite3.Connection:
        edges = self

        class Connection(sqlite3.Connection):
            """A connection whose writing statements pass the edges."""

            writes = False

            def execute(self, sql: str, *more: Any) -> sqlite3.Cursor:
                verb = next((word for word in WRITING if sql.lstrip().startswith(word)), "")
                # The end of a look is a COMMIT too, but writes nothing.
                if not verb or (verb == "COMMIT" and not self.writes):
                    return super().execute(sql, *more)
                edges.passing(f"sqlite {verb}")
                done = super().execute(sql, *more)
                self.writes = verb != "COMMIT"
                if verb == "COMMIT":
                    edges.passing("sqlite after COMMIT", late=True)
                return done

            def executemany(self, sql: str, *more: Any) -> sqlite3.Cursor:
                edges.passing("sqlite many")
                self.writes = True
                return super().executemany(sql, *more)

        made: sqlite3.Connection = self._real["connect"](*args, factory=Connection, **named)
        return made

    def _open(self, path: Any, flags: int, mode: int = 0o777, **named: Any) -> int:
        if flags & os.O_CREAT:
            if self.protected is not None and _within(path, self.protected):
                raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))
            self.passing("file open")
        handle: int = self._real["open"](path, flags, mode, **named)
        if flags & os.O_CREAT and self.full is not None and _within(path, self.full):
            self._full_files.add(handle)
        else:
            self._full_files.discard(handle)
        return handle

    def _fsync(self, handle: int) -> None:
        if handle in self._full_files:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self.passing("file sync")
        # What memory holds is what this machine's disks hold: the world has no other power cut.

    def _link(self, source: Any, target: Any, **named: Any) -> None:
        if any(_within(target, one) for one in self.no_links):
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))
        self.passing("file link")
        self._real["link"](source, target, **named)

    def _replace(self, source: Any, target: Any, **named: Any) -> None:
        self.passing("file rename")
        self._real["replace"](source, target, **named)

    def _environment(self, name: str) -> str | None:
        return str(self.keys) if name == "HERDSYNC_KEYS" else None


def _within(path: Any, folder: Path) -> bool:
    return os.fspath(path).startswith(str(folder)) if isinstance(path, (str, Path)) else False
