"""Where the fold keeps what it derives: the shape of such a shelf, and where on it a record lies.

There is one in memory, and the store keeps the same things in tables; both answer alike.
"""

from __future__ import annotations

import functools
import hashlib
from abc import ABC, abstractmethod
from collections.abc import Collection, Iterable, Sequence
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Ref
from herdsync.kinds.on import span
from herdsync.log.entry import RECORD_BYTES, Entry
from herdsync.merge import called, pedigree
from herdsync.merge.conflicts import RULE, Conflict, once
from herdsync.merge.lone import Lone
from herdsync.merge.newest import Changes, Newest, Reach, Recent, Row, Span, newest_of
from herdsync.merge.records import Record, milliseconds

CHORE = "chore-done"
TAG_CHORE = b"herdsync/1/chore\0"
WHOLE_FARM = b""
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
    def begin(self, entries: list[tuple[bytes, Entry]]) -> None:
        """Note of many entries the record that each begins."""

    @abstractmethod
    def touching(self, record: bytes) -> list[Entry]:
        """All entries noted for it."""

    @abstractmethod
    def spoken_of(self, records: list[bytes]) -> set[bytes]:
        """Those that some entry noted here speaks of already, or a verdict."""

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
    def put_between(self, conflicts: Iterable[Conflict]) -> None:
        """Keep disagreements between records, to be found by each of them."""

    @abstractmethod
    def between(self, record: bytes) -> list[Conflict]:
        """The kept disagreements between a record and others."""

    @abstractmethod
    def drop_between(self, conflicts: Iterable[Conflict]) -> None:
        """Forget disagreements between records."""

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
    def every_record(self, most: int = -1) -> Iterable[Record]:
        """All records kept, retracted and unvouched ones too, in any order.

        With ``most`` not all perhaps, but the so many changed last among them.
        """

    def changed_last(self, most: int) -> list[Record]:
        """Of all records kept the so many changed last, in the order of their last change."""
        return sorted(self.every_record(most), key=lambda one: one.last.order)[-most:]

    @abstractmethod
    def _kept_naming(self, ids: list[bytes], kind: str | None) -> Iterable[Record]:
        """All records kept that name one of the ids, once each, ordered by (time, id)."""

    @abstractmethod
    def _kept_within(self, ids: list[bytes], kind: str, reach: Reach) -> Iterable[Record]:
        """Those of a kind whose times lie within a reach."""

    @abstractmethod
    def rows_between(self, spans: Sequence[Span]) -> list[list[Row]]:
        """For each span (time, id), in order, of what is kept in it, standing or not."""

    @abstractmethod
    def any_naming(self, ids: Iterable[bytes], kinds: Iterable[str]) -> set[bytes]:
        """Which of these ids a record kept of one of the kinds names, standing or not."""

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
    def _in_scope(self, scope: bytes) -> Iterable[Conflict]:
        """The disagreements of one scope."""

    @abstractmethod
    def _conflicts(self) -> Iterable[Conflict]:
        """All disagreements of all scopes."""

    @abstractmethod
    def _accepted(self) -> dict[bytes, bytes]:
        """Accepted conflicts with the entry that accepts each."""

    def put(self, record: Record) -> None:
        """Keep a record in place of what was kept under its id."""
        self.drop(record.id)
        self._keep(record, sort_moment(record), found_under(record))

    def put_new(self, records: list[Lone]) -> None:
        """Keep records that nothing was kept of."""
        for record in records:
            self._keep(record, sort_moment(record), found_under(record))

    def drop(self, record: bytes) -> None:
        """Forget a record that is now part of another, or parted."""
        gone = self._load(record)
        if gone is not None:
            self._forget(gone, sort_moment(gone), found_under(gone))

    def get(self, id: bytes) -> Record | None:
        """See `Records.get`."""
        return self._load(self.canonical(id))

    def of_kind(self, kind: str) -> list[Record]:
        """See `Records.of_kind`."""
        found = filter(counts, self._kept_of_kind(kind))
        return sorted(found, key=lambda record: record.order)

    def naming(self, animal: bytes, kind: str | None = None) -> list[Record]:
        """See `Records.naming`."""
        return [record for record in self._kept_naming(self.ids_of(animal), kind) if counts(record)]

    def within(self, id: bytes, kind: str, reach: Reach) -> list[Record]:
        """Standing records of a kind that name it, their times within a reach."""
        return [one for one in self._kept_within(self.ids_of(id), kind, reach) if counts(one)]

    def newest(self, id: bytes, kind: str, most: int) -> Newest:
        """See `Records.newest`."""
        return newest_of(self._newest_rows(self.ids_of(id), kind, most + 1), most, self._there)

    def recent(self, id: bytes, most: int) -> Recent:
        """See `Records.recent`."""
        return Recent(self._recent_rows(self.ids_of(id), most + 1), most, self._there)

    def read_ahead(self, ids: Sequence[bytes], most: int, every: Collection[str]) -> None:  # noqa: B027
        """See `Records.read_ahead`: nothing is to be done where all is at hand."""

    def _there(self, id: bytes) -> Record:
        record = self._load(id)
        assert record is not None, "what is named in a place is kept"
        return record

    def ever_naming(self, animal: bytes, kind: str | None = None) -> list[Record]:
        """See `Records.ever_naming`."""
        return list(self._kept_naming(self.ids_of(animal), kind))

    def safety_only(self, animal: bytes, kind: str) -> list[Record]:
        """See `Records.safety_only`."""
        found = self._kept_naming(self.ids_of(animal), kind)
        return [record for record in found if record.counts_for_safety_alone]

    def unreadable(self) -> frozenset[bytes]:
        """See `Records.unreadable`."""
        return frozenset(id for one in self.every_unread() if one.critical for id in one.subjects)

    def conflicts_with(self, record: bytes) -> list[Conflict]:
        """The disagreements within a record and between it and others, as `every_conflict`."""
        own = [*self._in_scope(record), *self.between(record)]
        return settle_conflicts(own, self._accepted()) if own else []

    def every_conflict(self) -> list[Conflict]:
        """All disagreements, acceptances counted, one for each id, in id order."""
        return settle_conflicts(self._conflicts(), self._accepted())

    def ids_of(self, animal: bytes) -> list[bytes]:
        """The ids joined with this one, itself among them."""
        record = self.get(animal)
        return record.ids if record is not None else [animal]


