"""The marker beside a device's key: whole whatever a power cut leaves of its last write."""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import pytest

from herdsync.faults import DamagedFarm
from herdsync.store import keyring
from herdsync.store.keyring import SLOT_BYTES, Marker
from herdsync.wall import MACHINE_LETTERS

FARM, DEVICE = bytes(32), b"\1" * 32
MARKERS = [Marker(number, bytes([number]) * 32, "machine") for number in range(5)]


@pytest.fixture
def path(keys: Path) -> Path:
    keyring.keep_marker(FARM, DEVICE, MARKERS[0])
    (path,) = keys.glob("*.marker")
    return path


def test_the_newest_marker_counts(path: Path) -> None:
    for marker in MARKERS:
        keyring.keep_marker(FARM, DEVICE, marker)
        assert keyring.marker_of(FARM, DEVICE) == marker
    assert path.stat().st_size == 2 * SLOT_BYTES
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_torn_write_leaves_the_marker_before_it(path: Path) -> None:
    for before, after in pairwise(MARKERS):
        whole = path.read_bytes()
        keyring.keep_marker(FARM, DEVICE, after)
        changed = path.read_bytes()
        for cut in range(0, len(whole) + 1, 61):
            for torn in (changed[:cut] + whole[cut:], whole[:cut] + changed[cut:]):
                path.write_bytes(torn)
                assert keyring.marker_of(FARM, DEVICE) in (before, after)
            keyring.keep_marker(FARM, DEVICE, after)
            assert keyring.marker_of(FARM, DEVICE) == after
        path.write_bytes(changed)


def test_no_flipped_bit_makes_another_marker(path: Path) -> None:
    keyring.keep_marker(FARM, DEVICE, MARKERS[1])
    whole = path.read_bytes()
    for at in range(0, len(whole), 5):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1 << at % 8]) + whole[at + 1 :])
        assert keyring.marker_of(FARM, DEVICE) in MARKERS[:2]


@pytest.mark.parametrize("left", [b"", b"\0" * 2 * SLOT_BYTES, b'{"sequence":0}'], ids=len)
def test_a_file_without_a_whole_slot_is_said_and_written_anew(path: Path, left: bytes) -> None:
    path.write_bytes(left)
    with pytest.raises(DamagedFarm, match="marker file is damaged"):
        keyring.marker_of(FARM, DEVICE)
    keyring.keep_marker(FARM, DEVICE, MARKERS[2])
    assert keyring.marker_of(FARM, DEVICE) == MARKERS[2]


def test_a_new_one_is_on_the_disk_and_the_next_need_not_be(
    keys: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda handle: synced.append(os.fstat(handle).st_ino))
    keyring.keep_marker(FARM, DEVICE, MARKERS[0])
    (path,) = keys.glob("*.marker")
    assert path.stat().st_ino in synced
    inode, synced[:] = path.stat().st_ino, []
    keyring.keep_marker(FARM, DEVICE, MARKERS[1])
    assert (path.stat().st_ino, synced) == (inode, [])


def test_a_slot_fits_the_longest_marker(keys: Path) -> None:
    longest = Marker(2**63 - 1, b"\xff" * 32, "🐐" * MACHINE_LETTERS)
    for _ in range(3):
        keyring.keep_marker(FARM, DEVICE, longest)
        assert keyring.marker_of(FARM, DEVICE) == longest
