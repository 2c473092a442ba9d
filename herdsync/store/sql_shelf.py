"""The shelf in tables: what the fold derives, beside the log it was derived from."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from typing import TypeVar
from zlib import crc32

import msgspec

from herdsync.faults import DamagedFarm
from herdsync.log.entry import Entry
from herdsync.log.trust import AUTHORITY_VERBS
from herdsync.merge.conflicts import Conflict
from herdsync.merge.payloads import DIFFERENT, SAME, Unreadable, target_of
from herdsync.merge.records import Changes, Record, Row
from herdsync.merge.shelf import Shelf, Unread

T = TypeVar("T")
# A herd of any size today is at hand whole; the milkings of many years are read as they are asked for.
KEPT_AT_HAND = 20_000

_records = msgspec.msgpack.Decoder(Record)
_conflicts = msgspec.msgpack.Decoder(Conflict)
_encode = msgspec.msgpack.Encoder(order="deterministic").encode
_SUM_BYTES = 4
_unread = msgspec.msgpack.Decoder(tuple[str, bool, list[bytes]])

# Seeks from kind to kind and takes the end of each: the same cost however long a history is. The
# newest of each kind comes with its state, for it is nearly always asked for.
_RECENT = """
WITH RECURSIVE told(kind) AS (
    SELECT min(kind) FROM derived_naming WHERE ref = ?1
    UNION ALL
    SELECT (SELECT min(kind) FROM derived_naming WHERE ref = ?1 AND kind > told.kind)
    FROM told WHERE told.kind IS NOT NULL
)
SELECT n.kind, n.at, n.record, CASE
    WHEN n.at = (SELECT max(at) FROM derived_naming WHERE ref = ?1 AND kind = told.kind)
    THEN (SELECT state FROM derived_record WHERE id = n.record) END
