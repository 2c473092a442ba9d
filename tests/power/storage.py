"""Days in processes whose storage is watched, or fails: compiled once, preloaded, prepared, read back."""

from __future__ import annotations

import copy
import functools
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.laptops import Laptops
from tests.power.disk import Change, Disk, changes

SOURCE = Path(__file__).parent / "storage.c"
Line = tuple[str, str]


@functools.cache
def compiled() -> Path:
    """The part that stands between process and disk; skips where this machine has no compiler for it."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if not sys.platform.startswith("linux") or compiler is None:
        pytest.skip("standing between a process and its disk needs Linux and a C compiler")
    made = Path(tempfile.mkdtemp(prefix="herdsync-power-")) / "storage.so"
    asked = [compiler, "-O1", "-shared", "-fPIC", "-o", str(made), str(SOURCE), "-ldl", "-lpthread"]
    subprocess.run(asked, check=True)
    return made


def prepared(folder: Path) -> Path:
    """House and barn in one farm with a small herd; barn's news waits on the stick."""
    laptops = Laptops.beside(folder)
    laptops.pair()
    for name in ("Agate", "Opal", "Mica"):
        laptops.ask("house", "record", "animal", f"name={name}", "sex=doe", "born=2022-03-01")
    laptops.meet()
    for number in range(5):
        laptops.ask("barn", "record", "note", f"text=barn {number}", "on=2026-03-01")
    laptops.ask("barn", "exchange", laptops.stick)
    (folder / "copies").mkdir()
    return folder


def lines_of(told: bytes) -> list[Line]:
    """What a process told: words and what they are about."""
    lines = [line.split(" ", 1) for line in told.decode().splitlines()]
    return [(word, about) for word, about in lines]


@dataclass
class Day:
    """One day spent: the disk before it, every change, what was told, how the process ended."""

    before: Disk
    log: list[Change]
    told: list[Line]
    ended: int
    said: str


def spent(name: str, ready: Path, folder: Path, **fate: str) -> Day:
    """Spend a day on a copy of what is prepared, at ``folder / "root"``; ``fate`` goes to the storage."""
    root, told, log = folder / "root", folder / "told", folder / "log"
    shutil.copytree(ready, root, symlinks=True)
    before = Disk.of(root)
    surroundings = os.environ | {
        "LD_PRELOAD": str(compiled()), "POWER_ROOT": str(root), "POWER_ACK": str(told),
        "POWER_LOG": str(log), **fate,
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", "tests.power.days", name, str(root), str(told)],
        env=surroundings, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return Day(
        before, changes(log) if log.exists() else [], lines_of(told.read_bytes()),
        done.returncode, done.stderr,
    )  # fmt: skip


def left(day: Day, cut: int) -> tuple[Disk, list[Line]]:
    """The disk after so many changes of a day, and what had been told by then."""
    disk, told = copy.deepcopy(day.before), b""
    for one in day.log[:cut]:
        if one.what == "A":
            told += one.a
        else:
            disk.change(one)
    return disk, lines_of(told)
