"""Sticks and shared folders as they are: small file systems, a pulled plug, a synchronising program."""

from __future__ import annotations

import errno
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any

import pytest

from herdsync.exchange import lifeline
from herdsync.exchange.bundles import Moved, exchange_folder
from herdsync.exchange.doorstep import leave_request, leave_welcome, requests_in
from herdsync.exchange.folder import Folder, passed_over
from herdsync.exchange.pairing import code_of, pend
from herdsync.faults import Refused
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, MemoryLaptop, entropy_of, founding_of, note
from tests.exchange.meetings import bundles_in, farm, meet, quietly

FOUNDING = founding_of("house")


@contextmanager
def like_vfat() -> Iterator[None]:
    """No hard links, no syncing of folders; names fold case, as a mount of FAT does (from memory)."""
    real_open = os.open

    def no_link(*_: Any, **__: Any) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    def folding_open(path: Any, flags: int, *more: Any, **named: Any) -> int:
        whole = Path(os.fsdecode(path))
        if whole.is_dir():
            raise OSError(errno.EINVAL, "Invalid argument")
        if flags & os.O_CREAT and whole.parent.is_dir():
            for one in whole.parent.iterdir():
                if one.name.casefold() == whole.name.casefold() and one.name != whole.name:
                    raise FileExistsError(errno.EEXIST, "File exists")
        return real_open(path, flags, *more, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "link", no_link)
        patch.setattr(os, "open", folding_open)
        yield


