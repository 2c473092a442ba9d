"""From the entries that speak of a record to its registers: claims, citations, joins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import Kind, check_fields
from herdsync.log.entry import BY_HAND, RECORD_BYTES, Entry
from herdsync.log.trust import Members, Standing
from herdsync.merge.payloads import (
    DIFFERENT,
    RECORD,
    SAME,
    STANDS,
    VERDICT,
    Begun,
    Change,
    Tie,
    Told,
    Unreadable,
    key_fits,
    read_payload,
)
from herdsync.merge.records import Author, Claim, Record, Register


@dataclass(slots=True)
class RawRecord:
    """One record before any join: its claims, and entries that could not be read with the reason."""

    id: bytes
    kind: str = ""
    claims: list[Claim] = field(default_factory=list)
    unreadable: dict[bytes, str] = field(default_factory=dict)


def fold(record: bytes, entries: Iterable[Entry], members: Members) -> RawRecord:
    """All claims that entries make on one record, in display order, whatever order they come in."""
    raw = RawRecord(record)
    ordered = sorted(entries, key=lambda entry: entry.order)
    beginning = [entry for entry in ordered if entry.header.verb == RECORD]
    raw.kind = beginning[0].header.kind if beginning else ""
    # A keyed record may be begun by several: then it is nobody's own.
    begun_by = {entry.header.device for entry in beginning}
    owner = begun_by.pop() if len(begun_by) == 1 else b""
    for entry in ordered:
        if entry.header.verb in (SAME, DIFFERENT):
            continue
        try:
            raw.claims.extend(_claims(raw, entry, owner, members))
        except Unreadable as fault:
            raw.unreadable[entry.id] = str(fault)
    return raw


def fold_tie(tie: bytes, entries: Iterable[Entry], members: Members) -> Register:
    """The verdicts on one pair of records; each claim's value is ``{"verdict": bool}``."""
    claims = []
    for entry in sorted(entries, key=lambda entry: entry.order):
        if entry.header.verb not in (SAME, DIFFERENT):
            continue
        told = read_payload(entry, Tie)
        values = {VERDICT: entry.header.verb == SAME}
        author = author_of(entry, members)
        vouched = _standing(entry, entry.header.device, members) is Standing.VOUCHED
        claims.append(
            Claim(entry.id[:RECORD_BYTES], tie, VERDICT, values, told.cites, entry.header.verb,
                  author, told.because, vouched)
        )  # fmt: skip
    return register_of(claims)


def join(raws: list[RawRecord]) -> Record:
    """The one record that these are: their claims share registers; citations count among them only."""
    raws = sorted(raws, key=lambda raw: raw.id)
    by_register: dict[str, list[Claim]] = {}
    for raw in raws:
        for claim in raw.claims:
            by_register.setdefault(claim.register, []).append(claim)
    registers = {name: register_of(claims) for name, claims in sorted(by_register.items())}
    kind = next((raw.kind for raw in raws if raw.kind), "")
    return Record(raws[0].id, [raw.id for raw in raws], kind, registers)


def register_of(claims: list[Claim]) -> Register:
    """Claims parted into standing, ended and unvouched."""
    ordered = sorted(claims, key=lambda claim: claim.order)
    cited = {one for claim in ordered if claim.vouched for one in claim.cites}
    return Register(
        [c for c in ordered if c.vouched and c.entry not in cited],
        [c for c in ordered if c.vouched and c.entry in cited],
        [c for c in ordered if not c.vouched],
    )


def author_of(entry: Entry, members: Members) -> Author:
    """Who wrote an entry, as it says itself and as the members know the device."""
    header = entry.header
    member = members.known.get(header.device)
    keeper = member.keeper if member else ""
    by_hand = bool(header.flags & BY_HAND)
    return Author(
        header.device, keeper, entry.body.by or keeper, header.clock, header.height, by_hand
    )


