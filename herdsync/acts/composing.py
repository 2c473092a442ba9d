"""The acts that say what a keeper asks: each cites exactly the claims its keeper was shown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec import Struct, field, structs

from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import raw_id, text_id
from herdsync.kinds.kind import Kind
from herdsync.log import canonical
from herdsync.log.entry import CRITICAL
from herdsync.log.writer import Act
from herdsync.merge.conflicts import Conflict
from herdsync.merge.folding import registers_of
from herdsync.merge.payloads import AMEND, DIFFERENT, RECORD, RESOLVE, RETRACT, SAME, STANDS
from herdsync.merge.records import Claim, Record, Register


class Changes(Struct, frozen=True):
    """What is to change in a record: fields told anew, elements added to sets or taken out."""

    told: Mapping[str, Any] = field(default_factory=dict)
    added: Mapping[str, list[Any]] = field(default_factory=dict)
    taken_out: Mapping[str, list[Any]] = field(default_factory=dict)
    cleared: Sequence[str] = ()


def begin(kind: Kind, fields: Mapping[str, Any]) -> Act:
    """A new record; of a keyed kind, the first word on its key."""
    payload: dict[str, Any] = {"fields": dict(fields)}
    if kind.keyed is not None:
        payload["key"] = str(fields[kind.keyed])
    return _act(RECORD, kind, payload, _refs(fields.values()))


def begin_line(kind: Kind, fields: Mapping[str, Any], key: str) -> Act:
    """A record from a line of a file: its id follows from the line's key, on every laptop the same."""
    return _act(RECORD, kind, {"fields": dict(fields), "key": key}, _refs(fields.values()))


def rewrite(record: Record, changes: Changes, because: str) -> Act:
    """A retracted record brought back, with fields told anew in the same act."""
    act = restore(record, because)
    told = registers_of(_kind(record), changes.told)
    claims = {name: _told(record, name, values, (), set()) for name, values in told.items()}
    payload = act.payload | {"claims": act.payload["claims"] | claims}
    subjects = act.subjects | _refs(changes.told.values())
    return Act(act.verb, act.kind, payload, act.kind_version, act.flags, frozenset(subjects))


def amend(record: Record, changes: Changes, because: str, shown: Iterable[bytes] = ()) -> Act:
    """Fields told anew. Raises Refused where a field is disputed or moved on since it was ``shown``."""
    kind = _kind(record)
    if not record.stands:
        raise Refused("The record was retracted.", "Bring it back first with stands=yes.")
    if kind.keyed in changes.told:
        raise Refused(
            f"'{kind.keyed}' names the record and stays as it is.",
            "Retract this one and write another with the right key.",
        )
    claims: dict[str, Any] = {}
    told = registers_of(kind, changes.told)
    for name in changes.cleared:
        told.setdefault(record.register_of(name), {})
    for name, values in told.items():
        claims[name] = _told(record, name, values, changes.cleared, set(shown))
    for name in {*changes.added, *changes.taken_out}:
        change = _set_change(record, name, changes)
        claims[name] = [{name: change}, []]
    payload: dict[str, Any] = {"of": record.id, "claims": claims}
    if because:
        payload["because"] = because
    refs = _refs(changes.told.values())
    return _act(AMEND, kind, payload, {record.id, *refs, *_named(record)})


def follow(
    record: Record, claims: Mapping[str, tuple[dict[str, Any], list[bytes]]], of: bytes,
    because: str = "",
) -> Act:  # fmt: skip
    """What a record says because another (``of``) says so: per register its values and what it cites.

    What differs from a value that is not cited is a conflict for the keepers to resolve.
    """
    payload: dict[str, Any] = {
        "of": record.id,
        "claims": {name: [values, cites] for name, (values, cites) in claims.items()},
        "follows": of,
    }
    if because:
        payload["because"] = because
    return _act(AMEND, _kind(record), payload, {record.id, of, *_named(record)})


def _told(
    record: Record, name: str, values: dict[str, Any], cleared: Sequence[str], shown: set[bytes]
) -> list[Any]:
    register = record.registers.get(name, Register([], []))
    standing = [claim.entry for claim in register.standing]
    if shown and not shown.issuperset(standing):
        raise Refused(
            f"'{name}' was told anew while you looked at it; nothing was written.",
            "Look again at what is there now, then amend.",
        )
    if register.disputed:
        raise Refused(
            f"'{name}' is disputed: {len(standing)} accounts stand.",
            "Resolve the conflict first ('herdsync conflicts').",
        )
    carried = dict(register.standing[-1].values) if register.standing else {}
    whole = {one: value for one, value in carried.items() if one not in cleared}
    return [whole | values, standing]


def _set_change(record: Record, name: str, changes: Changes) -> dict[str, Any]:
    have = {canonical.encode(element): ids for element, ids in record.elements(name)}
    drop = []
    for element in changes.taken_out.get(name, []):
        ids = have.get(canonical.encode(element))
        if ids is None:
            raise Refused(
                f"'{name}' does not hold that.", "See what it holds with 'herdsync show'."
            )
        drop.append([element, sorted(ids)])
    return {"add": list(changes.added.get(name, [])), "drop": drop}


def retract(record: Record, because: str) -> Act:
    """The record taken back, with the reason."""
    if not record.stands:
        raise Refused("The record is retracted already.", "")
    return stand(record, RETRACT, False, because)


def restore(record: Record, because: str) -> Act:
    """A retracted record brought back."""
    if record.stands and not record.uncited_by_retraction():
        raise Refused("The record stands already.", "")
    return stand(record, AMEND, True, because)


