"""A folder as a carrier: what is written is whole or not there, what is odd in it harms nothing."""

from __future__ import annotations

import errno
import os
import socket
from pathlib import Path
from typing import Any

import pytest

from herdsync.exchange import folder as folder_module
from herdsync.exchange.folder import Folder
from herdsync.faults import BadBytes, Refused
from tests.exchange.laptops import entropy_of

NAME = "abcd2345-00000001.bundle"


def listed(path: Path) -> list[str]:
    return [one.name for one in path.iterdir()]


@pytest.fixture
def folder(stick: Path) -> Folder:
    return Folder(stick, entropy_of("folder"))


def test_a_file_is_created_once_and_leaves_nothing_beside_it(folder: Folder) -> None:
    assert folder.create(NAME, b"first")
    assert not folder.create(NAME, b"second")
    assert listed(folder.path) == [NAME]
    assert folder.read(NAME, 100) == b"first"


def test_a_file_a_partner_with_another_login_can_read(folder: Folder) -> None:
    before = os.umask(0o022)
    try:
        folder.create(NAME, b"first")
    finally:
        os.umask(before)
    assert (folder.path / NAME).stat().st_mode & 0o777 == 0o644


def test_where_there_are_no_hard_links_a_file_is_still_created_once(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    assert folder.create(NAME, b"first")
    assert not folder.create(NAME, b"second")
    assert listed(folder.path) == [NAME]
    assert folder.read(NAME, 100) == b"first"


@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("fails_at", [1, 2])
def test_a_full_disk_is_told_and_nothing_half_written_stays(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, fails_at: int, links: bool
) -> None:
    calls = 0
    real = os.fsync

    def full(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == fails_at:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    def no_links(*_: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    if not links:
        monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Refused, match="no space left on device"):
        folder.create(NAME, b"first")
    left = listed(folder.path)
    # Once it has its name it is whole: only that its name is durable could not be promised.
    assert left == ([NAME] if links and fails_at == 2 else [])
    assert all((folder.path / name).read_bytes() == b"first" for name in left)


def test_a_medium_that_returns_other_bytes_is_told(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "read_bytes", lambda _: b"fir\0t")
    with pytest.raises(Refused, match="read back differs"):
        folder.create(NAME, b"first")
    assert listed(folder.path) == []


def test_a_write_protected_medium_is_told(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.open

    def protected(path: Any, flags: int, *more: Any) -> int:
        if flags & os.O_CREAT:
            raise OSError(errno.EROFS, "Read-only file system")
        return real(path, flags, *more)

    monkeypatch.setattr(os, "open", protected)
    with pytest.raises(Refused, match=r"read-only file system.*what it held was read"):
        folder.create(NAME, b"first")


def test_only_regular_finished_visible_files_are_listed(folder: Folder, stick: Path) -> None:
    (stick / NAME).write_bytes(b"x")
    (stick / ".hidden.bundle").write_bytes(b"x")
    (stick / "~syncing.bundle").write_bytes(b"x")
    (stick / "half.bundle.TMP").write_bytes(b"x")
    (stick / "half.bundle.part").write_bytes(b"x")
    (stick / "folder.bundle").mkdir()
    (stick / "link.bundle").symlink_to(stick / NAME)
    os.mkfifo(stick / "pipe.bundle")
    with socket.socket(socket.AF_UNIX) as plug:
        plug.bind(str(stick / "s.bundle"))
        assert folder.names().names == [NAME]


def test_what_turned_into_something_else_meanwhile_is_not_read(folder: Folder, stick: Path) -> None:
    os.mkfifo(stick / "pipe")
    (stick / "link").symlink_to(stick / NAME)
    (stick / "deeper").mkdir()
    for name in ("pipe", "link", "deeper"):
        for look in (folder.tail, lambda one: folder.head(one, 9), lambda one: folder.read(one, 9)):
            with pytest.raises(BadBytes):
                look(name)
    assert folder.tail("gone") is None and folder.read("gone", 9) is None


def test_an_empty_and_a_short_file_have_their_tails(folder: Folder, stick: Path) -> None:
    (stick / "empty").write_bytes(b"")
    (stick / "short").write_bytes(b"abc")
    (stick / "long").write_bytes(b"." * 68 + bytes(range(32)))
    assert folder.tail("empty") == (0, b"")
    assert folder.tail("short") == (3, b"abc")
    assert folder.tail("long") == (100, bytes(range(32)))
    assert folder.read("long", 9) == b"." * 10


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"no folder.*Plug the stick in"):
        Folder(tmp_path / "gone", entropy_of("x")).names()


def test_a_crowded_folder_is_told(
    folder: Folder, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folder_module, "FILES", 3)
    for number in range(5):
        (stick / f"{number}").write_bytes(b"x")
    shelf = folder.names()
    assert len(shelf.names) == 3
    assert len(shelf.notes) == 1 and "more than 3 files" in shelf.notes[0]


def test_sweeping_takes_ones_own_unfinished_files_alone(folder: Folder, stick: Path) -> None:
    own, other = ".abcd2345-00000001.bundle-00ff.tmp", ".wxyz2345-00000001.bundle-00ff.tmp"
    for name in (own, other, NAME):
        (stick / name).write_bytes(b"x")
    folder.sweep("abcd2345")
    assert sorted(listed(stick)) == sorted([other, NAME])