FROM told
JOIN derived_naming n ON n.ref = ?1 AND n.kind = told.kind AND n.at >= coalesce((
    SELECT at FROM derived_naming WHERE ref = ?1 AND kind = told.kind
    ORDER BY at DESC LIMIT 1 OFFSET ?2 - 1
), -9223372036854775808)
"""
_NEWEST = """
SELECT n.at, n.record, r.state FROM derived_naming n JOIN derived_record r ON r.id = n.record
WHERE n.ref = ?1 AND n.kind = ?2 ORDER BY n.at DESC, n.record DESC LIMIT ?3
"""

_WITHIN = """
SELECT n.at, n.record, r.state FROM derived_naming n JOIN derived_record r ON r.id = n.record
WHERE n.ref = ?1 AND n.kind = ?2 AND n.at BETWEEN ?3 AND ?4
"""

# More changes than this are not worth telling one by one.
CHANGES_MOST = 500


class SqlShelf(Shelf):
    """Derived tables on one connection. ``entries`` loads entries by position, ``position`` finds one."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        entries: Callable[[list[int]], list[Entry]],
        position: Callable[[bytes], int],
    ) -> None:
        self._db = connection
        self._entries = entries
        self._position = position
        self._cache: dict[bytes, Record | None] = {}
        self._unread: dict[bytes, bytes] = {}
        self._joined: dict[bytes, bytes] | None = None

    def refresh(self) -> None:
        """Forget what was read, for someone else may have written since."""
        self._cache.clear()
        self._unread.clear()
        self._joined = None

    def touch(self, record: bytes, entry: Entry) -> None:
        """See `Shelf.touch`."""
        row = (record, self._position(entry.id))
        self._db.execute("INSERT OR IGNORE INTO derived_touch VALUES (?, ?)", row)

    def touching(self, record: bytes) -> list[Entry]:
        """See `Shelf.touching`."""
        rows = self._db.execute("SELECT pos FROM derived_touch WHERE record = ?", (record,))
        return self._entries([pos for (pos,) in rows])

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
        rows = {(scope, one.id): _state(one) for one in conflicts}
        self._db.executemany(
            "INSERT INTO derived_conflict VALUES (?, ?, ?)",
            [(scope, id, state) for (scope, id), state in rows.items()],
        )

    def put_between(self, conflicts: Iterable[Conflict]) -> None:
        """See `Shelf.put_between`."""
        for one in conflicts:
            row = (one.id, _state(one))
            self._db.execute("INSERT OR REPLACE INTO derived_between VALUES (?, ?)", row)
            rows = [(record, one.id) for record in one.records]
            self._db.executemany("INSERT OR IGNORE INTO derived_beside VALUES (?, ?)", rows)

    def between(self, record: bytes) -> list[Conflict]:
        """See `Shelf.between`."""
        sql = (
            "SELECT state FROM derived_beside JOIN derived_between ON id = conflict"
            " WHERE record = ?"
        )
        return [_told(_conflicts, state) for (state,) in self._db.execute(sql, (record,))]

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
        rows = [(scope, u.entry, _state((u.why, u.critical, u.subjects))) for u in unread]
        self._db.executemany("INSERT INTO derived_unread VALUES (?, ?, ?)", rows)

    def every_unread(self) -> list[Unread]:
        """See `Shelf.every_unread`."""
        rows = self._db.execute("SELECT entry, told FROM derived_unread ORDER BY entry")
        return [Unread(entry, *_told(_unread, told)) for entry, told in rows]

    def canonical(self, id: bytes) -> bytes:
        """See `Records.canonical`."""
        if self._joined is None:
            # Few records are ever joined, and everything read is asked for by its canonical id.
            self._joined = dict(
                self._db.execute("SELECT id, record FROM derived_joined").fetchall()
            )
        return self._joined.get(id, id)

    def record_ids(self, prefix: bytes, limit: bytes) -> list[bytes]:
        """Ids of records (joined ones too) from ``prefix`` up to and with ``limit``, at most ten."""
        sql = (
            "SELECT id FROM derived_record WHERE id BETWEEN ?1 AND ?2 UNION "
            "SELECT id FROM derived_joined WHERE id BETWEEN ?1 AND ?2 LIMIT 10"
        )
        return [id for (id,) in self._db.execute(sql, (prefix, limit))]

    def _load(self, record: bytes) -> Record | None:
        if record in self._cache:
            return self._cache[record]
        state = self._unread.pop(record, None)
        if state is None:
            sql = "SELECT state FROM derived_record WHERE id = ?"
            row = self._db.execute(sql, (record,)).fetchone()
            state = row[0] if row else None
        return self._remember(record, None if state is None else _told(_records, state))

    def _keep(self, record: Record, at: int, refs: set[bytes]) -> None:
        row = (record.id, record.kind, _state(record))
        self._db.execute("INSERT INTO derived_record VALUES (?, ?, ?)", row)
        joined = [(one, record.id) for one in record.ids if one != record.id]
        if joined:
            self._db.executemany("INSERT OR REPLACE INTO derived_joined VALUES (?, ?)", joined)
            self._joined = None
        naming = [(ref, at, record.id, record.kind) for ref in refs]
        self._db.executemany("INSERT INTO derived_naming VALUES (?, ?, ?, ?)", naming)
        self._remember(record.id, record)

    def _forget(self, record: Record, at: int, refs: set[bytes]) -> None:
        self._db.execute("DELETE FROM derived_record WHERE id = ?", (record.id,))
        if len(record.ids) > 1:
            self._db.execute("DELETE FROM derived_joined WHERE record = ?", (record.id,))
            self._joined = None
        sql = "DELETE FROM derived_naming WHERE ref = ? AND kind = ? AND at = ? AND record = ?"
        self._db.executemany(sql, [(ref, record.kind, at, record.id) for ref in refs])
        self._remember(record.id, None)

    def _kept_of_kind(self, kind: str) -> Iterable[Record]:
        sql = "SELECT id, state FROM derived_record WHERE kind = ?"
        return [self._read(id, state) for id, state in self._db.execute(sql, (kind,))]

    def every_record(self) -> Iterable[Record]:
        """See `Shelf.every_record`."""
        rows = self._db.execute("SELECT state FROM derived_record")
        return [_told(_records, state) for (state,) in rows]

    def _kept_naming(self, ids: list[bytes], kind: str | None) -> Iterable[Record]:
        places: dict[tuple[int, bytes], bytes] = {}
        sql = (
            "SELECT n.at, r.id, r.state FROM derived_naming n JOIN derived_record r"
            " ON r.id = n.record WHERE n.ref = ?1 AND (?2 IS NULL OR n.kind = ?2)"
        )
        for one in ids:
            for at, id, state in self._db.execute(sql, (one, kind)):
                places[(at, id)] = state
        return [self._read(id, state) for (_, id), state in sorted(places.items())]

    def _kept_within(self, ids: list[bytes], kind: str, first: int, last: int) -> Iterable[Record]:
        rows = {
            (at, id): state
            for one in ids
            for at, id, state in self._db.execute(_WITHIN, (one, kind, first, last))
        }
        return [self._read(id, state) for (_, id), state in sorted(rows.items())]

    def _remember(self, id: bytes, record: Record | None) -> Record | None:
        """Keep what was read at hand, within bounds."""
        if len(self._cache) >= KEPT_AT_HAND:
            self._cache.clear()
            self._unread.clear()
        self._cache[id] = record
        self._unread.pop(id, None)
        return record

    def _read(self, id: bytes, state: bytes) -> Record:
        cached = self._cache.get(id)
        if cached is None:
            cached = _told(_records, state)
            self._remember(id, cached)
        return cached

    def _newest_rows(self, ids: list[bytes], kind: str, most: int) -> list[Row]:
        rows = set()
        for one in ids:
            for at, id, state in self._db.execute(_NEWEST, (one, kind, most)):
                self._read(id, state)
                rows.add((at, id))
        return sorted(rows)

    def _recent_rows(self, ids: list[bytes], most: int) -> dict[str, list[Row]]:
        by_kind: dict[str, set[Row]] = {}
        for one in ids:
            for kind, at, id, state in self._db.execute(_RECENT, (one, most)):
                by_kind.setdefault(kind, set()).add((at, id))
                if state is not None and id not in self._cache:
                    self._unread[id] = state
        return {kind: sorted(rows) for kind, rows in by_kind.items()}

    def changes(self, since: int) -> Changes:
        """See `Records.changes`: the log tells them, whichever connection wrote."""
        mark = self._db.execute("SELECT coalesce(max(pos), 0) FROM entry").fetchone()[0]
        if not 0 <= since <= mark or mark - since > CHANGES_MOST:
            return Changes(mark, None)
        rows = self._db.execute("SELECT pos FROM entry WHERE pos > ?", (since,))
        entries = self._entries([pos for (pos,) in rows])
        changed = [_changed_by(entry) for entry in entries]
        unread = {one.entry for one in self.every_unread()} if entries else set()
        if None in changed or any(entry.id in unread for entry in entries):
            return Changes(mark, None)
        return Changes(mark, frozenset(one for one in changed if one))

    def _conflicts(self) -> Iterable[Conflict]:
        rows = self._db.execute(
            "SELECT state FROM derived_conflict UNION ALL SELECT state FROM derived_between"
        )
        return [_told(_conflicts, state) for (state,) in rows]

    def _accepted(self) -> dict[bytes, bytes]:
        return dict(self._db.execute("SELECT conflict, entry FROM derived_accepted").fetchall())


def _state(value: object) -> bytes:
    """A derived value's bytes behind their checksum: a bit that turns must not shorten a hold."""
    told = _encode(value)
    return crc32(told).to_bytes(_SUM_BYTES, "big") + told


def _told(decoder: msgspec.msgpack.Decoder[T], state: bytes | None) -> T:
    told = state[_SUM_BYTES:] if state is not None else b""
    if state is None or state[:_SUM_BYTES] != crc32(told).to_bytes(_SUM_BYTES, "big"):
        raise DamagedFarm(
            "What is derived from the log is damaged here; the log itself may be whole.",
            "Fold it again with 'herdsync verify --refold'.",
        )
    return decoder.decode(told)


def _changed_by(entry: Entry) -> bytes | None:
    """The one record an entry changes, nothing for an acceptance; None where it may be others too."""
    verb = entry.header.verb
    if verb in AUTHORITY_VERBS or verb in (SAME, DIFFERENT):
        return None
    try:
        return target_of(entry) or b""
    except Unreadable:
        return None
