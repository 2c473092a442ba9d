"""Records as the merge leaves them: registers of standing and ended claims, and what they answer."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, Protocol

from msgspec import Struct

from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import Field
from herdsync.log import canonical
from herdsync.merge.newest import Changes, Newest, Recent
from herdsync.merge.payloads import RESOLVE, STANDS

_REGISTERS = {
    kind.name: {name: field.register for name, field in kind.fields.items()}
    for kind in CATALOGUE.values()
}
_UNKNOWN: dict[str, str] = {}


_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)


def milliseconds(moment: datetime) -> int:
    """An instant as milliseconds since 1970 UTC, as records are ordered by."""
    return (moment - _EPOCH) // _MILLISECOND


class Author(Struct, frozen=True, array_like=True, gc=False):
    """Who told something: the device's key, its keeper, the person at the keyboard, its clock (ms UTC)."""

    device: bytes
    keeper: str
    by: str
    clock: int
    height: int
    by_hand: bool

    @property
    def teller(self) -> tuple[bytes, str]:
        """The laptop and the person at it."""
        return (self.device, self.by)


class Claim(Struct, frozen=True, array_like=True, gc=False):
    """What one entry says of one register. ``entry`` (16 bytes of its id) is the claim's id."""

    entry: bytes
    record: bytes
    register: str
    values: dict[str, Any]
    cites: list[bytes]
    verb: str
    author: Author
    because: str
    vouched: bool
    saw: list[bytes] = []
    aside: bool = False

    @property
    def order(self) -> tuple[int, bytes, bytes]:
        """Display order; decides nothing but what is shown last."""
        return (self.author.height, self.author.device, self.entry)

    @property
    def same_as(self) -> bytes:
        """What makes two claims agree: the canonical bytes of their values."""
        return canonical.encode(self.values)


class Register(Struct, frozen=True, array_like=True, gc=False):
    """All claims on one register in display order."""

    standing: list[Claim]
    ended: list[Claim]
    unvouched: list[Claim] = []

    @property
    def disputed(self) -> bool:
        """Whether claims that stand do not say the same; changes of a set add up and never dispute."""
        if len(self.standing) < 2 or self._is_set:
            return False
        return len({claim.same_as for claim in self.standing}) > 1

    @property
    def _is_set(self) -> bool:
        return any(
            isinstance(value, dict) for claim in self.standing for value in claim.values.values()
        )

    def every(self) -> Iterator[Claim]:
        """All claims, in display order."""
        return iter(sorted([*self.standing, *self.ended, *self.unvouched], key=lambda c: c.order))

    def safety(self) -> list[Claim]:
        """Claims that count for safety: standing, unvouched, and ended ones nobody released.

        An ended claim is released by a vouched claim that gives its reason (or resolves) and descends
        from it, when every other claim here stands in that claim's past or descends from it. One more
        claim without a reason can only undo this, never bring it about.
        """
        released: set[bytes] = set()
        if self.ended:
            by_id = {claim.entry: claim for claim in [*self.standing, *self.ended]}
            pasts = {one: _ancestry(claim, by_id) for one, claim in by_id.items()}
            for one, claim in by_id.items():
                if _releases(claim) and all(
                    other in pasts[one] or one in pasts[other] for other in by_id
                ):
                    released |= pasts[one] - {one}
        kept = [claim for claim in self.ended if claim.entry not in released]
        feared = [claim for claim in self.unvouched if not claim.aside]
        return [*kept, *self.standing, *feared]


def _releases(claim: Claim) -> bool:
    return bool(claim.because.strip()) or claim.verb == RESOLVE


def _ancestry(claim: Claim, by_id: dict[bytes, Claim]) -> set[bytes]:
    """The ids a claim descends from by citation, itself included."""
    found = {claim.entry}
    queue = [claim]
    while queue:
        for cited in queue.pop().cites:
            if cited in by_id and cited not in found:
                found.add(cited)
                queue.append(by_id[cited])
    return found