def test_two_laptops_meet_on_a_small_file_system(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    with like_vfat():
        for one in (house, barn, house, barn):
            one.write(note(f"from {one.name}")) if one is house or len(one.ids()) > 1 else None
            quietly(one, stick)
        meet(house, stick)
    assert [one.name for one in stick.iterdir() if not one.name.endswith(".bundle")] == []
    assert house.ids() == barn.ids()


def test_a_name_that_differs_in_case_alone_is_taken(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    (name,) = bundles_in(stick)
    next_name = name.replace("00000001", "00000002").upper()
    (stick / next_name).write_bytes(b"another file")
    with like_vfat():
        house.write(note("more"))
        assert meet(house, stick).sent == 1
    assert (stick / next_name).read_bytes() == b"another file"
    assert meet(barn, stick).received == 2


def test_names_fit_every_file_system(stick: Path) -> None:
    """Letters, digits, dot and dash alone, short, no device name: FAT, exFAT, NTFS and all others."""
    house, _ = farm(MemoryLaptop, "house", "barn")
    meet(house, stick)
    at = Folder(stick, entropy_of("names"))
    pending = pend("Jun", "shed", 0, entropy_of("shed"))
    leave_request(at, pending)
    (request,) = requests_in(at).requests
    leave_welcome(at, request, code_of(pending.secret), FOUNDING, bytes(32), bytes(32))
    lifeline.leave(at, FOUNDING)
    names = sorted(one.name for one in stick.iterdir())
    assert len(names) == 4
    for name in names:
        assert re.fullmatch(r"[a-z2-7]{8}(-[0-9]{1,8})?\.(bundle|request|welcome|farm)", name)
        assert len(name) <= 24 and name.split(".")[0] not in {"con", "prn", "aux", "nul"}


def test_times_of_files_are_never_looked_at(laptop: Maker, stick: Path) -> None:
    """A file system that keeps two seconds, or a clock that is years off, changes nothing."""
    house, barn = farm(laptop, "house", "barn")
    for number in range(3):
        house.write(note(f"{number}"))
        meet(house, stick)
        for one in stick.iterdir():
            os.utime(one, (0, 0) if number % 2 else (4_000_000_000, 4_000_000_000))
        quietly(barn, stick)
    assert house.ids() == barn.ids()


# Pulled out in the middle of a write.


class Pulled:
    """A stick that is pulled out at the n-th touch of the system and stays out until it is put back."""

    def __init__(self, patch: pytest.MonkeyPatch, stick: Path, touches: int) -> None:
        self._stick, self._left = str(stick), touches
        self.out = False
        for name in ("open", "fsync", "link", "unlink", "scandir"):
            patch.setattr(os, name, self._touching(getattr(os, name), name))

    def _touching(self, real: Any, name: str) -> Any:
        def touch(*words: Any, **more: Any) -> Any:
            ours = name == "fsync" or any(
                self._stick in os.fspath(w) for w in words[:1] if not isinstance(w, int)
            )
            if ours:
                self._left -= 1
                self.out = self.out or self._left < 0
                if self.out:
                    raise OSError(errno.ENODEV, "No such device")
            return real(*words, **more)

        return touch


@pytest.mark.parametrize("touches", range(12))
@pytest.mark.parametrize("small", [False, True])
def test_pulled_out_at_any_touch_nothing_is_lost(stick: Path, touches: int, small: bool) -> None:
    house, barn = farm(MemoryLaptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    house.write(note("lost?"))
    with pytest.MonkeyPatch.context() as patch:
        if small:
            patch.setattr(os, "link", _no_link)
        pulled = Pulled(patch, stick, touches)
        try:
            moved = meet(house, stick)
        except Refused as fault:
            assert "cannot be looked into (no such device)" in str(fault)
        else:
            assert not pulled.out or moved.sent or moved.refused
    moved = meet(house, stick)
    assert moved.refused == [] or "cut short" in moved.refused[0].why
    assert meet(barn, stick).received == 1
    assert barn.ids() == house.ids()


def _no_link(*_: Any, **__: Any) -> None:
    raise OSError(errno.EPERM, "Operation not permitted")


def test_a_power_cut_may_leave_the_name_of_half_a_file(laptop: Maker, stick: Path) -> None:
    """Where renaming is not atomic, half a bundle may stand under its name: it is named and written anew."""
    house, barn = farm(laptop, "house", "barn")
    house.write(note("half"))
    meet(house, stick)
    (name,) = bundles_in(stick)
    raw = (stick / name).read_bytes()
    for cut in (0, 1, 20, len(raw) // 2, len(raw) - 1):
        (stick / name).write_bytes(raw[:cut])
        assert meet(barn, stick).received == 0
        moved = meet(house, stick)
        assert moved.sent == 3 and [one.what for one in moved.refused] == [f"file {name}"]
        for other in bundles_in(stick):
            if other != name:
                (stick / other).unlink()
    (stick / name).write_bytes(raw)
    assert meet(barn, stick).received == 2


# A synchronising program.


class Synchronised:
    """One folder a laptop, which a program brings into line file by file, as such programs do.

    It copies in any order, shows parts of files under their own or a temporary name, makes a copy beside
    a file that differs, changes the case of a name, and brings deletions late.
    """

    def __init__(self, folder: Path, names: list[str], dice: Random) -> None:
        self.folders = {name: folder / name for name in names}
        for one in self.folders.values():
            one.mkdir()
        self._dice = dice
        self._unfinished: list[tuple[Path, Path]] = []

    def step(self) -> None:
        """Bring one file one step further."""
        if self._unfinished and self._dice.random() < 0.5:
            source, target = self._unfinished.pop(self._dice.randrange(len(self._unfinished)))
            if source.exists():
                shutil.copy(source, target)
            elif target.exists():
                target.unlink()
            return
        here, there = self._dice.sample(list(self.folders.values()), 2)
        partial = {target for _, target in self._unfinished}
        whole = [one for one in here.iterdir() if one not in partial]
        names = [one.name for one in whole if not passed_over(one.name)]
        missing = [name for name in names if not (there / name).exists()]
        if not missing:
            return
        name = self._dice.choice(missing)
        raw = (here / name).read_bytes()
        odd = self._dice.random()
        if odd < 0.3:
            (there / name).write_bytes(raw[: self._dice.randrange(len(raw) + 1)])
            self._unfinished.append((here / name, there / name))
        elif odd < 0.4:
            (there / f".sync.{name}.tmp").write_bytes(raw[: len(raw) // 2])
        elif odd < 0.5:
            (there / f"{name.removesuffix('.bundle')}.sync-conflict-7.bundle").write_bytes(raw)
            shutil.copy(here / name, there / name)
        elif odd < 0.6:
            (there / name.upper()).write_bytes(raw)
        else:
            shutil.copy(here / name, there / name)

    def settle(self) -> None:
        """Bring everything into line."""
        for source, target in self._unfinished:
            if source.exists():
                shutil.copy(source, target)
        for here in self.folders.values():
            for there in self.folders.values():
                for one in here.iterdir():
                    if not passed_over(one.name) and not (there / one.name).exists():
                        shutil.copy(one, there / one.name)


@pytest.mark.parametrize("seed", range(12))
def test_a_folder_that_a_program_synchronises(tmp_path: Path, seed: int) -> None:
    dice = Random(seed)
    names = ["house", "barn", "loft"]
    laptops = farm(MemoryLaptop, *names)
    world = Synchronised(tmp_path, names, dice)
    for number in range(40):
        one = dice.choice(laptops)
        if dice.random() < 0.5 and (one is laptops[0] or len(one.ids()) > 1):
            one.write(note(f"{number}"))
        _meet_at(one, world)
        for _ in range(dice.randrange(4)):
            world.step()
    for _ in range(3):
        world.settle()
        for one in laptops:
            _meet_at(one, world)
    house, barn, loft = laptops
    assert house.ids() == barn.ids() == loft.ids()


def _meet_at(laptop: Laptop, world: Synchronised) -> Moved:
    before = laptop.ids()
    entropy = entropy_of(f"{laptop.name} {len(before)}")
    moved = exchange_folder(world.folders[laptop.name], laptop.ledger, 0, entropy)
    assert before <= laptop.ids()
    return moved
