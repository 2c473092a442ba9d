"""A farm's file laid out: a new one, and one that an earlier version laid out brought to this layout.

The log is carried over row by row, every byte of it; what is derived is folded again.
"""

from __future__ import annotations

import sqlite3
from zlib import crc32

from herdsync.store.schema import DERIVED, ENTRY, LAYOUT, LOG
from herdsync.store.view import View

CURRENT = str(LAYOUT).encode()
EARLIER = frozenset(str(number).encode() for number in range(1, LAYOUT))


def lay_out(connection: sqlite3.Connection, farm: bytes, device: bytes) -> None:
    """Make the tables of a new farm's file."""
    for statement in (LOG + DERIVED).split(";"):
        connection.execute(statement)
    about = [("farm", farm), ("device", device), ("layout", CURRENT)]
    connection.executemany("INSERT INTO about VALUES (?, ?)", about)


def carry_over(view: View) -> None:
    """Bring an earlier layout to this one, inside its caller's transaction."""
    # Another process may have done it while this one waited for its turn.
    if view.about("layout") != CURRENT:
        _with_sums(view.connection)
        _with_bad_alone(view.connection)
        view.refold()
        view.note("layout", CURRENT)


def _with_sums(connection: sqlite3.Connection) -> None:
    """Entries each with the checksum of its bytes, since the third layout."""
    columns = {row[1] for row in connection.execute("PRAGMA table_info(entry)")}
    if "sum" in columns:
        return
    connection.create_function("crc32", 1, crc32, deterministic=True)
    connection.execute("ALTER TABLE entry RENAME TO entry_before")
    for statement in ENTRY.split(";"):
        connection.execute(statement)
    connection.execute(
        "INSERT INTO entry SELECT pos, id, chain, seq, height, packed, crc32(packed), checked"
        " FROM entry_before ORDER BY pos"
    )
    connection.execute("DROP TABLE entry_before")


def _with_bad_alone(connection: sqlite3.Connection) -> None:
    """An index of damaged entries, since the fourth layout; before, of those never checked too."""
    connection.execute("DROP INDEX IF EXISTS entry_unchecked")
    connection.execute("CREATE INDEX IF NOT EXISTS entry_bad ON entry (checked) WHERE checked = -1")
