"""The shelf in tables: what the fold derives, beside the log it was derived from."""

from __future__ import annotations

import functools
import hashlib
import sqlite3
from collections.abc import Callable, Collection, Iterable, Sequence
from itertools import chain, islice
from typing import Any

import msgspec

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import BY_HAND, RECORD_BYTES, Entry, glance, keyed_record_id
from herdsync.log.trust import Members
from herdsync.merge.lone import Lone
from herdsync.merge.newest import Changes, Reach, Span
from herdsync.merge.newest import Row as Place
from herdsync.merge.payloads import changed_by
from herdsync.merge.records import Author, Record, Register
from herdsync.merge.shelf import lying
from herdsync.store import statements
from herdsync.store.database import damaged
from herdsync.store.disagreeing import Disagreeing, state_of, told_in
from herdsync.store.log_table import ASKED_AT_ONCE, COLUMNS, LogTable, Row
from herdsync.store.lone_places import LonePlaces
from herdsync.store.read_ahead import Kept, ReadAhead

# A herd of any size today is at hand whole; the milkings of many years are read as they are asked for.
KEPT_AT_HAND = 20_000
# Fewer entries than this for each thing asked of are a short history.
SHORT = 48
# Of a kind of so few records the whole list is kept too.
LISTED_MOST = 5_000

_records = msgspec.msgpack.Decoder(tuple[bytes, list[bytes], str, dict[str, Register]])

# So few records are asked for by their ids at once.
ASKED_ALONE = 4
# More changes than this are not worth telling one by one.
CHANGES_MOST = 500


@functools.cache
def kind_number(kind: str) -> int:
    """The number a kind has in derived tables: it follows from the name, in two bytes."""
    return int.from_bytes(hashlib.sha256(kind.encode()).digest()[:2], "big") & 0x7FFF


_KINDS = {kind_number(kind): kind for kind in CATALOGUE}
assert len(_KINDS) == len(CATALOGUE), "no two kinds share a number"


