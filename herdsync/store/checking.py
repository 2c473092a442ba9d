"""Checking a farm's stored bytes whole: forms, links, signatures, and that what is derived follows."""

from __future__ import annotations

import sqlite3
from collections import Counter, deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain, islice
from typing import NamedTuple

from herdsync import wall
from herdsync.faults import DamagedFarm
from herdsync.log.entry import Entry
from herdsync.log.signing import entry_verifies
from herdsync.merge.fold import Fold
from herdsync.store.bulk import uncollected
from herdsync.store.database import WRITER_CACHE_KIB
from herdsync.store.log_table import BAD, Read
from herdsync.store.schema import DERIVED, DERIVED_TABLES
from herdsync.store.sql_shelf import SqlShelf
from herdsync.store.view import View

# So many entries go to one thread at a time: the library lets go of the interpreter at each signature.
CHECKED_AT_ONCE = 256
# So many are read before they are folded.
FOLDED_AT_ONCE = 4_096
COMPARED_AT_ONCE = 1_000


@dataclass(slots=True)
class Check:
    """What a check of everything up to a position found; ``faults`` are sentences.

    ``folds``: what was read so far could be folded again.
    """

    through: int
    entries: int = 0
    folds: bool = True
    faults: list[str] = field(default_factory=list)
    bad: list[bytes] = field(default_factory=list)


class _Page(NamedTuple):
    """Entries in a row as they were read, and whether the signatures of each part of them hold."""

    read: list[Read]
    holding: list[Future[list[bool]]]


def check(view: View) -> Check:
    """Read every stored byte again and hold it against its hash, its links and its signature."""
    found = Check(view.log.newest())
    with _empty_tables(view.connection), ThreadPoolExecutor(wall.cores()) as pool:
        _Checking(view, found, pool).run()
        alike = found.folds and all(_alike(view.connection, table) for table in DERIVED_TABLES)
    if not found.faults and not alike:
        found.faults.append(
            "What is derived from the log does not follow from it. Nothing is lost: fold it again "
            "with 'herdsync verify --refold'."
        )
    return found


class _Checking:
    """Entries are read and folded while threads look at their signatures."""

    def __init__(self, view: View, found: Check, pool: ThreadPoolExecutor) -> None:
        shelf = SqlShelf(view.connection, view.log, view.members)
        self._fold = Fold(shelf, view.members, view.saw)
        self._log = view.log
        self._found = found
        self._pool = pool
        # Of each chain how many entries were looked at, and the last of these with its height.
        self._seen: Counter[int] = Counter()
        self._newest: dict[int, tuple[bytes, int]] = {}

    def run(self) -> None:
        waiting: deque[_Page] = deque()
        stored = self._log.every()
        while page := self._page(stored):
            waiting.append(page)
            if len(waiting) > 1:
                self._tell(waiting.popleft())
        while waiting:
            self._tell(waiting.popleft())
        self._found.entries = self._seen.total()
        for number, one in self._log.chains.all.items():
            if self._seen[number] != one.tip_sequence - one.split:
                self._found.faults.append(
                    "A device's log has a gap. Exchange with the partner to fill it."
                )

    def _page(self, stored: Iterator[Read]) -> _Page | None:
        """Read and fold the next entries, their signatures given to the threads."""
        page = _Page([], [])
        with uncollected():
            while len(page.read) < FOLDED_AT_ONCE and (
                some := list(islice(stored, CHECKED_AT_ONCE))
            ):
                page.read.extend(some)
                page.holding.append(self._pool.submit(_all_hold, some))
            sound = [one.entry for one in page.read if one.entry is not None]
            self._found.folds = self._found.folds and len(sound) == len(page.read)
            if self._found.folds:
                self._take(sound)
        return page if page.read else None

    def _take(self, entries: list[Entry]) -> None:
        try:
            self._fold.take(entries)
        except DamagedFarm:
            # They speak of what is damaged elsewhere, and is told of when its turn comes.
            self._found.folds = False

    def _tell(self, page: _Page) -> None:
        holding = chain(*(one.result() for one in page.holding))
        for read, holds in zip(page.read, holding, strict=True):
            self._seen[read.chain] += 1
            if read.entry is not None:
                self._check_entry(read.entry, read, holds)
                continue
            self._found.bad.append(read.id)
            self._found.faults.append(
                f"Entry {read.id.hex()[:12]} is damaged here: {read.why} "
                "Exchange with the partner: what the partner has is fetched again."
            )

    def _check_entry(self, entry: Entry, read: Read, holds: bool) -> None:
        header, highest = entry.header, -1
        if header.sequence > 0:
            id, highest = self._newest.get(read.chain, (b"", -1))
            if id != header.previous:
                highest = self._height(header.previous)
        for one in header.parents:
            highest = max(highest, self._height(one))
        self._newest[read.chain] = (entry.id, header.height)
        if not header.height == read.height == 1 + highest:
            self._found.faults.append(
                f"Entry {entry.id.hex()[:12]} has a height that does not follow."
            )
        if not holds:
            self._found.bad.append(entry.id)
            self._found.faults.append(
                f"Entry {entry.id.hex()[:12]} carries a signature that does not hold. "
                "Exchange with the partner to fetch a good one."
            )

    def _height(self, id: bytes) -> int:
        place = self._log.place_of(id)
        return place.height if place is not None else -2


def _all_hold(read: list[Read]) -> list[bool]:
    return [one.entry is not None and entry_verifies(one.entry) for one in read]


@contextmanager
def _empty_tables(db: sqlite3.Connection) -> Iterator[None]:
    """Empty tables of the connection's own: they come before those of the file, and vanish."""
    db.execute(f"PRAGMA temp.cache_size=-{WRITER_CACHE_KIB}")
    for statement in DERIVED.split(";"):
        db.execute(statement.replace("CREATE TABLE ", "CREATE TEMP TABLE ").replace(
            "CREATE INDEX ", "CREATE INDEX temp."
        ))  # fmt: skip
    try:
        yield
    finally:
        for table in DERIVED_TABLES:
            db.execute(f"DROP TABLE temp.{table}")


def _alike(connection: sqlite3.Connection, table: str) -> bool:
    """Whether a table in the file holds what the same one of the connection's own does."""
    columns = len(connection.execute(f"PRAGMA main.table_info({table})").fetchall())
    # Keys come first in every one of these tables, so that they are read in the order they lie in.
    order = ", ".join(str(one + 1) for one in range(columns))
    kept, fresh = (
        connection.execute(f"SELECT * FROM {one}.{table} ORDER BY {order}")
        for one in ("main", "temp")
    )
    while rows := kept.fetchmany(COMPARED_AT_ONCE):
        if rows != fresh.fetchmany(COMPARED_AT_ONCE):
            return False
    return fresh.fetchone() is None


def mark(view: View, found: Check) -> None:
    """Note what the checks found; what is damaged is to be read from the carriers once more."""
    if found.bad:
        view.connection.execute("DELETE FROM sighting")
    for id in found.bad:
        view.log.mark(id, BAD)
    view.log.mark_good(found.through, found.entries)