class Record:
    """One act or thing, as everyone's claims leave it. ``ids`` are the records joined in it."""

    __slots__ = ("_registers", "id", "ids", "kind")

    def __init__(
        self, id: bytes, ids: list[bytes], kind: str, registers: dict[str, Register] | None
    ) -> None:
        self.id = id
        self.ids = ids
        self.kind = kind
        self._registers = registers

    @property
    def registers(self) -> dict[str, Register]:
        """What is claimed, register by register."""
        if self._registers is None:
            self._registers = self._make_registers()
        return self._registers

    def _make_registers(self) -> dict[str, Register]:
        raise AssertionError("a record is made with its registers, or knows how to make them")

    @property
    def parts(self) -> tuple[bytes, list[bytes], str, dict[str, Register]]:
        """All that it is, for keeping it and for telling two apart."""
        return (self.id, self.ids, self.kind, self.registers)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Record) and self.parts == other.parts

    def value(self, field: str, default: Any = None) -> Any:
        """The provisional value: the strictest where the field has an order, else the last told."""
        standing = self._register(field).standing
        if len(standing) == 1:
            only = standing[0].values.get(field, default)
            # A set is told by what it adds and drops, and read out below.
            if type(only) is not dict:
                return only
        spec = self._spec(field)
        if spec is not None and spec.many:
            return self._elements(field)
        told = self.values(field)
        if not told:
            return default
        if spec is not None and len(told) > 1 and spec.strict:
            return spec.strictest(told)
        return told[-1]

    def values(self, field: str) -> list[Any]:
        """All distinct standing values, in display order."""
        standing = self._register(field).standing
        if len(standing) == 1:
            values = standing[0].values
            return [values[field]] if field in values else []
        return _distinct(field, standing)

    def safety_values(self, field: str) -> list[Any]:
        """All values that count for safety: late, doubled, disputed and unvouched ones included."""
        return _distinct(field, self._register(field).safety())

    def disputed(self, field: str) -> bool:
        """Whether the field's standing values differ."""
        spec = self._spec(field)
        if spec is not None and spec.many:
            return False
        told = {canonical.encode(c.values.get(field)) for c in self._register(field).standing}
        return len(told) > 1

    @property
    def any_disputed(self) -> bool:
        """Whether any register of the record is disputed."""
        return any(register.disputed for register in self.registers.values())

    @property
    def stands(self) -> bool:
        """False once retracted; a retraction in dispute leaves the record standing."""
        return any(self.values(STANDS)) or bool(self.uncited_by_retraction())

    @property
    def counts(self) -> bool:
        """Whether it is part of the farm's present account: vouched for, and standing."""
        told = self._register(STANDS).standing
        # Only vouched claims stand in a register: one that says yes settles both.
        if len(told) == 1 and told[0].values.get(STANDS) is True:
            return True
        return self.vouched and self.stands

    @property
    def vouched(self) -> bool:
        """Whether any claim that stands is vouched for."""
        return any(register.standing for register in self.registers.values())

    @property
    def counts_for_safety_alone(self) -> bool:
        """Retracted without a reason that counts, or told only by unvouched entries."""
        if self.vouched and self.stands:
            return False
        return any(claim.values.get(STANDS) for claim in self._register(STANDS).safety())

    def uncited_by_retraction(self) -> list[Claim]:
        """Amendments that stand beside a retraction whose writer had not seen them."""
        retracting = self._register(STANDS).standing
        if not retracting or any(claim.values.get(STANDS) for claim in retracting):
            return []
        seen = {one for claim in retracting for one in claim.saw}
        return [
            claim
            for name, register in self.registers.items()
            if name != STANDS
            for claim in register.standing
            if claim.entry not in seen
        ]

    @property
    def begun_in(self) -> bytes:
        """The entry that began it, by the first 16 bytes of its id."""
        return self.first.entry

    @property
    def begun_by(self) -> Author:
        """Who began it."""
        return self.first.author

    @property
    def order(self) -> tuple[int, bytes, bytes]:
        """Its place in display order: that of the claim that began it."""
        return self.first.order

    @property
    def first(self) -> Claim:
        """The claim that began it."""
        return min(self.claims(), key=lambda claim: claim.order)

    @property
    def last(self) -> Claim:
        """The newest claim in display order."""
        return max(self.claims(), key=lambda claim: claim.order)

    def claims(self) -> Iterator[Claim]:
        """Every claim on every register."""
        for register in self.registers.values():
            yield from register.standing
            yield from register.ended
            yield from register.unvouched

    def field_names(self) -> list[str]:
        """The fields anyone has told, in the kind's order, then unknown ones."""
        told = {
            name
            for register, content in self.registers.items()
            if register != STANDS
            for claim in content.every()
            for name in claim.values
        }
        kind = CATALOGUE.get(self.kind)
        known = [name for name in kind.fields if name in told] if kind else []
        return known + sorted(told - set(known))

    def register_of(self, field: str) -> str:
        """The register a field belongs to."""
        return _REGISTERS.get(self.kind, _UNKNOWN).get(field, field)

    def _register(self, field: str) -> Register:
        name = _REGISTERS.get(self.kind, _UNKNOWN).get(field, field)
        return self.registers.get(name, _EMPTY)

    def _spec(self, field: str) -> Field | None:
        kind = CATALOGUE.get(self.kind)
        return kind.fields.get(field) if kind else None

    def _elements(self, field: str) -> list[Any]:
        return [element for element, _ in self.elements(field)]

    def elements(self, field: str) -> list[tuple[Any, list[bytes]]]:
        """A set's elements with the claims that add each: what a removal must cite."""
        register = self._register(field)
        dropped = {
            (claim_id, canonical.encode(element))
            for claim in register.standing
            for element, ids in claim.values.get(field, {}).get("drop", [])
            for claim_id in ids
        }
        adding: dict[bytes, tuple[Any, list[bytes]]] = {}
        for claim in register.standing:
            for element in claim.values.get(field, {}).get("add", []):
                key = canonical.encode(element)
                if (claim.entry, key) not in dropped:
                    adding.setdefault(key, (element, []))[1].append(claim.entry)
        return [adding[key] for key in sorted(adding)]


