"""Exchange over a folder: every laptop ends with every entry."""

from __future__ import annotations

import hashlib
import itertools
from pathlib import Path

import pytest

from herdsync.exchange.bundles import Moved, exchange_bundles
from herdsync.exchange.folder import Folder
from herdsync.faults import Refused
from herdsync.log.entry import pack
from tests.exchange.conftest import Maker
from tests.exchange.laptops import MemoryLaptop, admission_of, entropy_of, note
from tests.exchange.meetings import FOUNDING, bundles_in, farm, meet, quietly


class Counting(Folder):
    """A folder that counts how many files were opened whole."""

    opened = 0

    def read(self, name: str, most: int) -> bytes | None:
        self.opened += 1
        return super().read(name, most)


def test_two_laptops_reach_the_same_entries(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("from the house"))
    assert meet(house, stick) == Moved(3, 0, 0, [])
    assert meet(barn, stick) == Moved(0, 2, 0, [])
    barn.write(note("from the barn"))
    assert meet(barn, stick) == Moved(1, 0, 0, [])
    assert meet(house, stick) == Moved(0, 1, 0, [])
    assert house.ids() == barn.ids() and len(house.ids()) == 4


def test_again_changes_nothing_and_opens_nothing(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    for _ in range(5):
        house.write(note("more"))
        meet(house, stick)
        meet(barn, stick)
    meet(house, stick)  # hears that the barn has it all
    before = bundles_in(stick)
    for one in (house, barn, house):
        counting = Counting(stick, entropy_of("counting"))
        assert exchange_bundles(counting, one.ledger, 0, entropy_of("x")) == Moved(0, 0, 0, [])
        assert counting.opened == 0
    assert bundles_in(stick) == before


def test_three_laptops_in_any_order(laptop: Maker, tmp_path: Path) -> None:
    house, barn, loft = laptops = farm(laptop, "house", "barn", "loft")
    first = tmp_path / "first stick"
    first.mkdir()
    for one in laptops:
        meet(one, first)
    for turn, order in enumerate(itertools.permutations(laptops)):
        folder = tmp_path / f"stick {turn}"
        folder.mkdir()
        for one in order:
            one.write(note(f"{turn}"))
            meet(one, folder)
        for one in (*order, *order):
            meet(one, folder)
        assert house.ids() == barn.ids() == loft.ids()
    assert len(house.ids()) == 3 + 6 * 3


def test_entries_travel_on_through_a_third_laptop(laptop: Maker, tmp_path: Path) -> None:
    house, barn, loft = farm(laptop, "house", "barn", "loft")
    near, far = tmp_path / "near", tmp_path / "far"
    near.mkdir()
    far.mkdir()
    house.write(note("for the loft"))
    meet(house, near)
    meet(barn, near)
    meet(barn, far)
    meet(loft, far)
    assert loft.ids() == house.ids()


def test_a_laptop_admitted_late_reads_all_that_was_before(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("early"))
    meet(house, stick)
    meet(barn, stick)
    barn.write(note("early too"))
    meet(barn, stick)
    meet(house, stick)
    loft = laptop("loft", FOUNDING)
    assert meet(loft, stick) == Moved(0, 0, 0, [])
    house.write(admission_of("loft"))
    assert meet(house, stick).sent == len(house.ids())
    assert meet(loft, stick) == Moved(0, len(house.ids()) - 1, 0, [])
    assert loft.ids() == house.ids()
    assert meet(house, stick).sent == meet(loft, stick).sent == 0


def test_removed_files_are_written_anew_by_whoever_has_them(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("one"))
    meet(house, stick)
    meet(barn, stick)
    for name in bundles_in(stick):
        (stick / name).unlink()
    assert meet(barn, stick).sent == len(barn.ids())
    loft = laptop("loft", FOUNDING)
    house.write(admission_of("loft"))
    meet(house, stick)
    meet(loft, stick)
    assert loft.ids() == house.ids()


def test_a_laptop_not_admitted_writes_nothing(laptop: Maker, stick: Path) -> None:
    loft = laptop("loft", FOUNDING)
    assert meet(loft, stick) == Moved(0, 0, 0, [])
    assert list(stick.iterdir()) == []


def test_a_missing_folder_is_refused(laptop: Maker, tmp_path: Path) -> None:
    house = laptop("house", FOUNDING)
    with pytest.raises(Refused, match="no folder"):
        meet(house, tmp_path / "gone")


def test_a_reader_whose_key_keeps_no_secret_does_not_stop_the_rest(
    laptop: Maker, stick: Path
) -> None:
    house, barn = farm(laptop, "house", "barn")
    weak = admission_of("weak")
    house.write(type(weak)(weak.verb, weak.kind, {**weak.payload, "seal": bytes(32)}))
    quietly(house, stick)
    meet(barn, stick)
    assert barn.ids() == house.ids()
    assert meet(house, stick).sent == 0


def test_the_carrier_sees_no_plaintext(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("Agate stands off her feed"))
    meet(house, stick)
    seen = b"".join(one.read_bytes() for one in stick.iterdir())
    secrets = [
        b"Agate",
        b"Quillmoor",
        b"Oda",
        b"house",
        FOUNDING.id,
        house.ledger.key.public,
        barn.ledger.key.seal_public,
        hashlib.sha256(b"house").digest(),
    ]
    assert not any(one in seen for one in secrets)


@pytest.mark.parametrize("before", [20, 1_500])
def test_what_lies_on_a_carrier_follows_from_what_is_missing_and_not_from_history(
    stick: Path, before: int
) -> None:
    """At most 1.15 times the entries moved, as they are stored, plus 4 KiB."""
    house, barn = farm(MemoryLaptop, "house", "barn")
    for number in range(before):
        house.write(note(f"long ago {number}"))
    meet(house, stick)
    quietly(barn, stick)
    there = {one.name for one in stick.iterdir()}
    new = [house.write(note(f"new {number}")) for number in range(100)]
    assert meet(house, stick).sent == 100
    laid = sum(one.stat().st_size for one in stick.iterdir() if one.name not in there)
    stored = sum(len(pack(entry)) for entry in new)
    assert 0 < laid <= 1.15 * stored + 4096
    assert quietly(barn, stick).received == 100
