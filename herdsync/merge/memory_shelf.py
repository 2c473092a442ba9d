"""A shelf of dictionaries: for tests and for the farm as an earlier entry knew it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Sequence

from herdsync.log.entry import Entry
from herdsync.merge.conflicts import Conflict
from herdsync.merge.newest import Changes, Reach, Row, Span
from herdsync.merge.records import Record
from herdsync.merge.shelf import Shelf, Unread


class MemoryShelf(Shelf):
    """A shelf of dictionaries: for tests and for the farm as an earlier entry knew it."""

    def __init__(self) -> None:
        self._touching: dict[bytes, dict[bytes, Entry]] = {}
        self._ties: dict[bytes, dict[bytes, tuple[bytes, bytes, bytes]]] = {}
        self._records: dict[bytes, Record] = {}
        self._standing_for: dict[bytes, bytes] = {}
        self._by_kind: dict[str, set[bytes]] = {}
        self._by_name: dict[bytes, dict[str, list[tuple[int, bytes]]]] = {}
        self._by_scope: dict[bytes, list[Conflict]] = {}
        self._between: dict[bytes, dict[bytes, Conflict]] = {}
        self._accepting: dict[bytes, bytes] = {}
        self._unread: dict[bytes, list[Unread]] = {}
        self._changed: list[bytes] = []

    def touch(self, record: bytes, entry: Entry) -> None:
        """See `Shelf.touch`."""
        self._touching.setdefault(record, {})[entry.id] = entry

    def begin(self, entries: list[tuple[bytes, Entry]]) -> None:
        """See `Shelf.begin`."""
        for record, entry in entries:
            self.touch(record, entry)

    def touching(self, record: bytes) -> list[Entry]:
        """See `Shelf.touching`."""
        return list(self._touching.get(record, {}).values())

    def spoken_of(self, records: list[bytes]) -> set[bytes]:
        """See `Shelf.spoken_of`."""
        return {one for one in records if one in self._touching or one in self._ties}

    def tie(self, tie: bytes, a: bytes, b: bytes) -> None:
        """See `Shelf.tie`."""
        for one in (a, b):
            self._ties.setdefault(one, {})[tie] = (tie, a, b)

    def ties_of(self, record: bytes) -> list[tuple[bytes, bytes, bytes]]:
        """See `Shelf.ties_of`."""
        return sorted(self._ties.get(record, {}).values())

    def put_conflicts(self, scope: bytes, conflicts: list[Conflict]) -> None:
        """See `Shelf.put_conflicts`."""
        self._by_scope[scope] = conflicts

    def put_between(self, conflicts: Iterable[Conflict]) -> None:
        """See `Shelf.put_between`."""
        for one in conflicts:
            for record in one.records:
                self._between.setdefault(record, {})[one.id] = one

    def between(self, record: bytes) -> list[Conflict]:
        """See `Shelf.between`."""
        return list(self._between.get(record, {}).values())

    def drop_between(self, conflicts: Iterable[Conflict]) -> None:
        """See `Shelf.drop_between`."""
        for one in conflicts:
            for record in one.records:
                self._between[record].pop(one.id, None)

    def accept(self, conflict: bytes, entry: bytes) -> None:
        """See `Shelf.accept`."""
        self._accepting[conflict] = min(entry, self._accepting.get(conflict, entry))

    def put_unread(self, scope: bytes, unread: list[Unread]) -> None:
        """See `Shelf.put_unread`."""
        self._unread[scope] = unread
        self._changed += [id for one in unread for id in one.subjects]

    def every_unread(self) -> list[Unread]:
        """See `Shelf.every_unread`."""
        found = {one.entry: one for unread in self._unread.values() for one in unread}
        return [found[entry] for entry in sorted(found)]

    def canonical(self, id: bytes) -> bytes:
        """See `Records.canonical`."""
        return self._standing_for.get(id, id)

    def _load(self, record: bytes) -> Record | None:
        return self._records.get(record)

    def changes(self, since: int) -> Changes:
        """See `Records.changes`."""
        known = 0 <= since <= len(self._changed)
        return Changes(len(self._changed), frozenset(self._changed[since:]) if known else None)

    def _keep(self, record: Record, at: int, refs: set[bytes]) -> None:
        self._changed.append(record.id)
        self._records[record.id] = record
        self._by_kind.setdefault(record.kind, set()).add(record.id)
        self._standing_for.update(dict.fromkeys(record.ids, record.id))
        for ref in refs:
            named = self._by_name.setdefault(ref, {})
            insort(named.setdefault(record.kind, []), (at, record.id))

    def _forget(self, record: Record, at: int, refs: set[bytes]) -> None:
        del self._records[record.id]
        self._changed += record.ids
        self._by_kind[record.kind].discard(record.id)
        for one in record.ids:
            del self._standing_for[one]
        for ref in refs:
            self._by_name[ref][record.kind].remove((at, record.id))

    def _kept_of_kind(self, kind: str) -> Iterable[Record]:
        return [self._records[one] for one in self._by_kind.get(kind, ())]

    def every_record(self, most: int = -1) -> Iterable[Record]:  # noqa: ARG002 - all are at hand
        """See `Shelf.every_record`."""
        return list(self._records.values())

    def _kept_naming(self, ids: list[bytes], kind: str | None) -> Iterable[Record]:
        places = {
            place
            for one in ids
            for name, named in self._by_name.get(one, {}).items()
            if kind in (None, name)
            for place in named
        }
        return [self._records[record] for _, record in sorted(places)]

    def any_naming(self, ids: Iterable[bytes], kinds: Iterable[str]) -> set[bytes]:
        """See `Shelf.any_naming`."""
        asked = list(kinds)
        return {one for one in ids if any(self._by_name.get(one, {}).get(k) for k in asked)}

    def rows_between(self, spans: Sequence[Span]) -> list[list[Row]]:
        """See `Shelf.rows_between`."""
        asked = ((self.ids_of(one.id), *one[1:]) for one in spans)
        return [sorted(self._rows_between(*one)) for one in asked]

    def _rows_between(self, ids: list[bytes], kind: str, first: int, last: int) -> set[Row]:
        places = set()
        for one in ids:
            named = self._by_name.get(one, {}).get(kind, [])
            begin, end = bisect_left(named, (first, b"")), bisect_right(named, (last + 1, b""))
            places |= set(named[begin:end])
        return places

    def _kept_within(self, ids: list[bytes], kind: str, reach: Reach) -> Iterable[Record]:
        spans = ((reach.first, reach.last), *((at, at) for at in reach.beside))
        places = set().union(*(self._rows_between(ids, kind, *one) for one in spans))
        return [self._records[id] for _, id in sorted(places)]

    def _newest_rows(self, ids: list[bytes], kind: str, most: int) -> list[Row]:
        named = [self._by_name.get(one, {}).get(kind, [])[-most:] for one in ids]
        return sorted({place for one in named for place in one})

    def _recent_rows(self, ids: list[bytes], most: int) -> dict[str, list[Row]]:
        kinds = {kind for one in ids for kind, named in self._by_name.get(one, {}).items() if named}
        return {kind: self._newest_rows(ids, kind, most) for kind in kinds}

    def _in_scope(self, scope: bytes) -> Iterable[Conflict]:
        return self._by_scope.get(scope, [])

    def _conflicts(self) -> Iterable[Conflict]:
        kept = [*self._by_scope.values(), *(one.values() for one in self._between.values())]
        return [one for conflicts in kept for one in conflicts]

    def _accepted(self) -> dict[bytes, bytes]:
        return self._accepting
