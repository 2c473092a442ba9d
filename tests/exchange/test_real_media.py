"""Sticks with real file systems: FAT and exFAT as sticks come, ext4; full, read-only, pulled out."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from herdsync.exchange import packing
from herdsync.exchange.folder import Folder
from herdsync.exchange.taking import Taking
from herdsync.faults import Refused
from tests.exchange.laptops import MemoryLaptop, entropy_of, note
from tests.exchange.media import KINDS, Medium, medium
from tests.exchange.meetings import bundles_in, farm, meet, quietly

MEGABYTE = 1024 * 1024
# The least each can be made in.
SIZES = {"fat": MEGABYTE, "exfat": 4 * MEGABYTE, "ext4": 2 * MEGABYTE}


@pytest.fixture(params=KINDS)
def stick(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Medium]:
    with medium(request.param, tmp_path, SIZES[request.param]) as one:
        yield one


def names_in(stick: Medium) -> set[str]:
    return {one.name for one in stick.folder.iterdir() if one.is_file()}


def test_two_laptops_meet_again_and_again(stick: Medium, monkeypatch: pytest.MonkeyPatch) -> None:
    """Plugged in and out between visits; small bundles are joined on the way."""
    monkeypatch.setattr(packing, "MANY", 4)
    house, barn = farm(MemoryLaptop, "house", "barn")
    for turn in range(12):
        one = (house, barn)[turn % 2]
        if turn != 1:
            one.write(note(f"turn {turn} " + "hay " * turn))
        quietly(one, stick.folder)
        stick.unplug()
        stick.plug_in()
    meet(house, stick.folder)
    assert house.ids() == barn.ids() and len(house.ids()) == 2 + 11
    assert all(one.endswith(".bundle") for one in names_in(stick))
    assert len(bundles_in(stick.folder)) < 12


def test_a_file_whose_name_differs_in_case_alone_is_never_written_over(stick: Medium) -> None:
    house, barn = farm(MemoryLaptop, "house", "barn")
    meet(house, stick.folder)
    (name,) = bundles_in(stick.folder)
    other = stick.folder / name.replace("00000001", "00000002").upper()
    other.write_bytes(b"another file")
    house.write(note("more"))
    assert meet(house, stick.folder).sent == 1
    assert other.read_bytes() == b"another file"
    assert meet(barn, stick.folder).received == 2


def test_full_it_says_so_and_goes_on_when_there_is_room(stick: Medium) -> None:
    house, barn = farm(MemoryLaptop, "house", "barn")
    meet(house, stick.folder)
    filler = stick.folder / "holiday.jpg"
    with pytest.raises(OSError), filler.open("wb", buffering=0) as file:
        while file.write(os.urandom(4_096)):
            pass
    for number in range(30):
        house.write(note(f"{number} " + "hay " * 500))
    moved = meet(house, stick.folder)
    (setback,) = moved.refused
    assert "cannot be written" in setback.why and "full" in setback.why
    # Whatever lies there now, none of it is taken for a bundle that is not whole.
    meet(barn, stick.folder)
    assert barn.ids() < house.ids()
    filler.unlink()
    assert meet(house, stick.folder).sent == 30
    quietly(barn, stick.folder)
    assert barn.ids() == house.ids()


def test_read_only_it_is_still_read(stick: Medium) -> None:
    house, barn = farm(MemoryLaptop, "house", "barn")
    house.write(note("news"))
    meet(house, stick.folder)
    stick.unplug()
    stick.plug_in(read_only=True)
    barn_before = barn.ids()
    moved = meet(barn, stick.folder)
    assert moved.received == 2 and barn.ids() > barn_before
    barn.write(note("from the barn"))
    (setback,) = meet(barn, stick.folder).refused
    assert "cannot be written" in setback.why and "what it held was read" in setback.why
    stick.unplug()
    stick.plug_in()
    assert meet(barn, stick.folder).sent == 1


def pulled_at(stick: Medium, patch: pytest.MonkeyPatch, touches: int) -> None:
    """Pull it at the n-th call of the system that concerns it."""
    left = [touches]

    def touching(real: Callable[..., Any]) -> Callable[..., Any]:
        def touch(*words: Any, **more: Any) -> Any:
            left[0] -= 1
            if left[0] == 0:
                stick.pull()
            return real(*words, **more)

        return touch

    for name in ("open", "fsync", "link", "scandir", "fstat"):
        patch.setattr(os, name, touching(getattr(os, name)))


@pytest.mark.parametrize("touches", range(1, 16, 2))
def test_pulled_out_at_any_touch_nothing_is_lost(tmp_path: Path, touches: int) -> None:
    """What a killed driver leaves behind is what a pulled stick holds: files cut short among them."""
    with medium("fat", tmp_path, SIZES["fat"]) as stick:
        if not stick.pullable:
            pytest.skip("the kernel's own driver cannot be killed")
        house, barn = farm(MemoryLaptop, "house", "barn")
        house.write(note("before"))
        meet(house, stick.folder)
        for number in range(40):
            house.write(note(f"{number} " + "hay " * 300))
        with pytest.MonkeyPatch.context() as patch:
            pulled_at(stick, patch, touches)
            try:
                meet(house, stick.folder)
            except Refused as fault:
                assert str(fault).endswith(".")
        stick.take_out()
        stick.plug_in()
        taking = Taking(Folder(stick.folder, entropy_of("looks")), barn.ledger)
        taking.run(taking._carrier.names())
        for setbacks in taking.setbacks.values():
            assert all(one.why.endswith(".") for one in setbacks)
        # What came out half is refused by name; its writer leaves the same again under another one.
        meet(house, stick.folder)
        meet(barn, stick.folder)
        assert barn.ids() == house.ids()
