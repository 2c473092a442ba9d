"""Exchange over a folder: every laptop ends with every entry, whatever happens to the files."""

from __future__ import annotations

import hashlib
import itertools
import os
from pathlib import Path

import pytest

from herdsync.exchange import bundle, doorstep, lid, load, pairing
from herdsync.exchange.bundles import Moved, exchange_bundles, exchange_folder
from herdsync.exchange.folder import Folder
from herdsync.faults import Refused
from herdsync.log.entry import Entry, pack
from herdsync.store import intake
from herdsync.store.carried import Sighting
from tests.exchange import by_hand
from tests.exchange.conftest import Maker
from tests.exchange.laptops import (
    Laptop,
    MemoryLaptop,
    admission_of,
    entropy_of,
    founding_of,
    key_of,
    note,
)

FOUNDING = founding_of("house")


def meet(laptop: Laptop, folder: Path) -> Moved:
    return exchange_folder(folder, laptop.ledger, 0, entropy_of(f"{laptop.name} exchange"))


def farm(laptop: Maker, *names: str) -> list[Laptop]:
    """Laptops that only have the founding entry, all admitted by the first, who alone knows it."""
    first, *others = [laptop(name, FOUNDING) for name in names]
    for one in others:
        first.write(admission_of(one.name))
    return [first, *others]


def bundles_in(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir() if one.name.endswith(".bundle"))


def everything(laptop: Laptop) -> list[Entry]:
    return list(laptop.ledger.entries(laptop.ledger.runs()))


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


