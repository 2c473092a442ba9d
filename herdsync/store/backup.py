"""Backup and restore of a farm's file. No secret key is ever in either."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable
from contextlib import closing, suppress
from pathlib import Path

from herdsync.faults import BadBytes, Refused
from herdsync.store.database import FILE
from herdsync.store.lasting import make_folder, move_into_place, sync_folder


def back_up(folder: Path, file: Path) -> int:
    """Write a whole copy of the farm's file to ``file``; answer how many entries it holds.

    Raises Refused where the file is there already or cannot be written; nothing half-written stays.
    """
    if file.exists():
        raise Refused(f"{file} is there already; nothing was written.", "Choose another name.")
    aside = file.with_name(f".{file.name}.part")
    try:
        with (
            closing(
                sqlite3.connect((folder / FILE).absolute().as_uri() + "?mode=ro", uri=True)
            ) as a,
            closing(sqlite3.connect(aside)) as b,
        ):
            a.backup(b)
            # A copy without a write-ahead log is one file that can be carried away.
            b.execute("PRAGMA journal_mode=DELETE")
            entries = int(b.execute("SELECT count(*) FROM entry").fetchone()[0])
        move_into_place(aside, file)
    except (OSError, sqlite3.Error) as fault:
        raise Refused(
            f"The backup was not written ({fault}).", "See whether the disk is full."
        ) from fault
    finally:
        _drop(aside)
    return entries


def _drop(aside: Path) -> None:
    """Take a half-written file away, where the disk still lets anything be done."""
    with suppress(OSError):
        aside.unlink(missing_ok=True)


def write_new(path: Path, text: str) -> None:
    """Write a new text file durably. Raises Refused where it is there already or cannot be written."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        sync_folder(path.parent)
    except FileExistsError:
        raise Refused(
            f"{path} is there already; nothing was written.", "Choose another name."
        ) from None
    except OSError as fault:
        raise Refused(f"{path} was not written ({fault}).", "Choose another place.") from fault


def write_pieces(path: Path, pieces: Iterable[bytes]) -> None:
    """Write a new file piece by piece, durably; where anything fails, no part of it stays.

    Raises Refused where it is there already or cannot be written.
    """
    try:
        with path.open("xb") as file:
            try:
                for piece in pieces:
                    file.write(piece)
                file.flush()
                os.fsync(file.fileno())
                sync_folder(path.parent)
            except BaseException:
                _drop(path)
                raise
    except FileExistsError:
        raise Refused(
            f"{path} is there already; nothing was written.", "Choose another name."
        ) from None
    except OSError as fault:
        raise Refused(f"{path} was not written ({fault}).", "Choose another place.") from fault


def replace_file(path: Path, content: bytes) -> None:
    """Write a file whole, in place of one that is there. Raises Refused where it cannot be written."""
    aside = path.with_name(f".{path.name}.part")
    _drop(aside)
    write_pieces(aside, [content])
    try:
        move_into_place(aside, path)
    except OSError as fault:
        _drop(aside)
        raise Refused(f"{path} was not written ({fault}).", "Choose another place.") from fault


def restore(file: Path, folder: Path) -> int:
    """Put a backup where a farm is to be; answer how many entries it holds. Raises Refused."""
    if (folder / FILE).exists():
        raise Refused(
            f"There is a farm in {folder} already; nothing was written.",
            "Restore into an empty folder with --farm.",
        )
    entries = _entries_in(file)
    aside = folder / f".{FILE}.part"
    try:
        make_folder(folder)
        _drop(aside)
        write_pieces(aside, [file.read_bytes()])
        move_into_place(aside, folder / FILE)
    except OSError as fault:
        raise Refused(
            f"The farm was not restored ({fault}).", "See whether the disk is full."
        ) from fault
    finally:
        _drop(aside)
    return entries


def _entries_in(file: Path) -> int:
    if not file.is_file():
        raise Refused(f"There is no backup at {file}.", "Name the backup's file.")
    try:
        with closing(sqlite3.connect(file.absolute().as_uri() + "?mode=ro", uri=True)) as backup:
            sound = backup.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            entries = int(backup.execute("SELECT count(*) FROM entry").fetchone()[0])
    except sqlite3.Error as fault:
        raise BadBytes(
            f"{file} is no backup of a farm ({fault}).", "Use another backup."
        ) from fault
    if not sound:
        raise BadBytes(f"{file} is damaged.", "Use another backup.")
    return entries