def lying(record: Lone) -> tuple[int, set[bytes]]:
    """Where a record of one entry lies: as `sort_moment` and `found_under`, in one look."""
    on, refs = _plainly_laid(record.kind)
    if refs is None:
        return sort_moment(record), found_under(record)
    fields, named = record.fields, set()
    told = fields.get(on)
    at = _beginning(told) if type(told) is str else record.author.clock
    for name in refs:
        # A word in the place of a record names none.
        if type(one := fields.get(name)) is bytes:
            named.add(one)
    if record.kind == CHORE:
        named.add(work_key(fields.get("about", WHOLE_FARM), fields["item"]))
    return at, named


@functools.cache
def _plainly_laid(kind: str) -> tuple[str, list[str] | None]:
    """The field of a kind's time, and those that name one record each; None where there is more."""
    plain = kind not in _KEYED or kind == CHORE
    return _on_field(kind) or "", _ref_fields(kind) if plain else None


def found_under(record: Record) -> set[bytes]:
    """Every id that a record is found under: what it names, and its keys."""
    found = refs_of(record)
    return found | keys_of(record) if record.kind in _KEYED else found


def refs_of(record: Record) -> set[bytes]:
    """Every id that a standing or unvouched claim of a record names in a reference field."""
    names = _ref_fields(record.kind)
    if isinstance(record, Lone):
        # What one entry tells is read as it was told.
        told = [record.fields.get(name) for name in names]
    else:
        told = [value for name in names for value in record.safety_values(name)]
    return {one for one in told if isinstance(one, bytes)}


@functools.cache
def _ref_fields(kind: str) -> list[str]:
    """The fields of a kind that name another record; each names one (a test asks every kind)."""
    spec = CATALOGUE.get(kind)
    fields = spec.fields.items() if spec is not None else ()
    return [name for name, field in fields if isinstance(field.form, Ref)]


# A pen has few daily chores.
@functools.lru_cache(maxsize=4_096)
def work_key(about: bytes, item: str) -> bytes:
    """Under which id the chores of one item done for one animal or pen are found.

    A pen's daily chores run to thousands; the last bedding among them is wanted without the others.
    What was done for the whole farm is about ``WHOLE_FARM``.
    """
    return hashlib.sha256(TAG_CHORE + about + item.encode()).digest()[:RECORD_BYTES]


def keys_of(record: Record) -> set[bytes]:
    """The keys a record is to be found under beside what it names."""
    if record.kind not in _KEYED:
        return set()
    if record.kind == CHORE:
        return {
            work_key(about, str(item))
            for about in record.values("about") or [WHOLE_FARM]
            for item in record.values("item")
        }
    keys = called.keys_of(record)
    rule = CATALOGUE[record.kind].pair
    if record.kind == pedigree.ANIMAL and rule is not None:
        keys |= pedigree.keys_of(record, rule)
    return keys


# What is found by more than what it names; of all other kinds there is no key.
_KEYED = frozenset({CHORE, pedigree.ANIMAL}) | called.CALLED


def sort_moment(record: Record) -> int:
    """Milliseconds since 1970 of the earliest instant of its time, dates taken in UTC; an order only."""
    field = _on_field(record.kind)
    told = record.value(field) if field is not None else None
    if isinstance(told, str):
        return _beginning(told)
    return record.begun_by.clock


@functools.cache
def _on_field(kind: str) -> str | None:
    """The field of the time of an act of this kind."""
    spec = CATALOGUE.get(kind)
    return spec.on if spec is not None else None


# Many acts are told on one day.
@functools.lru_cache(maxsize=4_096)
def _beginning(on: str) -> int:
    return milliseconds(span(on, _UTC)[0])


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