_EMPTY = Register([], [])


def _distinct(field: str, claims: list[Claim]) -> list[Any]:
    found: dict[bytes, Any] = {}
    for claim in claims:
        if field in claim.values:
            found.setdefault(canonical.encode(claim.values[field]), claim.values[field])
    return list(found.values())


class Records(Protocol):
    """What projections read: the records of a farm, however they are kept."""

    def get(self, id: bytes) -> Record | None:
        """The record with this id (any of the joined ids), retracted ones too."""

    def of_kind(self, kind: str) -> list[Record]:
        """Standing records of a kind, in display order of their first claim."""

    def naming(self, animal: bytes, kind: str | None = None) -> list[Record]:
        """Standing records that name it, ordered by (earliest time, id)."""

    def newest(self, id: bytes, kind: str, most: int) -> Newest:
        """The last ``most`` records of a kind that name it, without reading those before them."""

    def recent(self, id: bytes, most: int) -> Recent:
        """The same of every kind at once."""

    def read_ahead(self, ids: Sequence[bytes], most: int, every: Collection[str]) -> None:
        """Make ready what ``recent`` will be asked of many things, in few questions; answers nothing.

        Of some kinds ``every`` act told will be read, of others the last.
        """

    def changes(self, since: int) -> Changes:
        """Records that changed since a mark, and those that an unreadable entry names; -1: any."""

    def canonical(self, id: bytes) -> bytes:
        """The id that stands for a joined record; the id itself where it is alone."""

    def unreadable(self) -> frozenset[bytes]:
        """Every id that a critical entry names which this program cannot read."""

    def ever_naming(self, animal: bytes, kind: str | None = None) -> list[Record]:
        """Every record that names it, retracted and unvouched ones too, ordered by (time, id)."""

    def safety_only(self, animal: bytes, kind: str) -> list[Record]:
        """Records naming it that count for safety alone."""
