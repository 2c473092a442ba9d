"""Where the fold keeps what it derives: the shape of such a shelf, and one in memory.

The store keeps the same things in tables; both answer alike.
"""

from __future__ import annotations

import hashlib
from abc import ABC, abstractmethod
from bisect import insort
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Ref
from herdsync.kinds.on import span
from herdsync.log.entry import RECORD_BYTES, Entry
from herdsync.merge.conflicts import RULE, Conflict, once
from herdsync.merge.records import Changes, Newest, Recent, Record, Row, newest_of

CHORE = "chore-done"
TAG_CHORE = b"herdsync/1/chore\0"
_UTC = ZoneInfo("UTC")


class Unread:
    """One entry that could not be read: why, whether it is critical, whom it names."""

    __slots__ = ("critical", "entry", "subjects", "why")

    def __init__(self, entry: bytes, why: str, critical: bool, subjects: list[bytes]) -> None:
        self.entry = entry
        self.why = why
        self.critical = critical
        self.subjects = subjects


class Shelf(ABC):
    """What the fold writes and asks back; answers as `Records` to everyone else.

    A subclass keeps the things; the rules for reading them stand here once.
    """

    @abstractmethod
    def touch(self, record: bytes, entry: Entry) -> None:
        """Note that an entry speaks of a record or tie."""

    @abstractmethod
    def touching(self, record: bytes) -> list[Entry]:
        """All entries noted for it."""

    @abstractmethod
    def tie(self, tie: bytes, a: bytes, b: bytes) -> None:
        """Note a pair of records someone gave a verdict on."""

    @abstractmethod
    def ties_of(self, record: bytes) -> list[tuple[bytes, bytes, bytes]]:
        """(tie, a, b) of the pairs a record is part of, sorted."""

    @abstractmethod
    def put_conflicts(self, scope: bytes, conflicts: list[Conflict]) -> None:
        """Replace the disagreements of one scope."""

    @abstractmethod
    def accept(self, conflict: bytes, entry: bytes) -> None:
        """Note that a keeper lets a disagreement stand; the least entry id is kept."""

    @abstractmethod
    def put_unread(self, scope: bytes, unread: list[Unread]) -> None:
        """Replace the unreadable entries of one record (or of the entry itself)."""

    @abstractmethod
    def every_unread(self) -> list[Unread]:
        """All unreadable entries in id order."""

    @abstractmethod
    def canonical(self, id: bytes) -> bytes:
        """See `Records.canonical`."""

    @abstractmethod
    def _load(self, record: bytes) -> Record | None:
        """The record kept under its own id."""

    @abstractmethod
    def _keep(self, record: Record, at: int, refs: set[bytes]) -> None:
        """Keep a record, the ids joined in it, and its place beside everything it names."""

    @abstractmethod
    def _forget(self, record: Record, at: int, refs: set[bytes]) -> None:
        """Undo what `_keep` did."""

    @abstractmethod
    def _kept_of_kind(self, kind: str) -> Iterable[Record]:
        """All records kept of a kind, in any order."""

    @abstractmethod
    def every_record(self) -> Iterable[Record]:
        """All records kept, retracted and unvouched ones too, in any order."""

    @abstractmethod
    def _kept_naming(self, ids: list[bytes], kind: str | None) -> Iterable[Record]:
        """All records kept that name one of the ids, once each, ordered by (time, id)."""

    @abstractmethod
    def _newest_rows(self, ids: list[bytes], kind: str, most: int) -> list[Row]:
        """The last ``most`` or more records of a kind that name one of the ids, once each, in order."""

    @abstractmethod
    def _recent_rows(self, ids: list[bytes], most: int) -> dict[str, list[Row]]:
        """The same for every kind there is."""

    @abstractmethod
    def changes(self, since: int) -> Changes:
        """See `Records.changes`."""

    @abstractmethod
    def _conflicts(self) -> Iterable[Conflict]:
        """All disagreements of all scopes."""

    @abstractmethod
    def _accepted(self) -> dict[bytes, bytes]:
        """Accepted conflicts with the entry that accepts each."""

    def put(self, record: Record) -> None:
        """Keep a record in place of what was kept under its id."""
        self.drop(record.id)
        self._keep(record, sort_moment(record), refs_of(record) | work_keys(record))

    def drop(self, record: bytes) -> None:
        """Forget a record that is now part of another, or parted."""
        gone = self._load(record)
        if gone is not None:
            self._forget(gone, sort_moment(gone), refs_of(gone) | work_keys(gone))

    def get(self, id: bytes) -> Record | None:
        """See `Records.get`."""
        return self._load(self.canonical(id))

    def of_kind(self, kind: str) -> list[Record]:
        """See `Records.of_kind`."""
        found = filter(counts, self._kept_of_kind(kind))
        return sorted(found, key=lambda record: record.first.order)

    def naming(self, animal: bytes, kind: str | None = None) -> list[Record]:
        """See `Records.naming`."""
        return [record for record in self._kept_naming(self._ids(animal), kind) if counts(record)]

    def newest(self, id: bytes, kind: str, most: int) -> Newest:
        """See `Records.newest`."""
        return newest_of(self._newest_rows(self._ids(id), kind, most + 1), most, self._there)

    def recent(self, id: bytes, most: int) -> Recent:
        """See `Records.recent`."""
        return Recent(self._recent_rows(self._ids(id), most + 1), most, self._there)

    def _there(self, id: bytes) -> Record:
        record = self._load(id)
        assert record is not None, "what is named in a place is kept"
        return record

    def ever_naming(self, animal: bytes, kind: str | None = None) -> list[Record]:
        """See `Records.ever_naming`."""
        return list(self._kept_naming(self._ids(animal), kind))

    def safety_only(self, animal: bytes, kind: str) -> list[Record]:
        """See `Records.safety_only`."""
        found = self._kept_naming(self._ids(animal), kind)
        return [record for record in found if record.counts_for_safety_alone]

    def unreadable(self, animal: bytes) -> bool:
        """See `Records.unreadable`."""
        ids = set(self._ids(animal))
        return any(one.critical and ids & set(one.subjects) for one in self.every_unread())

    def every_conflict(self) -> list[Conflict]:
        """All disagreements, acceptances counted, one for each id, in id order."""
        return settle_conflicts(self._conflicts(), self._accepted())

    def _ids(self, animal: bytes) -> list[bytes]:
        record = self.get(animal)
        return record.ids if record is not None else [animal]


