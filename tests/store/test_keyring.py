"""The marker beside a device's key: whole whatever a power cut leaves of its last write."""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from herdsync.faults import DamagedFarm
from herdsync.store import keyring
from herdsync.store.keyring import SLOT_BYTES, Marker, Secret
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


SECRET = Secret(FARM, b"\2" * 32, b"\3" * 32)


def mutants(raw: bytes) -> Iterator[bytes]:
    for at in range(len(raw)):
        for face in (0x01, 0x80, 0xFF):
            yield raw[:at] + bytes([raw[at] ^ face]) + raw[at + 1 :]


def test_no_altered_byte_makes_another_key(keys: Path) -> None:
    keyring.keep_secret(DEVICE, SECRET)
    (path,) = keys.glob("*.key")
    assert keyring.secret_of(FARM, DEVICE) == SECRET
    whole = path.read_bytes()
    for altered in mutants(whole):
        path.write_bytes(altered)
        with pytest.raises(DamagedFarm, match="key file is damaged"):
            keyring.secret_of(FARM, DEVICE)
    # Cut where its sum begins it is as it was written before there was one.
    for length in set(range(len(whole))) - {whole.index(b"\n")}:
        path.write_bytes(whole[:length])
        with pytest.raises(DamagedFarm, match="key file is damaged"):
            keyring.secret_of(FARM, DEVICE)
    path.write_bytes(whole[: whole.index(b"\n")])
    assert keyring.secret_of(FARM, DEVICE) == SECRET


def test_no_altered_byte_makes_another_request(keys: Path, tmp_path: Path) -> None:
    keyring.keep_pending(tmp_path, b'{"keeper":"Jun"}')
    (path,) = keys.glob("*.pending")
    assert keyring.pending_of(tmp_path) == b'{"keeper":"Jun"}'
    for altered in mutants(path.read_bytes()):
        path.write_bytes(altered)
        assert keyring.pending_of(tmp_path) == b""
