"""Connections to the farm's file: one that writes, under the farm's lock, and one that reads.

Older SQLite can damage a write-ahead log when two connections write or checkpoint at the same
moment. So every writing connection's open, transaction and close happens under one lock file.
"""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec
from filelock import FileLock, Timeout

from herdsync.faults import DamagedFarm, Refused

FILE = "farm.db"
WAL = f"{FILE}-wal"
LOCK = "farm.lock"
LOCK_WAIT_S = 20.0
WRITER_CACHE_KIB = 65_536


class Database:
    """The farm's file in ``folder``. Threads take turns; so do processes, by the lock file."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        self._lock = FileLock(folder / LOCK, timeout=LOCK_WAIT_S, thread_local=False)
        self._turn = threading.RLock()
        self._writer: sqlite3.Connection | None = None
        self._reader: sqlite3.Connection | None = None
        self._reading = 0
        self._opened: tuple[int, int] | None = None

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction on the writing connection; undone whole if the block raises."""
        self._refuse_if_gone()
        with self._turn, self._locked():
            writer = self._open_writer()
            with _sentences():
                writer.execute("BEGIN IMMEDIATE")
                try:
                    yield writer
                    writer.execute("COMMIT")
                except BaseException as fault:
                    self._undo(writer, isinstance(fault, sqlite3.Error))
                    raise

    def _at_its_place(self) -> tuple[int, int] | None:
        """Which file lies at the path, None where there is none."""
        with contextlib.suppress(OSError):
            told = self.path.stat()
            return told.st_dev, told.st_ino
        return None

    def _refuse_if_gone(self) -> None:
        """An open connection goes on writing to a file that was deleted: nobody would find it again."""
        if self._opened is not None and self._at_its_place() != self._opened:
            raise Refused(
                "The farm's file is no longer where it was opened; nothing was written.",
                f"Put {self.path.parent} back as it was (is its disk still there?), or open it anew.",
            )

    def _undo(self, writer: sqlite3.Connection, storage_failed: bool) -> None:
        with contextlib.suppress(sqlite3.Error):
            if writer.in_transaction:
                writer.execute("ROLLBACK")
        if storage_failed:
            # What the connection believes of the disk is not to be trusted: the next one reads anew.
            with contextlib.suppress(sqlite3.Error):
                writer.close()
            self._writer = None

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """One consistent view on the reading connection; blocks may nest."""
        with self._turn, _sentences():
            reader = self._open_reader()
            if self._reading == 0:
                reader.execute("BEGIN")
            self._reading += 1
            try:
                yield reader
            finally:
                self._reading -= 1
                if self._reading == 0 and reader.in_transaction:
                    reader.execute("COMMIT")

    def close(self) -> None:
        """Close both connections; the writer's under the lock, for closing may checkpoint."""
        with self._turn:
            if self._reader is not None:
                self._reader.close()
                self._reader = None
            if self._writer is not None:
                # Where the folder is gone nobody else is kept from it, and none is made anew.
                gone = self._at_its_place() is None
                with contextlib.nullcontext() if gone else self._locked():
                    self._writer.close()
                self._writer = None

    @contextmanager
    def _locked(self) -> Iterator[None]:
        try:
            self._lock.acquire()
        except Timeout as fault:
            raise Refused(
                "Another herdsync on this laptop has kept the farm's file busy; nothing was written.",
                "Close the other one, or try again in a moment.",
            ) from fault
        except OSError as fault:
            raise Refused(
                f"The farm's folder cannot be written to ({fault.strerror}); nothing was written.",
                "See whether the disk is full or the folder is read-only, then try again.",
            ) from fault
        try:
            yield
        finally:
            self._lock.release()

    def _open_writer(self) -> sqlite3.Connection:
        if self._writer is None:
            with _sentences():
                writer = sqlite3.connect(
                    self.path, isolation_level=None, timeout=LOCK_WAIT_S, check_same_thread=False
                )
                writer.execute("PRAGMA journal_mode=WAL")
                writer.execute("PRAGMA synchronous=FULL")
                writer.execute("PRAGMA trusted_schema=OFF")
                # Ids are random: what comes in by thousands lands on as many pages of their index.
                writer.execute(f"PRAGMA cache_size=-{WRITER_CACHE_KIB}")
                self._writer = writer
                self._opened = self._opened or self._at_its_place()
        return self._writer

    def _open_reader(self) -> sqlite3.Connection:
        if self._reader is None:
            self._reader = sqlite3.connect(
                self.path.absolute().as_uri() + "?mode=ro",
                uri=True,
                isolation_level=None,
                timeout=LOCK_WAIT_S,
                check_same_thread=False,
            )
            self._reader.execute("PRAGMA trusted_schema=OFF")
            self._opened = self._opened or self._at_its_place()
        return self._reader


@contextmanager
def _sentences() -> Iterator[None]:
    """SQLite's faults as sentences a keeper can act on."""
    try:
        yield
    except sqlite3.OperationalError as fault:
        raise Refused(
            f"The farm's file could not be used ({fault}); nothing was written.",
            "See whether the disk is full or the folder is read-only, then try again.",
        ) from fault
    except (sqlite3.DatabaseError, msgspec.MsgspecError, UnicodeDecodeError) as fault:
        # What is read back within a transaction was written here: form and letters are ours to trust,
        # even those of SQLite's own message about a table's text.
        raise damaged(str(fault)) from fault


def damaged(why: str) -> DamagedFarm:
    """The fault of a farm whose own stored bytes are wrong."""
    return DamagedFarm(
        f"The farm's file is damaged ({why}).",
        "Keep this folder as it is, restore the newest backup beside it, and exchange with the "
        "partner: what the partner has comes back.",
    )