def refs_of(record: Record) -> set[bytes]:
    """Every id that a standing or unvouched claim of a record names in a reference field."""
    kind = CATALOGUE.get(record.kind)
    if kind is None:
        return set()
    found: set[bytes] = set()
    for name, spec in kind.fields.items():
        if isinstance(spec.form, Ref):
            told: Iterable[Any] = (
                record.safety_values(name) if not spec.many else record.value(name)
            )
            found |= {value for value in told if isinstance(value, bytes)}
    return found


def work_key(about: bytes, item: str) -> bytes:
    """Under which id the chores of one item done for one animal or pen are found.

    A pen's daily chores run to thousands; the last bedding among them is wanted without the others.
    """
    return hashlib.sha256(TAG_CHORE + about + item.encode()).digest()[:RECORD_BYTES]


def work_keys(record: Record) -> set[bytes]:
    """The keys a record is to be found under beside what it names."""
    if record.kind != CHORE:
        return set()
    return {
        work_key(about, str(item))
        for about in record.values("about")
        for item in record.values("item")
    }


def sort_moment(record: Record) -> int:
    """Milliseconds since 1970 of the earliest instant of its time, dates taken in UTC; an order only."""
    kind = CATALOGUE.get(record.kind)
    told = record.value(kind.on) if kind is not None and kind.on else None
    if isinstance(told, str):
        return int((span(told, _UTC)[0] - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds() * 1000)
    return record.first.author.clock


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
        self._accepting: dict[bytes, bytes] = {}
        self._unread: dict[bytes, list[Unread]] = {}
        self._changed: list[bytes] = []

    def touch(self, record: bytes, entry: Entry) -> None:
        """See `Shelf.touch`."""
        self._touching.setdefault(record, {})[entry.id] = entry

    def touching(self, record: bytes) -> list[Entry]:
        """See `Shelf.touching`."""
        return list(self._touching.get(record, {}).values())

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

    def every_record(self) -> Iterable[Record]:
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

    def _newest_rows(self, ids: list[bytes], kind: str, most: int) -> list[Row]:
        named = [self._by_name.get(one, {}).get(kind, [])[-most:] for one in ids]
        return sorted({place for one in named for place in one})

    def _recent_rows(self, ids: list[bytes], most: int) -> dict[str, list[Row]]:
        kinds = {kind for one in ids for kind, named in self._by_name.get(one, {}).items() if named}
        return {kind: self._newest_rows(ids, kind, most) for kind in kinds}

    def _conflicts(self) -> Iterable[Conflict]:
        return [one for conflicts in self._by_scope.values() for one in conflicts]

    def _accepted(self) -> dict[bytes, bytes]:
        return self._accepting


def counts(record: Record) -> bool:
    """Whether a record is part of the farm's present account."""
    return record.counts


def settle_conflicts(every: Iterable[Conflict], accepted: dict[bytes, bytes]) -> list[Conflict]:
    """One conflict for each id; a broken rule is closed where an entry accepts it."""
    settled = []
    for one in every:
        if one.id in accepted and one.open and one.kind == RULE:
            one = Conflict(
                one.id, one.kind, one.record_kind, one.field, one.records, one.claims,
                one.after, one.says, one.mend, accepted[one.id],
            )  # fmt: skip
        settled.append(one)
    return sorted(once(settled), key=lambda one: one.id)
