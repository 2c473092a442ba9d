"""Joining one's own small bundles: never another's, never before what replaces them can be read."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from herdsync.exchange import packing
from herdsync.exchange.bundles import Moved, exchange_bundles
from herdsync.exchange.folder import Folder
from herdsync.exchange.sealing import tag_text, writer_tag
from herdsync.faults import Refused
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, MemoryLaptop, admission_of, entropy_of, founding_of, note
from tests.exchange.meetings import bundles_in, everything, farm, meet, quietly

FOUNDING = founding_of("house")


@pytest.fixture(autouse=True)
def _many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packing, "MANY", 4)


def own(laptop: Laptop, folder: Path) -> list[str]:
    tag = tag_text(writer_tag(FOUNDING.id, laptop.ledger.key.public))
    return [name for name in bundles_in(folder) if name.startswith(tag)]


def write_and_leave(laptop: Laptop, folder: Path, times: int) -> None:
    for number in range(times):
        laptop.write(note(f"{laptop.name} {number} {len(laptop.ids())}"))
        quietly(laptop, folder)


def test_many_small_bundles_become_one(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    write_and_leave(house, stick, 3)
    assert len(own(house, stick)) == 3
    write_and_leave(house, stick, 1)
    assert len(own(house, stick)) == 1
    assert meet(barn, stick) == Moved(0, 5, 0, [])
    assert meet(house, stick) == Moved(0, 0, 0, []) == meet(barn, stick)
    assert house.ids() == barn.ids()


def test_who_took_the_small_ones_gets_nothing_twice(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    for number in range(9):
        house.write(note(f"{number}"))
        meet(house, stick)
        quietly(barn, stick)
    assert len(own(house, stick)) <= 4
    assert house.ids() == barn.ids()


def test_another_laptops_bundles_are_never_touched(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    for number in range(3):
        meet(barn, stick)
        barn.write(note(f"{number}"))
        meet(barn, stick)
    theirs = {name: (stick / name).read_bytes() for name in own(barn, stick)}
    write_and_leave(house, stick, 8)
    assert len(own(house, stick)) < 8
    assert {name: (stick / name).read_bytes() for name in own(barn, stick)} == theirs


def test_a_copy_that_a_synchronising_program_made_is_left_alone(laptop: Maker, stick: Path) -> None:
    house, _ = farm(laptop, "house", "barn")
    write_and_leave(house, stick, 3)
    (first, *_) = own(house, stick)
    copies = [f"{first[:-7]} (conflicted copy).bundle", first.upper()]
    for copy in copies:
        shutil.copy(stick / first, stick / copy)
    write_and_leave(house, stick, 1)
    assert all((stick / copy).exists() for copy in copies)
    assert [name for name in own(house, stick) if name not in copies] != []


def test_a_medium_too_full_for_the_pack_keeps_the_small_ones(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = farm(laptop, "house", "barn")
    write_and_leave(house, stick, 3)
    before = own(house, stick)
    real = Folder.create
    tried: list[str] = []

    def create(self: Folder, name: str, data: bytes) -> bool:
        tried.append(name)
        if len(tried) > 1:
            raise Refused("The folder is full.")
        return real(self, name, data)

    monkeypatch.setattr(Folder, "create", create)
    house.write(note("the fourth"))
    moved = meet(house, stick)
    assert [one.what for one in moved.refused] == ["writing there"] and moved.sent == 1
    assert set(before) < set(own(house, stick))
    monkeypatch.undo()
    monkeypatch.setattr(packing, "MANY", 4)
    assert meet(barn, stick).received == 5


def test_what_cannot_be_taken_away_is_not_joined_again_and_again(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, _ = farm(laptop, "house", "barn")
    monkeypatch.setattr(Folder, "remove", lambda self, name: None)
    write_and_leave(house, stick, 4)
    files = bundles_in(stick)
    assert len(files) == 5
    for _ in range(3):
        assert meet(house, stick) == Moved(0, 0, 0, [])
    assert bundles_in(stick) == files


@pytest.mark.parametrize("removals", range(5))
def test_pulled_out_while_taking_away(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch, removals: int
) -> None:
    house, barn = farm(laptop, "house", "barn")
    write_and_leave(house, stick, 3)
    real = Folder.remove
    done: list[str] = []

    class PulledOutError(Exception):
        pass

    def remove(self: Folder, name: str) -> None:
        if len(done) == removals:
            raise PulledOutError
        done.append(name)
        real(self, name)

    monkeypatch.setattr(Folder, "remove", remove)
    house.write(note("the fourth"))
    if removals < 4:
        with pytest.raises(PulledOutError):
            meet(house, stick)
    else:
        meet(house, stick)
    monkeypatch.undo()
    assert meet(barn, stick).received == 5
    monkeypatch.setattr(packing, "MANY", 4)
    for _ in range(2):
        quietly(house, stick)
        quietly(barn, stick)
    assert house.ids() == barn.ids()


def test_bundles_not_sealed_to_a_newcomer_are_replaced(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    write_and_leave(house, stick, 3)
    house.write(admission_of("loft"))
    # All that was sealed before is left anew for the newcomer; the old ones hold nothing more.
    quietly(house, stick)
    assert len(own(house, stick)) < 4
    loft = laptop("loft", FOUNDING)
    meet(loft, stick)
    meet(barn, stick)
    assert loft.ids() == barn.ids() == house.ids()


def test_a_copied_laptop_loses_nothing(stick: Path) -> None:
    """Two machines with one key write under one tag: what one cannot replace it does not take away."""
    house, barn = farm(MemoryLaptop, "house", "barn")
    copy = MemoryLaptop("house", FOUNDING)
    copy.ledger.take(everything(house), "the test")
    for number in range(6):
        for one in (house, copy):
            one.write(note(f"{number} {id(one)}"))
            meet(one, stick)
    for one in (house, copy, barn, house):
        meet(one, stick)
    assert barn.ids() == house.ids() == copy.ids() and len(barn.ids()) == 2 + 12


def test_a_carrier_that_shows_fewer_bundles_than_before_is_told(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    write_and_leave(house, stick, 3)
    meet(barn, stick)
    *_, newest = own(house, stick)
    (stick / newest).unlink()
    moved = meet(barn, stick)
    (told,) = [one for one in moved.noticed if one.what == "laptop house"]
    assert "up to number 3 were there at the last exchange, now up to 2" in told.why
    # What was missing is back: left anew by whoever has it, and said once.
    assert moved.sent == 1
    quietly(house, stick)


def test_joining_is_no_going_back(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    for _ in range(6):
        write_and_leave(house, stick, 1)
        quietly(barn, stick)


def test_hundreds_of_bundles_are_taken_and_joined(
    stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packing, "MANY", 100_000)
    house, barn = farm(MemoryLaptop, "house", "barn")
    at = Folder(stick, entropy_of("names"))
    for number in range(400):
        house.write(note(f"{number}"))
        # Each exchange alone, as if the stick had been empty: no entry is looked up twice.
        if number % 100 == 99:
            _leave_one_by_one(house, at)
    assert len(bundles_in(stick)) == 402
    assert meet(barn, stick).received == 401
    monkeypatch.setattr(packing, "MANY", 64)
    meet(house, stick)
    # One of the house's, and one of the barn's that tells what it has.
    assert len(bundles_in(stick)) == 2
    assert meet(barn, stick) == Moved(0, 0, 0, [])


def _leave_one_by_one(laptop: Laptop, at: Folder) -> None:
    from herdsync.exchange import load

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(load, "ENTRIES", 1)
        exchange_bundles(at, laptop.ledger, 0, entropy_of(f"leave {len(laptop.ids())}"))
