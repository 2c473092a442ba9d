"""Checking a farm's stored bytes whole: forms, links, signatures, and that what is derived follows."""

from __future__ import annotations

import sqlite3
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import islice

from herdsync import wall
from herdsync.log.chain import Chain, Known
from herdsync.log.entry import Entry
from herdsync.log.signing import entry_verifies
from herdsync.merge.fold import Fold
from herdsync.store.database import WRITER_CACHE_KIB
from herdsync.store.log_table import BAD, GOOD
from herdsync.store.schema import DERIVED, DERIVED_TABLES
from herdsync.store.sql_shelf import SqlShelf
from herdsync.store.view import View

# So many entries go to one thread at a time: the library lets go of the interpreter at each signature.
CHECKED_AT_ONCE = 256
COMPARED_AT_ONCE = 1_000

Found = tuple[bytes, Entry | None, str]
Page = tuple[list[Found], Future[list[bool]]]


@dataclass(slots=True)
class Check:
    """What a check found; ``faults`` are sentences."""

    entries: int = 0
    faults: list[str] = field(default_factory=list)
    bad: list[bytes] = field(default_factory=list)
    good: set[bytes] = field(default_factory=set)


def check(view: View) -> Check:
    """Read every stored byte again and hold it against its hash, its links and its signature."""
    found = Check()
    for chain in sorted(view.log.chains.all.values(), key=lambda chain: chain.number):
        _check_chain(view, chain, found)
    if not found.faults and not _derived_follows(view):
        found.faults.append(
            "What is derived from the log does not follow from it. Nothing is lost: fold it again "
            "with 'herdsync verify --refold'."
        )
    return found


def _check_chain(view: View, chain: Chain, found: Check) -> None:
    before = found.entries
    stored = view.log.each(chain.number, chain.split + 1, chain.tip_sequence)
    for (id, entry, why), holds in _with_signatures(stored):
        found.entries += 1
        if entry is not None:
            _check_entry(view, entry, holds, found)
            continue
        found.bad.append(id)
        found.faults.append(
            f"Entry {id.hex()[:12]} is damaged here: {why} "
            "Exchange with the partner: what the partner has is fetched again."
        )
    if found.entries - before != chain.tip_sequence - chain.split:
        found.faults.append("A device's log has a gap. Exchange with the partner to fill it.")


def _with_signatures(stored: Iterator[Found]) -> Iterator[tuple[Found, bool]]:
    """Each entry with whether its signature holds: threads check some while the next are read."""
    cores = wall.cores()
    with ThreadPoolExecutor(cores) as pool:
        waiting: deque[Page] = deque()
        while page := list(islice(stored, CHECKED_AT_ONCE)):
            waiting.append((page, pool.submit(_all_hold, page)))
            if len(waiting) > cores:
                yield from _told(waiting.popleft())
        for one in waiting:
            yield from _told(one)


def _told(page: Page) -> Iterator[tuple[Found, bool]]:
    return zip(page[0], page[1].result(), strict=True)


def _all_hold(page: list[Found]) -> list[bool]:
    return [entry is not None and entry_verifies(entry) for _, entry, _ in page]


def _derived_follows(view: View) -> bool:
    """Whether a fold of the whole log into empty tables leaves the very rows that are kept."""
    db = view.connection
    db.execute(f"PRAGMA temp.cache_size=-{WRITER_CACHE_KIB}")
    # Tables of the connection's own come before those of the file, and vanish with it.
    for statement in DERIVED.split(";"):
        db.execute(statement.replace("CREATE TABLE ", "CREATE TEMP TABLE ").replace(
            "CREATE INDEX ", "CREATE INDEX temp."
        ))  # fmt: skip
    try:
        fresh = SqlShelf(db, view.log, view.members)
        view.fold_all(Fold(fresh, view.members, view.saw))
        return all(_alike(db, table) for table in DERIVED_TABLES)
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


def _check_entry(view: View, entry: Entry, holds: bool, found: Check) -> None:
    heights = [_height(view.log.place_of(one)) for one in entry.header.parents]
    if entry.header.sequence > 0:
        heights.append(_height(view.log.place_of(entry.header.previous)))
    if entry.header.height != 1 + max(heights, default=-1):
        found.faults.append(f"Entry {entry.id.hex()[:12]} has a height that does not follow.")
    if holds:
        found.good.add(entry.id)
    else:
        found.bad.append(entry.id)
        found.faults.append(
            f"Entry {entry.id.hex()[:12]} carries a signature that does not hold. "
            "Exchange with the partner to fetch a good one."
        )


def _height(place: Known | None) -> int:
    return place.height if place is not None else -2


def mark(view: View, found: Check) -> None:
    """Note what the checks found; what is damaged is to be read from the carriers once more."""
    if found.bad:
        view.connection.execute("DELETE FROM sighting")
    for id in found.bad:
        view.log.mark(id, BAD)
    for id in view.log.unchecked(found.entries):
        if id in found.good:
            view.log.mark(id, GOOD)