def write_again(record: Record, told: Mapping[str, Any], because: str) -> Act:
    """A retracted keyed record brought back with what is told now, in one act."""
    act = stand(record, AMEND, True, because)
    claims = dict(act.payload["claims"])
    for name, values in registers_of(_kind(record), told).items():
        standing = record.registers.get(name, Register([], [])).standing
        claims[name] = [values, [claim.entry for claim in standing]]
    subjects = act.subjects | _refs(told.values())
    return structs.replace(act, payload=act.payload | {"claims": claims}, subjects=subjects)


def stand(record: Record, verb: str, stands: bool, because: str, **more: Any) -> Act:
    """A word on whether the record stands, citing every word on it and all its claims as seen."""
    cites = [claim.entry for claim in record.registers.get(STANDS, Register([], [])).standing]
    saw = sorted({claim.entry for claim in record.claims()})
    payload = {"of": record.id, "claims": {STANDS: [{STANDS: stands}, cites]}, "saw": saw, **more}
    if because:
        payload["because"] = because
    return _act(verb, _kind(record), payload, {record.id, *_named(record)})


def resolve_field(
    conflict: Conflict, record: Record, values: Mapping[str, Any], because: str
) -> Act:
    """A disputed register resolved to exactly these values, citing every claim that stands."""
    register = record.registers[conflict.field]
    whole = dict(values)
    cites = [claim.entry for claim in register.standing]
    payload: dict[str, Any] = {
        "of": record.id,
        "claims": {conflict.field: [whole, cites]},
        "conflict": conflict.id,
    }
    if because:
        payload["because"] = because
    refs = _refs(whole.values())
    return _act(RESOLVE, _kind(record), payload, {record.id, *refs, *_named(record)})


def completed(register: Register, values: Mapping[str, Any]) -> dict[str, Any]:
    """What a disputed bond says once some of its fields are told; the rest must be undisputed.

    Raises Refused naming a field on which the accounts differ and that was not told.
    """
    whole = dict(values)
    for name in sorted({name for claim in register.standing for name in claim.values}):
        told = [claim.values.get(name) for claim in register.standing]
        if name in whole:
            continue
        if any(canonical.encode(one) != canonical.encode(told[0]) for one in told):
            raise Refused(
                f"The accounts differ on '{name}' too, and it belongs with what you told.",
                f"Tell {name}=... as well, or take one account whole with --take.",
            )
        whole[name] = told[0]
    return whole


def resolve_standing(conflict: Conflict, record: Record, stands: bool, because: str) -> Act:
    """Whether a record stands that was amended or restored beside its retraction."""
    return stand(record, RESOLVE, stands, because, conflict=conflict.id)


def accept(conflict: Conflict, because: str) -> Act:
    """A broken rule let stand, with the reason."""
    if not because.strip():
        raise Refused("A broken rule is let stand only with a reason.", "Say why with --because.")
    kind = CATALOGUE[conflict.record_kind]
    payload = {"conflict": conflict.id, "because": because}
    return _act(RESOLVE, kind, payload, set(conflict.records))


def tie(verb: str, a: Record, b: Record, verdict: Register | None, because: str = "") -> Act:
    """Two records of one kind said to be the same or different, citing every verdict that stands."""
    assert verb in (SAME, DIFFERENT)
    if a.kind != b.kind:
        raise Refused(
            f"A {a.kind} and a {b.kind} cannot be the same.", "Name two records of one kind."
        )
    standing = verdict.standing if verdict is not None else []
    payload: dict[str, Any] = {"a": a.id, "b": b.id, "cites": [one.entry for one in standing]}
    if because:
        payload["because"] = because
    return _act(verb, _kind(a), payload, {a.id, b.id, *_named(a), *_named(b)})


def claim_id(text: str) -> bytes:
    """The id of a claim as an answer gave it. Raises Refused."""
    try:
        return raw_id(text)
    except ValueError as fault:
        raise Refused(
            f"'{text}' is not the id of an account.", "Take it from the answer as it is."
        ) from fault


def taken_claim(conflict: Conflict, text: str) -> Claim:
    """The claim of a conflict whose id begins so. Raises Refused listing them."""
    found = [c for c in conflict.claims if text_id(c.entry).startswith(text.strip().lower())]
    if len(found) != 1 or not text.strip():
        ids = ", ".join(text_id(claim.entry)[:8] for claim in conflict.claims)
        raise Refused(
            f"'{text}' is not one of this conflict's accounts: {ids}.", "Take one of these."
        )
    return found[0]


def _act(verb: str, kind: Kind, payload: dict[str, Any], subjects: Iterable[bytes]) -> Act:
    flags = CRITICAL if kind.critical else 0
    named = frozenset(sorted(set(subjects))[:256])
    return Act(verb, kind.name, payload, kind.version, flags, named)


def _kind(record: Record) -> Kind:
    kind = CATALOGUE.get(record.kind)
    if kind is None:
        raise Refused(
            f"Records of kind '{record.kind}' are of a newer program.", "Update this program."
        )
    return kind


def _refs(values: Iterable[Any]) -> set[bytes]:
    return {value for value in values if isinstance(value, bytes) and len(value) == 16}


def _named(record: Record) -> set[bytes]:
    """The animals and things a record names: who must know that an unreadable change touches them."""
    kind = CATALOGUE[record.kind]
    told = (value for name in kind.refs for value in record.values(name))
    return {value for value in told if isinstance(value, bytes)}