def test_an_altered_bundle_is_named_and_costs_nothing_else(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    house.write(note("one"))
    meet(house, stick)
    first, second = (stick / name for name in bundles_in(stick))
    sound = second.read_bytes()
    second.write_bytes(sound[:-100] + b"\0" + sound[-99:])
    moved = meet(barn, stick)
    assert moved.received == 1
    (setback,) = moved.refused
    assert second.name in setback.what and "does not authenticate" in setback.why
    assert meet(barn, stick).refused == [setback]
    second.write_bytes(sound)
    assert meet(barn, stick) == Moved(0, 1, 0, [])
    assert barn.ids() == house.ids()
    assert first.exists()


def test_a_deleted_damaged_bundle_comes_back(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    (name,) = bundles_in(stick)
    (stick / name).write_bytes((stick / name).read_bytes()[:200])
    (setback,) = meet(barn, stick).refused
    assert "delete it there" in setback.why
    (stick / name).unlink()
    meet(house, stick)
    assert meet(barn, stick).refused == []
    assert barn.ids() == house.ids()


@pytest.mark.parametrize("step", [1, 7])
def test_bundles_growing_under_the_readers_eyes(stick: Path, step: int) -> None:
    house = MemoryLaptop("house", FOUNDING)
    house.write(admission_of("barn"))
    meet(house, stick)
    (name,) = bundles_in(stick)
    whole = (stick / name).read_bytes()
    barn = MemoryLaptop("barn", FOUNDING)
    for length in range(0, len(whole), step):
        (stick / name).write_bytes(whole[:length])
        moved = exchange_bundles(Folder(stick, entropy_of("x")), barn.ledger, 0, entropy_of("y"))
        assert moved.received == 0 and len(moved.refused) == 1
        assert barn.ids() == {FOUNDING.id}
    (stick / name).write_bytes(whole)
    assert meet(barn, stick) == Moved(0, 1, 0, [])


def test_renamed_doubled_and_case_clashing_files(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("one"))
    meet(house, stick)
    (name,) = bundles_in(stick)
    raw = (stick / name).read_bytes()
    (stick / name).rename(stick / "letter to the vet.pdf")
    for copy in (name.upper(), f"{name} (Ravi's conflicted copy)", "1 \udcff\x1b[2J\u202e.bundle"):
        (stick / copy).write_bytes(raw)
    assert meet(barn, stick) == Moved(0, 2, 0, [])
    assert meet(barn, stick) == Moved(0, 0, 0, [])
    assert barn.ids() == house.ids()


def test_odd_things_in_the_folder_harm_nothing(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    (stick / "empty.bundle").write_bytes(b"")
    (stick / "zeros.bundle").write_bytes(bytes(2_000))
    (stick / "huge.bundle").write_bytes(lid.MAGIC + bytes(bundle.BUNDLE_BYTES))
    (stick / "holiday.jpg").write_bytes(b"\xff\xd8" + bytes(500))
    (stick / "nested.bundle").mkdir()
    (stick / "away.bundle").symlink_to("/etc/hostname")
    os.mkfifo(stick / "pipe.bundle")
    moved = meet(house, stick)
    assert moved.sent == 2
    assert [one.what for one in moved.refused] == [
        "file empty.bundle",
        "file huge.bundle",
        "file zeros.bundle",
    ]
    assert all(one.why.endswith(".") for one in moved.refused)
    (stick / "b\x1b[2J\u202e\udcff.bundle").write_bytes(b"")
    hostile = meet(house, stick).refused[0].what
    assert hostile == "file b\\x1b[2J\\u202e\\udcff.bundle"
    assert meet(barn, stick).received == 1


def test_files_that_vanish_or_cannot_be_read(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    house.write(note("one"))
    meet(house, stick)
    second = bundles_in(stick)[1]
    (stick / "private.txt").write_bytes(b"x")
    real = os.open

    def guarded(path: str | Path, flags: int, mode: int = 0o777) -> int:
        if Path(path).name in (second, "private.txt"):
            raise PermissionError(13, "Permission denied")
        if Path(path).name == "gone.bundle":
            raise FileNotFoundError(2, "No such file or directory")
        return real(path, flags, mode)

    (stick / "gone.bundle").write_bytes(b"x")
    with monkeypatch.context() as patch:
        patch.setattr(os, "open", guarded)
        moved = meet(barn, stick)
    assert moved.received == 1
    (setback,) = moved.refused
    assert second in setback.what and "permission denied" in setback.why
    (stick / "gone.bundle").unlink()
    assert meet(barn, stick).refused == []
    assert barn.ids() == house.ids()


def test_another_farms_files_are_left_alone(laptop: Maker, stick: Path, tmp_path: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    other = MemoryLaptop("elsewhere", founding_of("elsewhere", "Another Farm"))
    other.write(note("theirs"))
    meet(other, stick)
    theirs = {name: (stick / name).read_bytes() for name in bundles_in(stick)}
    assert meet(house, stick) == Moved(2, 0, 0, [])
    assert meet(barn, stick) == Moved(0, 1, 0, [])
    assert meet(other, stick) == Moved(0, 0, 0, [])
    assert all((stick / name).read_bytes() == raw for name, raw in theirs.items())


def test_requests_and_welcomes_beside_bundles_are_no_fault(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    pending = pairing.pend("Jun", "shed", 0, entropy_of("pairing"))
    at = Folder(stick, entropy_of("names"))
    doorstep.leave_request(at, pending)
    (request,) = doorstep.requests_in(at).requests
    code = pairing.code_of(pending.secret)
    doorstep.leave_welcome(at, request, code, FOUNDING, bytes(32))
    assert meet(house, stick) == Moved(2, 0, 0, [])
    assert meet(barn, stick) == Moved(0, 1, 0, [])
    assert doorstep.find_welcome(at, pending).refused == []


def test_a_write_protected_medium_is_still_read(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    meet(barn, stick)
    house.write(note("news"))
    meet(house, stick)
    barn.write(note("from the barn"))

    def protected(*_: object) -> bool:
        raise Refused("The folder cannot be written (read-only file system).", "Unlock it.")

    with monkeypatch.context() as patch:
        patch.setattr(Folder, "create", protected)
        moved = meet(barn, stick)
    assert (moved.sent, moved.received) == (0, 1)
    (setback,) = moved.refused
    assert "read-only" in setback.why
    assert meet(barn, stick) == Moved(1, 0, 0, [])


def test_a_name_already_taken_is_passed_over(laptop: Maker, stick: Path) -> None:
    house, _ = farm(laptop, "house", "barn")
    meet(house, stick)
    (name,) = bundles_in(stick)
    stem = name[:-15]
    for number in (2, 3):
        (stick / f"{stem}{number:08d}.bundle".upper()).write_bytes(b"not ours")
    (stick / f"{stem}00000004.bundle").symlink_to("/nowhere")
    house.write(note("more"))
    assert meet(house, stick).sent == 1
    assert (stick / f"{stem}00000005.bundle").is_file()


def test_interrupted_after_any_file_it_goes_on(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(load, "ENTRIES", 4)
    house, barn = farm(laptop, "house", "barn")
    for number in range(20):
        house.write(note(f"{number}"))
    real_create, real_remember = Folder.create, type(house.ledger).remember
    for stops_after in range(1, 5):

        def create(self: Folder, name: str, data: bytes, stop: int = stops_after) -> bool:
            done = real_create(self, name, data)
            if len(bundles_in(stick)) == stop:
                raise KeyboardInterrupt
            return done

        with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
            patch.setattr(Folder, "create", create)
            meet(house, stick)
    meet(house, stick)
    assert len(bundles_in(stick)) == 6

    def remember(self: object, sighting: Sighting) -> None:
        real_remember(self, sighting)  # type: ignore[arg-type]
        if sighting.counter % 2:
            raise KeyboardInterrupt

    while True:
        with monkeypatch.context() as patch:
            patch.setattr(type(barn.ledger), "remember", remember)
            try:
                meet(barn, stick)
                break
            except KeyboardInterrupt:
                continue
    assert barn.ids() == house.ids()
    assert meet(barn, stick) == meet(house, stick) == Moved(0, 0, 0, [])


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
    (setback,) = moved.refused
    assert third in setback.what and "builds on entries that have not come yet" in setback.why
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
        (setback,) = meet(barn, stick).refused
        assert setback.what == "laptop house"
        assert "6 entries more than are here" in setback.why
    for name, raw in kept.items():
        (stick / name).write_bytes(raw)
    assert meet(barn, stick).refused == []


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
    (setback,) = meet(barn, stick).refused
    assert second in setback.what and "does not know as admitted" in setback.why
    (stick / first).write_bytes(kept)
    assert meet(barn, stick).refused == []
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
    (setback,) = moved.refused
    assert "zz.bundle" in setback.what and "does not know as admitted" in setback.why


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
    assert meet(house, stick).refused == []
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
