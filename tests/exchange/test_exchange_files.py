"""Exchange over a folder whose files are altered, cut, doubled, odd, gone or not to be written."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from herdsync.exchange import bundle, doorstep, lid, load, pairing
from herdsync.exchange.bundles import Moved, exchange_bundles
from herdsync.exchange.folder import Folder
from herdsync.faults import Refused
from herdsync.store.carried import Sighting
from tests.exchange.conftest import Maker
from tests.exchange.laptops import MemoryLaptop, admission_of, entropy_of, founding_of, note
from tests.exchange.meetings import FOUNDING, bundles_in, farm, meet, quietly


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
    quietly(barn, stick)
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
    quietly(barn, stick)
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
    doorstep.leave_welcome(at, request, code, FOUNDING, bytes(32), bytes(32))
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