def _claims(raw: RawRecord, entry: Entry, owner: bytes, members: Members) -> list[Claim]:
    header = entry.header
    if not raw.kind:
        raise Unreadable("it speaks of a record that is not here")
    if header.kind != raw.kind:
        raise Unreadable(f"it calls a record of kind '{raw.kind}' a '{header.kind}'")
    kind = CATALOGUE.get(raw.kind)
    if kind is None or header.kind_version > kind.version:
        raise Unreadable(f"its kind '{header.kind}' is of a newer program")
    because, saw = "", []
    if header.verb == RECORD:
        told = _begun(kind, read_payload(entry, Begun))
    else:
        change = read_payload(entry, Change)
        told, because, saw = dict(change.claims), change.because, change.saw
        _check_told(kind, told)
    author = author_of(entry, members)
    standing = _standing(entry, owner, members)
    claim_id = entry.id[:RECORD_BYTES]
    return [
        Claim(claim_id, raw.id, name, one.values, one.cites, header.verb, author, because,
              standing is Standing.VOUCHED, saw if name == STANDS else [],
              standing is Standing.ASIDE)
        for name, one in sorted(told.items())
    ]  # fmt: skip


def _begun(kind: Kind, begun: Begun) -> dict[str, Told]:
    check_begun(kind, begun)
    told = {STANDS: Told({STANDS: True}, [])}
    for name, values in registers_of(kind, begun.fields).items():
        told[name] = Told(values, [])
    return told


def registers_of(kind: Kind, fields: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Fields gathered by register; a set's value becomes what it adds."""
    gathered: dict[str, dict[str, Any]] = {}
    for name, value in fields.items():
        spec = kind.fields.get(name)
        if spec is not None and spec.many:
            value = {"add": value, "drop": []}
        gathered.setdefault(spec.register if spec else name, {})[name] = value
    return gathered


def check_begun(kind: Kind, begun: Begun) -> None:
    """Pass what a record of the kind may begin with; raise Unreadable for anything else."""
    if STANDS in begun.fields:
        raise Unreadable(f"it tells '{STANDS}' as a field of the act")
    if (kind.keyed or begun.key) is not None and not key_fits(kind, begun):
        raise Unreadable("its key is not the one that its fields tell")
    try:
        check_fields(kind, begun.fields, partial=kind.keyed is not None)
    except BadBytes as fault:
        raise Unreadable(str(fault)) from fault


def _check_told(kind: Kind, told: Mapping[str, Told]) -> None:
    for name, one in told.items():
        if name == STANDS:
            if not isinstance(one.values.get(STANDS), bool) or len(one.values) != 1:
                raise Unreadable("it neither retracts nor restores")
            continue
        if kind.keyed in one.values:
            raise Unreadable("it tells another key for a record that its key names")
        plain = {}
        for field_name, value in one.values.items():
            spec = kind.fields.get(field_name)
            if (spec.register if spec else field_name) != name:
                raise Unreadable(f"it tells '{field_name}' where '{name}' belongs")
            plain[field_name] = _added(value) if spec is not None and spec.many else value
        try:
            check_fields(kind, plain, partial=True)
        except BadBytes as fault:
            raise Unreadable(str(fault)) from fault


def _added(value: Any) -> list[Any]:
    """All elements a set change names, once its form is sound."""
    if not isinstance(value, dict) or set(value) != {"add", "drop"}:
        raise Unreadable("it changes a set in a form that is not known")
    adds, drops = value["add"], value["drop"]
    if not isinstance(adds, list) or not isinstance(drops, list):
        raise Unreadable("it changes a set in a form that is not known")
    for drop in drops:
        sound = isinstance(drop, list) and len(drop) == 2 and isinstance(drop[1], list)
        if not sound or not all(isinstance(one, bytes) for one in drop[1]):
            raise Unreadable("it removes from a set in a form that is not known")
    return [*adds, *(drop[0] for drop in drops)]


def _standing(entry: Entry, owner: bytes, members: Members) -> Standing:
    return members.standing(entry, own=owner == entry.header.device)
