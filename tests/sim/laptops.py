"""One laptop of a world: its folder, keys, clock, the farm it has open, and what it must never lose."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from herdsync.farm import Farm
from herdsync.store.database import FILE, LOCK
from herdsync.wall import Wall


class SimWall(Wall):
    """A clock and a source of bytes that follow from a seed."""

    def __init__(self, seed: str, moment: list[datetime]) -> None:
        super().__init__()
        self.wrong = timedelta(0)
        self._seed = seed
        self._moment = moment
        self._drawn = 0

    def now(self) -> datetime:
        return self._moment[0] + self.wrong

    def entropy(self, count: int) -> bytes:
        self._drawn += 1
        return hashlib.shake_256(f"{self._seed}/{self._drawn}".encode()).digest(count)


@dataclass
class Laptop:
    """``held`` are the ids of entries it has acknowledged; ``safe`` what counted for safety."""

    name: str
    keeper: str
    home: Path
    machine: str
    wall: SimWall
    farm: Farm | None = None
    code: str = ""
    asked_on: str = ""
    held: frozenset[bytes] = frozenset()
    safe: frozenset[tuple[bytes, str, bytes]] = frozenset()
    backups: list[Path] = field(default_factory=list)
    gone: bool = False

    @property
    def folder(self) -> Path:
        return self.home / "farm"

    @property
    def keys(self) -> Path:
        return self.home / "keys"

    @property
    def has_farm(self) -> bool:
        return not self.gone and (self.folder / FILE).exists()

    def opened(self) -> Farm:
        """The farm, left open from act to act as a dashboard leaves it."""
        if self.farm is None:
            self.farm = Farm.open(self.folder, self.wall)
        return self.farm

    def shut(self) -> None:
        if self.farm is not None:
            self.farm.close()
            self.farm = None


def kept_files(folder: Path, into: Path) -> None:
    """A copy of a folder as its disk holds it: no lock, no shared memory of processes."""
    if folder.exists():
        passed_over = shutil.ignore_patterns(LOCK, "*-shm", "pipe.bundle")
        shutil.copytree(folder, into, ignore=passed_over, symlinks=True, dirs_exist_ok=True)


def put_back(kept: Path, folder: Path) -> None:
    """A folder as it was kept."""
    shutil.rmtree(folder, ignore_errors=True)
    if kept.exists():
        kept.rename(folder)
