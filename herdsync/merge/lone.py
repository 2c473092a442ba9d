"""The record that one vouched entry makes by itself, as nearly all records are: its entry is its state.

It answers what any record answers, straight from what the entry tells; claims and registers are made
when they are asked for. Must not know where entries are kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import Kind
from herdsync.log.entry import BY_HAND, RECORD_BYTES, Entry
from herdsync.log.trust import Members, Standing
from herdsync.merge.folding import check_begun, registers_of
from herdsync.merge.payloads import RECORD, STANDS, Begun, Unreadable
from herdsync.merge.records import Author, Claim, Record, Register


class Lone(Record):
    """One entry's record: ``fields`` as told, ``entry`` the first 16 bytes of the entry's id."""

    __slots__ = ("_first", "author", "entry", "fields")

    def __init__(
        self, id: bytes, kind: str, fields: Mapping[str, Any], author: Author, entry: bytes
    ) -> None:
        # As `Record.__init__` does it: of these there are thousands at once.
        self.id = id
        self.ids = [id]
        self.kind = kind
        self._registers = None
        self.fields = fields
        self.author = author
        self.entry = entry
        self._first: Claim | None = None

    def _make_registers(self) -> dict[str, Register]:
        told = {STANDS: {STANDS: True}} | registers_of(CATALOGUE[self.kind], self.fields)
        return {
            name: Register([self._claim(name, values)], []) for name, values in sorted(told.items())
        }

    def _claim(self, register: str, values: dict[str, Any]) -> Claim:
        return Claim(self.entry, self.id, register, values, [], RECORD, self.author, "", True)

    @property
    def begun_in(self) -> bytes:
        """See `Record.begun_in`."""
        return self.entry

    @property
    def begun_by(self) -> Author:
        """See `Record.begun_by`."""
        return self.author

    @property
    def order(self) -> tuple[int, bytes, bytes]:
        """See `Record.order`."""
        return (self.author.height, self.author.device, self.entry)

    @property
    def first(self) -> Claim:
        """See `Record.first`: the entry's claims were made at once, and the first by name is answered."""
        if self._first is None:
            told = {STANDS: {STANDS: True}} | registers_of(CATALOGUE[self.kind], self.fields)
            name = min(told)
            self._first = self._claim(name, told[name])
        return self._first

    @property
    def last(self) -> Claim:
        """See `Record.last`."""
        return self.first

    def value(self, field: str, default: Any = None) -> Any:
        """See `Record.value`."""
        if field in sets_of(self.kind):
            # Of a set that nobody told, no claims need be made to see that it is empty.
            return super().value(field, default) if field in self.fields else []
        return super().value(field, default) if field == STANDS else self.fields.get(field, default)

    def values(self, field: str) -> list[Any]:
        """See `Record.values`."""
        if field in sets_of(self.kind) or field == STANDS:
            return super().values(field)
        return [self.fields[field]] if field in self.fields else []

    def safety_values(self, field: str) -> list[Any]:
        """See `Record.safety_values`: nothing was ended."""
        return self.values(field)

    def disputed(self, field: str) -> bool:  # noqa: ARG002 - the same of every field
        """See `Record.disputed`: there is nobody to dispute it."""
        return False

    @property
    def any_disputed(self) -> bool:
        """See `Record.any_disputed`."""
        return False

    @property
    def stands(self) -> bool:
        """See `Record.stands`: nobody took it back."""
        return True

    @property
    def counts(self) -> bool:
        """See `Record.counts`."""
        return True

    @property
    def vouched(self) -> bool:
        """See `Record.vouched`."""
        return True

    @property
    def counts_for_safety_alone(self) -> bool:
        """See `Record.counts_for_safety_alone`."""
        return False

    def uncited_by_retraction(self) -> list[Claim]:
        """See `Record.uncited_by_retraction`."""
        return []


# The record that an entry begins, the entry, and what it says.
Beginning = tuple[bytes, Entry, Begun]


class _Pen(NamedTuple):
    """Whose word an act of a kind is: ``vouched`` whatever it says and whenever it was said."""

    kind: Kind | None
    keeper: str
    vouched: bool


def lone_among(begun: Iterable[Beginning], members: Members) -> Iterator[Lone]:
    """The records that entries make where nothing else speaks of them: readable words, vouched for.

    Left out is what it takes the whole fold to say.
    """
    pens: dict[tuple[bytes, str, int], _Pen] = {}
    for id, entry, told in begun:
        header = entry.header
        device, writes = header.device, (header.device, header.kind, header.kind_version)
        kind, keeper, vouched = pens.get(writes) or pens.setdefault(writes, _pen(*writes, members))
        if kind is None:
            continue
        if not vouched and members.standing(entry, own=True) is not Standing.VOUCHED:
            continue
        try:
            check_begun(kind, told)
        except Unreadable:
            continue
        by, by_hand = entry.body.by or keeper, bool(header.flags & BY_HAND)
        author = Author(device, keeper, by, header.clock, header.height, by_hand)
        yield Lone(id, kind.name, told.fields, author, entry.id[:RECORD_BYTES])


def _pen(device: bytes, kind: str, version: int, members: Members) -> _Pen:
    spec, member = CATALOGUE.get(kind), members.known.get(device)
    read = spec if spec is not None and version <= spec.version else None
    return _Pen(read, member.keeper if member else "", members.vouches(device, RECORD))


@cache
def sets_of(kind: str) -> frozenset[str]:
    """The fields of a kind that are sets."""
    return frozenset(name for name, spec in CATALOGUE[kind].fields.items() if spec.many)