class SqlShelf(Disagreeing):
    """Derived tables on the log's own connection."""

    def __init__(
        self, connection: sqlite3.Connection, log: LogTable, members: Callable[[], Members]
    ) -> None:
        self._db = connection
        self._log = log
        self._lone = LonePlaces(connection)
        self._members = members
        self._cache: dict[bytes, Record | None] = {}
        self._ahead = ReadAhead(connection, self._cache)
        self._listed: dict[str, list[Record]] = {}
        self._joined: dict[bytes, bytes] | None = None

    def refresh(self) -> None:
        """Forget what was read, for someone else may have written since."""
        self._cache.clear()
        self._ahead.clear()
        self._listed.clear()
        self._joined = None

    def forget(self, records: Iterable[bytes]) -> None:
        """Read these anew at the next asking; nothing else has changed."""
        self._ahead.clear()
        for id in records:
            self._cache.pop(self.canonical(id), None)
            record = self.get(id)
            if record is None:
                self._listed.clear()
            else:
                self._listed.pop(record.kind, None)

    def of_kind(self, kind: str) -> list[Record]:
        """See `Records.of_kind`."""
        found = self._listed.get(kind)
        if found is None:
            found = super().of_kind(kind)
            if len(found) <= LISTED_MOST:
                self._listed[kind] = found
        return list(found)

    def touch(self, record: bytes, entry: Entry) -> None:
        """See `Shelf.touch`: that an entry speaks of the record it begins follows from its id."""
        if record != entry.record_id:
            row = (record, self._log.position(entry.id))
            self._db.execute("INSERT OR IGNORE INTO derived_touch VALUES (?, ?)", row)

    def begin(self, entries: list[tuple[bytes, Entry]]) -> None:
        """See `Shelf.begin`."""
        # Only a key names another record than the entry's own.
        for record, entry in [one for one in entries if one[0] != one[1].id[:RECORD_BYTES]]:
            self.touch(record, entry)

    def touching(self, record: bytes) -> list[Entry]:
        """See `Shelf.touching`."""
        rows = self._db.execute("SELECT pos FROM derived_touch WHERE record = ?", (record,))
        found = self._log.entries([pos for (pos,) in rows])
        own = self._log.of_claim(record)
        if own is not None:
            found += [one for one in self._log.entries([own.pos]) if changed_by(one) == record]
        return found

    def spoken_of(self, records: list[bytes]) -> set[bytes]:
        """See `Shelf.spoken_of`."""
        found: set[bytes] = set()
        for table in ("derived_touch", "derived_tie"):
            few = self._few_in(table, len(records)) if len(records) > ASKED_ALONE else None
            if few is not None:
                found.update(few.intersection(records))
            else:
                found |= self._among(f"SELECT record FROM {table} WHERE record IN ", records)
        return found

    def _few_in(self, table: str, most: int) -> set[bytes] | None:
        """The records a table lists, where they are fewer: few records are spoken of twice."""
        rows = self._db.execute(f"SELECT record FROM {table} LIMIT {most}").fetchall()
        return {one for (one,) in rows} if len(rows) < most else None

    def canonical(self, id: bytes) -> bytes:
        """See `Records.canonical`."""
        return self._joins().get(id, id)

    def ids_of(self, animal: bytes) -> list[bytes]:
        """See `Shelf.ids_of`."""
        return super().ids_of(animal) if self._joins() else [animal]

    def _joins(self) -> dict[bytes, bytes]:
        """Few records are ever joined, and everything read is asked for by its canonical id."""
        if self._joined is None:
            self._joined = dict(
                self._db.execute("SELECT id, record FROM derived_joined").fetchall()
            )
        return self._joined

    def record_ids(self, prefix: bytes, limit: bytes) -> list[bytes]:
        """Ids of records (joined ones too) from ``prefix`` up to and with ``limit``, at most ten."""
        if prefix == limit:
            return [prefix] if self.get(prefix) is not None else []
        sql = (
            "SELECT id FROM derived_record WHERE id BETWEEN ?1 AND ?2 UNION "
            "SELECT id FROM derived_joined WHERE id BETWEEN ?1 AND ?2 UNION "
            "SELECT record FROM derived_touch WHERE record BETWEEN ?1 AND ?2 UNION "
            "SELECT substr(id, 1, 16) FROM entry WHERE substr(id, 1, 16) BETWEEN ?1 AND ?2"
        )
        found = (id for (id,) in self._db.execute(sql, (prefix, limit)))
        return list(islice((id for id in found if self.get(id) is not None), 10))

    def _load(self, record: bytes) -> Record | None:
        if record in self._cache:
            return self._cache[record]
        kept = self._ahead.state(record) or self._db.execute(statements.ONE, (record,)).fetchone()
        if kept[0] is not None:
            return self._read(record, kept)
        rows = [Row(*kept[1:])] if kept[1] is not None else self._spoken_at(record)
        found = map(self._alone_in, rows)
        return self._remember(
            record, next((one for one in found if one and one.id == record), None)
        )

    def _there(self, id: bytes) -> Record:
        cached = self._cache.get(id)
        if cached is not None:
            return cached
        kept = self._ahead.state(id) or self._db.execute(statements.ONE, (id,)).fetchone()
        return self._read(id, kept)

    def _read(self, id: bytes, kept: Kept) -> Record:
        """A record from its place beside what it names: that it is kept is known."""
        cached = self._cache.get(id)
        if cached is None:
            state, *row = kept
            if state is not None:
                cached = Record(*told_in(_records, state))
            elif row[0] is not None:
                cached = self._alone(Row(*row))
            else:
                cached = self._load(id)
            if cached is None:
                raise damaged("what is derived names a record that is not here")
            self._remember(id, cached)
        return cached

    def _spoken_at(self, record: bytes) -> list[Row]:
        """The entries that speak of a record whose id is no entry's: its key names it."""
        sql = f"SELECT {COLUMNS} FROM derived_touch LEFT JOIN entry USING (pos) WHERE record = ?"
        return [Row(*row) for row in self._db.execute(sql, (record,)).fetchall()]

    def _alone_in(self, row: Row) -> Lone | None:
        """The record that an entry makes, where it does by itself."""
        self._log.sound(row)
        kind = kind_number(glance(row.packed)[0].kind)
        return self._alone(row) if self._lone.has(kind, row.pos) else None

    def _alone(self, row: Row) -> Lone:
        self._log.sound(row)
        told, body = glance(row.packed)
        device = self._log.device(row)
        member = self._members().known.get(device)
        keeper = member.keeper if member is not None else ""
        by_hand = bool(told.flags & BY_HAND)
        author = Author(device, keeper, body.by or keeper, told.clock, told.height, by_hand)
        key = body.payload.get("key")
        claim = row.id[:RECORD_BYTES]
        id = claim if key is None else keyed_record_id(self._log.farm(), told.kind, key)
        return Lone(id, told.kind, body.payload["fields"], author, claim)

    def put_new(self, records: list[Lone]) -> None:
        """See `Shelf.put_new`."""
        naming = []
        kinds = [kind_number(record.kind) for record in records]
        places = self._log.positions([record.entry for record in records])
        for record, kind in zip(records, kinds, strict=True):
            at, refs = lying(record)
            for ref in refs:
                naming.append((ref, kind, at, record.id))
        self._have(records)
        self._lone.add(zip(kinds, places, strict=True))
        # In the order of the table: what lies together is written together.
        self._db.executemany("INSERT INTO derived_naming VALUES (?, ?, ?, ?)", sorted(naming))

    def _have(self, records: list[Lone]) -> None:
        """Keep new records at hand, within bounds."""
        if len(self._cache) + len(records) > KEPT_AT_HAND:
            self._cache.clear()
        self._ahead.clear()
        self._cache |= {record.id: record for record in records[-KEPT_AT_HAND:]}
        for kind in {record.kind for record in records}:
            self._listed.pop(kind, None)

    def _keep(self, record: Record, at: int, refs: set[bytes]) -> None:
        kind = kind_number(record.kind)
        row = (record.id, kind, state_of(record.parts))
        self._db.execute("INSERT INTO derived_record VALUES (?, ?, ?)", row)
        joined = [(one, record.id) for one in record.ids if one != record.id]
        if joined:
            self._db.executemany("INSERT OR REPLACE INTO derived_joined VALUES (?, ?)", joined)
            self._joined = None
        naming = [(ref, kind, at, record.id) for ref in refs]
        self._db.executemany("INSERT INTO derived_naming VALUES (?, ?, ?, ?)", naming)
        self._ahead.forget(record.id)
        self._remember(record.id, record)
        self._listed.pop(record.kind, None)

    def _forget(self, record: Record, at: int, refs: set[bytes]) -> None:
        kind = kind_number(record.kind)
        if isinstance(record, Lone):
            self._lone.drop(kind, self._log.position(record.entry))
        self._db.execute("DELETE FROM derived_record WHERE id = ?", (record.id,))
        if len(record.ids) > 1:
            self._db.execute("DELETE FROM derived_joined WHERE record = ?", (record.id,))
            self._joined = None
        sql = "DELETE FROM derived_naming WHERE ref = ? AND kind = ? AND at = ? AND record = ?"
        self._db.executemany(sql, [(ref, kind, at, record.id) for ref in refs])
        self._ahead.forget(record.id)
        self._remember(record.id, None)
        self._listed.pop(record.kind, None)

    def _kept_of_kind(self, kind: str) -> Iterable[Record]:
        number = (kind_number(kind),)
        sql = "SELECT id, state FROM derived_record WHERE kind = ?"
        found: list[Record] = [
            self._read(id, (state,)) for id, state in self._db.execute(sql, number)
        ]
        alone = self._log.rows(self._lone.of_kind(number[0]))
        return found + [self._at_hand(row) for row in alone]

    def _at_hand(self, row: Row) -> Record:
        """A lone record from its entry, unless it was read before."""
        cached = self._cache.get(row.id[:RECORD_BYTES])
        if cached is None:
            cached = self._alone(row)
            self._remember(cached.id, cached)
        return cached

    def every_record(self, most: int = -1) -> Iterable[Record]:
        """See `Shelf.every_record`."""
        places = self._lone.of_kind() if most < 0 else self._lone.highest(most)
        return self.composed() + [self._alone(row) for row in self._log.rows(places)]

    def composed(self) -> list[Record]:
        """All records that took more than one vouched entry to make, in any order."""
        rows = self._db.execute("SELECT state FROM derived_record")
        return [Record(*told_in(_records, state)) for (state,) in rows]

    def count(self) -> int:
        """How many records are kept."""
        composed = self._db.execute("SELECT count(*) FROM derived_record").fetchone()[0]
        return self._lone.count() + int(composed)

    def _kept_naming(self, ids: list[bytes], kind: str | None) -> Iterable[Record]:
        number = kind_number(kind) if kind is not None else None
        rows = (row for one in ids for row in self._db.execute(statements.NAMING, (one, number)))
        return self._placed(rows)

    def _kept_within(self, ids: list[bytes], kind: str, reach: Reach) -> Iterable[Record]:
        told = (kind_number(kind), reach.first, reach.last, *reach.beside)
        rows = {row for one in ids for row in self._db.execute(statements.WITHIN, (one, *told))}
        return [self._there(id) for _, id in sorted(rows)]

    def rows_between(self, spans: Sequence[Span]) -> list[list[Place]]:
        """See `Shelf.rows_between`."""
        found: list[set[Place]] = [set() for _ in spans]
        asked = [
            (place, one, kind_number(kind), first, last)
            for place, (id, kind, first, last) in enumerate(spans)
            for one in self.ids_of(id)
        ]
        for begin in range(0, len(asked), ASKED_AT_ONCE):
            some = asked[begin : begin + ASKED_AT_ONCE]
            told = self._db.execute(statements.between(len(some)), list(chain(*some)))
            for place, at, id in told:
                found[place].add((at, id))
        return [sorted(rows) for rows in found]

    def any_naming(self, ids: Iterable[bytes], kinds: Iterable[str]) -> set[bytes]:
        """See `Shelf.any_naming`."""
        numbers = ", ".join(str(kind_number(kind)) for kind in kinds)
        sql = f"SELECT DISTINCT ref FROM derived_naming WHERE kind IN ({numbers}) AND ref IN "
        return self._among(sql, list(ids))

    def _among(self, sql: str, ids: list[bytes]) -> set[bytes]:
        """What a statement finds that ends in a list of these ids, so many asked for at once."""
        found: set[bytes] = set()
        for begin in range(0, len(ids), ASKED_AT_ONCE):
            asked = ids[begin : begin + ASKED_AT_ONCE]
            places = f"({', '.join('?' * len(asked))})"
            found.update(one for (one,) in self._db.execute(sql + places, asked))
        return found

    def _placed(self, rows: Iterable[tuple[Any, ...]]) -> list[Record]:
        """Records in the order of their places, once each."""
        places = {(at, id): kept for at, id, *kept in rows}
        return [self._read(id, places[at, id]) for at, id in sorted(places)]

    def _remember(self, id: bytes, record: Record | None) -> Record | None:
        """Keep what was read at hand, within bounds."""
        if len(self._cache) >= KEPT_AT_HAND:
            self._cache.clear()
        self._cache[id] = record
        return record

    def _newest_rows(self, ids: list[bytes], kind: str, most: int) -> list[Place]:
        found = set()
        for one in ids:
            for at, id, *kept in self._db.execute(
                statements.NEWEST, (one, kind_number(kind), most)
            ):
                self._read(id, kept)
                found.add((at, id))
        return sorted(found)

    def _recent_rows(self, ids: list[bytes], most: int) -> dict[str, list[Place]]:
        told = [self._ahead.newest(one, most) for one in ids]
        if len(told) == 1:
            return {_KINDS[kind]: rows for kind, rows in told[0].items()}
        kinds = {kind for one in told for kind in one}
        every = {kind: {row for one in told for row in one.get(kind, ())} for kind in kinds}
        return {_KINDS[kind]: sorted(rows) for kind, rows in every.items()}

    def read_ahead(self, ids: Sequence[bytes], most: int, every: Collection[str]) -> None:
        """See `Records.read_ahead`."""
        # Of joined records more than one id is asked for: few, and read when they are.
        alone = [one for one in ids if self.ids_of(one) == [one]]
        short = self._log.newest() < SHORT * len(alone)
        self._ahead.read(alone, most + 1, {kind_number(kind) for kind in every}, short=short)

    def changes(self, since: int) -> Changes:
        """See `Records.changes`: the log tells them, whichever connection wrote."""
        mark = self._log.newest()
        if not 0 <= since <= mark or mark - since > CHANGES_MOST:
            return Changes(mark, None)
        rows = self._db.execute("SELECT pos FROM entry WHERE pos > ?", (since,))
        entries = self._log.entries([pos for (pos,) in rows])
        changed = [changed_by(entry) for entry in entries]
        unread = {one.entry for one in self.every_unread()} if entries else set()
        if None in changed or any(entry.id in unread for entry in entries):
            return Changes(mark, None)
        records = frozenset(one for one in changed if one)
        # A verdict that was here before its record takes others with it.
        tied = any(self.ties_of(one) for one in records)
        return Changes(mark, None if tied else records)
