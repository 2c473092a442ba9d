"""Checking a farm's stored bytes whole: forms, links, signatures, and that what is derived follows."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, field

from herdsync.log.chain import Chain, Known
from herdsync.log.entry import Entry
from herdsync.log.signing import entry_verifies
from herdsync.merge.fold import Fold
from herdsync.store.log_table import BAD, GOOD
from herdsync.store.schema import DERIVED, DERIVED_TABLES
from herdsync.store.sql_shelf import SqlShelf
from herdsync.store.view import View


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
    for id, entry, why in view.log.each(chain.number, chain.split + 1, chain.tip_sequence):
        found.entries += 1
        if entry is not None:
            _check_entry(view, entry, found)
            continue
        found.bad.append(id)
        found.faults.append(
            f"Entry {id.hex()[:12]} is damaged here: {why} "
            "Exchange with the partner: what the partner has is fetched again."
        )
    if found.entries - before != chain.tip_sequence - chain.split:
        found.faults.append("A device's log has a gap. Exchange with the partner to fill it.")


def _derived_follows(view: View) -> bool:
    """Whether a fold of the whole log into empty tables leaves the very rows that are kept."""
    db = view.connection
    # Tables of the connection's own come before those of the file, and vanish with it.
    for statement in DERIVED.split(";"):
        db.execute(statement.replace("CREATE TABLE ", "CREATE TEMP TABLE ").replace(
            "CREATE INDEX ", "CREATE INDEX temp."
        ))  # fmt: skip
    try:
        fresh = SqlShelf(db, view.log, view.members)
        fold = Fold(fresh, view.members, view.saw)
        for entries in view.log.as_stored():
            fold.take(entries)
        return all(_alike(db, table) for table in DERIVED_TABLES)
    finally:
        for table in DERIVED_TABLES:
            db.execute(f"DROP TABLE temp.{table}")


def _alike(connection: sqlite3.Connection, table: str) -> bool:
    """Whether a table in the file holds what the same one of the connection's own does."""
    for one, other in (("main", "temp"), ("temp", "main")):
        sql = f"SELECT * FROM {one}.{table} EXCEPT SELECT * FROM {other}.{table} LIMIT 1"
        if connection.execute(sql).fetchone() is not None:
            return False
    return True


def _check_entry(view: View, entry: Entry, found: Check) -> None:
    heights = [_height(view.log.place_of(one)) for one in entry.header.parents]
    if entry.header.sequence > 0:
        heights.append(_height(view.log.place_of(entry.header.previous)))
    if entry.header.height != 1 + max(heights, default=-1):
        found.faults.append(f"Entry {entry.id.hex()[:12]} has a height that does not follow.")
    holds = entry_verifies(entry)
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
