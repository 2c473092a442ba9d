"""Where the entries lie that are a record each: positions by kind, 256 to a row, a byte for each.

A row follows from the set of its positions alone, whatever order they came in.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator

from herdsync.store.database import damaged

ROW = 256


class LonePlaces:
    """The table ``derived_lone`` on one connection. Kinds are numbers."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._db = connection

    def add(self, found: Iterable[tuple[int, int]]) -> None:
        """Note (kind, position) of more entries."""
        more: dict[tuple[int, int], list[int]] = {}
        for kind, pos in found:
            more.setdefault((kind, pos // ROW), []).append(pos % ROW)
        rows = [
            (kind, row, bytes(sorted({*self._row(kind, row), *places})))
            for (kind, row), places in sorted(more.items())
        ]
        self._db.executemany("INSERT OR REPLACE INTO derived_lone VALUES (?, ?, ?)", rows)

    def drop(self, kind: int, pos: int) -> None:
        """Forget an entry that is no longer a record by itself."""
        left = bytes(one for one in self._row(kind, pos // ROW) if one != pos % ROW)
        sql = "INSERT OR REPLACE INTO derived_lone VALUES (?, ?, ?)"
        told: tuple[object, ...] = (kind, pos // ROW, left)
        if not left:
            sql, told = "DELETE FROM derived_lone WHERE kind = ? AND row = ?", told[:2]
        self._db.execute(sql, told)

    def has(self, kind: int, pos: int) -> bool:
        """Whether the entry at a position is a record of the kind by itself."""
        return pos % ROW in self._row(kind, pos // ROW)

    def of_kind(self, kind: int | None = None) -> Iterator[int]:
        """Positions of a kind in order, or of all kinds."""
        of = "" if kind is None else f" WHERE kind = {kind}"
        for row, places in self._db.execute(f"SELECT row, places FROM derived_lone{of}"):
            if type(row) is not int:
                raise damaged("a list of entries has no place")
            yield from [row * ROW + place for place in _sound(places)]

    def highest(self, most: int) -> list[int]:
        """Positions of the so many of greatest height, and of all others of the least height of these."""
        alone = set(self.of_kind())
        found: list[int] = []
        least = 0
        for pos, height in self._db.execute("SELECT pos, height FROM entry ORDER BY height DESC"):
            if pos not in alone:
                continue
            if len(found) >= most and height < least:
                break
            found.append(pos)
            least = height
        return found

    def count(self) -> int:
        """How many there are."""
        sql = "SELECT coalesce(sum(length(places)), 0) FROM derived_lone"
        return int(self._db.execute(sql).fetchone()[0])

    def _row(self, kind: int, row: int) -> bytes:
        sql = "SELECT places FROM derived_lone WHERE kind = ? AND row = ?"
        found = self._db.execute(sql, (kind, row)).fetchone()
        return _sound(found[0]) if found else b""


def _sound(places: object) -> bytes:
    if type(places) is not bytes:
        raise damaged("a list of entries is not one")
    return places
