"""Exchange where pieces are missing, and who wrote what comes: strangers, forgers, two copies."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.exchange import load
from herdsync.exchange.bundles import Moved
from herdsync.log.entry import pack
from herdsync.store import intake
from tests.exchange import by_hand
from tests.exchange.conftest import Maker
from tests.exchange.laptops import MemoryLaptop, admission_of, key_of, note
from tests.exchange.meetings import FOUNDING, bundles_in, everything, farm, meet, quietly


def test_missing_pieces_are_told_and_mended(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(load, "ENTRIES", 3)
    house, barn = farm(laptop, "house", "barn")
    for number in range(7):
        house.write(note(f"{number}"))
    meet(house, stick)
    first, second, third = bundles_in(stick)
    kept = (stick / second).read_bytes()
    (stick / second).unlink()
    moved = meet(barn, stick)
    assert moved.received == 2
    assert moved.refused == [], "it only waits"
    (notice,) = moved.noticed
    assert third in notice.what and "builds on entries that have not come yet" in notice.why
    (stick / second).write_bytes(kept)
    assert meet(barn, stick) == Moved(0, 6, 0, [])
    assert barn.ids() == house.ids()
    assert first


def test_an_older_state_of_the_carrier_is_told(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(load, "ENTRIES", 3)
    house, barn = farm(laptop, "house", "barn")
    for number in range(7):
        house.write(note(f"{number}"))
    meet(house, stick)
    kept = {name: (stick / name).read_bytes() for name in bundles_in(stick)[1:]}
    for name in kept:
        (stick / name).unlink()
    for _ in range(2):
        moved = meet(barn, stick)
        (notice,) = moved.noticed
        assert notice.what == "laptop house" and moved.refused == []
        assert "6 entries more than are here" in notice.why
    for name, raw in kept.items():
        (stick / name).write_bytes(raw)
    quietly(barn, stick)


def test_a_writer_is_introduced_by_its_own_bundle(laptop: Maker, tmp_path: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    near, far = tmp_path / "near", tmp_path / "far"
    near.mkdir()
    far.mkdir()
    meet(house, near)
    meet(barn, near)
    house.write(admission_of("loft"))
    loft = MemoryLaptop("loft", FOUNDING)
    loft.memory.take(everything(house), "")
    loft.write(note("from the loft"))
    meet(loft, far)
    assert meet(barn, far) == Moved(0, 2, 0, [])
    assert barn.ids() == loft.ids()


def test_a_writer_not_yet_known_waits_for_its_admission(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    house.write(admission_of("loft"))
    loft = MemoryLaptop("loft", FOUNDING)
    loft.memory.take(everything(house), "")
    loft.write(note("from the loft"))
    monkeypatch.setattr(load, "ENTRIES", 3)
    before = bundles_in(stick)
    meet(loft, stick)
    first, second = (name for name in bundles_in(stick) if name not in before)
    kept = (stick / first).read_bytes()
    (stick / first).unlink()
    (notice,) = meet(barn, stick).noticed
    assert second in notice.what and "does not know as admitted" in notice.why
    (stick / first).write_bytes(kept)
    quietly(barn, stick)
    assert barn.ids() == loft.ids()


def stranger_bundle(signer: str, readers: list[str], records: list[bytes]) -> bytes:
    key = key_of(signer)
    first = by_hand.frontier_record(FOUNDING.id, key)
    seals = [key_of(one).seal_public for one in readers]
    return by_hand.bundle(FOUNDING.id, key, seals, [first, *records])


def test_a_strangers_bundle_waits_and_brings_nothing(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    raw = stranger_bundle("stranger", ["barn"], [by_hand.packed([])])
    (stick / "zz.bundle").write_bytes(raw)
    moved = meet(barn, stick)
    assert (moved.received, moved.sent) == (0, 0)
    (notice,) = moved.noticed
    assert "zz.bundle" in notice.what and "does not know as admitted" in notice.why


def test_a_members_forged_entries_are_refused_by_name(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    sound = house.write(note("true"))
    packed = bytearray(pack(sound))
    at = bytes(packed).index(sound.signature)
    packed[at] ^= 1
    run = [sound.header.device, sound.header.sequence, sound.header.previous, 1]
    records = [by_hand.packed([run]), by_hand.packed([0, bytes(packed)])]
    (stick / "zz.bundle").write_bytes(stranger_bundle("barn", ["house", "barn"], records))
    moved = meet(barn, stick)
    assert moved.received == 0 and len(moved.refused) == 1
    assert "signature" in moved.refused[0].why
    meet(house, stick)
    assert meet(barn, stick).received == 1


def test_a_forged_branch_does_not_slip_in_with_a_large_batch(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(intake, "BATCH_ALL_CHECKED", 3)
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    copy = MemoryLaptop("house", FOUNDING)
    copy.memory.take(everything(house), "")
    true = [house.write(note(f"true {number}")) for number in range(6)]
    false = [copy.write(note(f"false {number}")) for number in range(3)]
    start = true[0].header
    heads = [
        [start.device, start.sequence, start.previous, len(true)],
        [start.device, start.sequence, start.previous, len(false)],
    ]
    pieces = [by_hand.packed([0, pack(entry)]) for entry in true]
    for entry in false:
        forged = pack(entry).replace(entry.signature, bytes(64))
        pieces.append(by_hand.packed([1, forged]))
    raw = stranger_bundle("barn", ["house", "barn"], [by_hand.packed(heads), *pieces])
    (stick / "zz.bundle").write_bytes(raw)
    moved = meet(barn, stick)
    assert moved.received == len(true)
    assert len(moved.refused) == len(false)
    assert barn.ids() == house.ids()


def test_both_branches_of_a_forked_log_travel_and_settle(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    copy = MemoryLaptop("house", FOUNDING)
    copy.memory.take(everything(house), "")
    for number in range(3):
        house.write(note(f"at home {number}"))
    for number in range(2):
        copy.write(note(f"on the copy {number}"))
    meet(copy, stick)
    meet(barn, stick)
    meet(house, stick)
    meet(barn, stick)
    meet(copy, stick)
    assert house.ids() == barn.ids() == copy.ids()
    assert len(barn.ids()) == 2 + 5
    for one in (house, barn, copy):
        assert meet(one, stick) == Moved(0, 0, 0, [])
