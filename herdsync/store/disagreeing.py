"""The half of the shelf in tables that keeps disagreements, verdicts and what could not be read."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import TypeVar
from zlib import crc32

import msgspec

from herdsync.faults import DamagedFarm
from herdsync.merge.conflicts import Conflict
from herdsync.merge.shelf import Shelf, Unread

T = TypeVar("T")

_conflicts = msgspec.msgpack.Decoder(Conflict)
_unread = msgspec.msgpack.Decoder(tuple[str, bool, list[bytes]])
_encode = msgspec.msgpack.Encoder(order="deterministic").encode
_SUM_BYTES = 4


class Disagreeing(Shelf):
    """Tables of verdicts, disagreements, acceptances and unreadable entries on one connection."""

    _db: sqlite3.Connection

    def tie(self, tie: bytes, a: bytes, b: bytes) -> None:
        """See `Shelf.tie`."""
        rows = [(one, tie, a, b) for one in (a, b)]
        self._db.executemany("INSERT OR REPLACE INTO derived_tie VALUES (?, ?, ?, ?)", rows)

    def ties_of(self, record: bytes) -> list[tuple[bytes, bytes, bytes]]:
        """See `Shelf.ties_of`."""
        sql = "SELECT tie, a, b FROM derived_tie WHERE record = ? ORDER BY tie, a, b"
        return self._db.execute(sql, (record,)).fetchall()

    def put_conflicts(self, scope: bytes, conflicts: list[Conflict]) -> None:
        """See `Shelf.put_conflicts`."""
        self._db.execute("DELETE FROM derived_conflict WHERE scope = ?", (scope,))
        rows = {(scope, one.id): state_of(one) for one in conflicts}
        self._db.executemany(
            "INSERT INTO derived_conflict VALUES (?, ?, ?)",
            [(scope, id, state) for (scope, id), state in rows.items()],
        )

    def put_between(self, conflicts: Iterable[Conflict]) -> None:
        """See `Shelf.put_between`."""
        for one in conflicts:
            row = (one.id, state_of(one))
            self._db.execute("INSERT OR REPLACE INTO derived_between VALUES (?, ?)", row)
            rows = [(record, one.id) for record in one.records]
            self._db.executemany("INSERT OR IGNORE INTO derived_beside VALUES (?, ?)", rows)

    def between(self, record: bytes) -> list[Conflict]:
        """See `Shelf.between`."""
        sql = (
            "SELECT state FROM derived_beside JOIN derived_between ON id = conflict"
            " WHERE record = ?"
        )
        return [told_in(_conflicts, state) for (state,) in self._db.execute(sql, (record,))]

    def drop_between(self, conflicts: Iterable[Conflict]) -> None:
        """See `Shelf.drop_between`."""
        for one in conflicts:
            self._db.execute("DELETE FROM derived_between WHERE id = ?", (one.id,))
            rows = [(record, one.id) for record in one.records]
            sql = "DELETE FROM derived_beside WHERE record = ? AND conflict = ?"
            self._db.executemany(sql, rows)

    def accept(self, conflict: bytes, entry: bytes) -> None:
        """See `Shelf.accept`."""
        self._db.execute(
            "INSERT INTO derived_accepted VALUES (?, ?) ON CONFLICT (conflict)"
            " DO UPDATE SET entry = min(entry, excluded.entry)",
            (conflict, entry),
        )

    def put_unread(self, scope: bytes, unread: list[Unread]) -> None:
        """See `Shelf.put_unread`."""
        self._db.execute("DELETE FROM derived_unread WHERE scope = ?", (scope,))
        rows = [(scope, u.entry, state_of((u.why, u.critical, u.subjects))) for u in unread]
        self._db.executemany("INSERT INTO derived_unread VALUES (?, ?, ?)", rows)

    def every_unread(self) -> list[Unread]:
        """See `Shelf.every_unread`."""
        rows = self._db.execute("SELECT entry, told FROM derived_unread ORDER BY entry")
        return [Unread(entry, *told_in(_unread, told)) for entry, told in rows]

    def _in_scope(self, scope: bytes) -> Iterable[Conflict]:
        rows = self._db.execute("SELECT state FROM derived_conflict WHERE scope = ?", (scope,))
        return [told_in(_conflicts, state) for (state,) in rows]

    def _conflicts(self) -> Iterable[Conflict]:
        rows = self._db.execute(
            "SELECT state FROM derived_conflict UNION ALL SELECT state FROM derived_between"
        )
        return [told_in(_conflicts, state) for (state,) in rows]

    def _accepted(self) -> dict[bytes, bytes]:
        return dict(self._db.execute("SELECT conflict, entry FROM derived_accepted").fetchall())


def state_of(value: object) -> bytes:
    """A derived value's bytes behind their checksum: a bit that turns must not shorten a hold."""
    told = _encode(value)
    return crc32(told).to_bytes(_SUM_BYTES, "big") + told


def told_in(decoder: msgspec.msgpack.Decoder[T], state: bytes | None) -> T:
    """The value that `state_of` made these bytes of. Raises DamagedFarm where they are not those."""
    told = state[_SUM_BYTES:] if state is not None else b""
    if state is None or state[:_SUM_BYTES] != crc32(told).to_bytes(_SUM_BYTES, "big"):
        raise DamagedFarm(
            "What is derived from the log is damaged here; the log itself may be whole.",
            "Fold it again with 'herdsync verify --refold'.",
        )
    return decoder.decode(told)
