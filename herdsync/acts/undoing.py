"""Undo: the acts that take back a device's newest act, or the whole batch it belongs to.

Nothing is erased: an undo is a further act that names what it undoes. An undo is not itself undone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import chain
from typing import Any

from herdsync.acts.composing import stand, tie
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.log.entry import CRITICAL, RECORD_BYTES, Entry, keyed_record_id
from herdsync.log.trust import FOUND
from herdsync.log.writer import Act
from herdsync.merge.payloads import (
    AMEND,
    DIFFERENT,
    RECORD,
    RESOLVE,
    RETRACT,
    SAME,
    STANDS,
    VERBS,
)
from herdsync.merge.records import Claim, Record, Register
from herdsync.merge.shelf import Shelf

UNDONE = "undone by the one who wrote it"
# What the founding sets by itself, in how many entries at most, and which is the last of them.
SETTING, SET_BY_FOUNDING, LAST_OF_FOUNDING = "setting", 5, "plan-hash"


def newest_acts(own: Iterable[Entry]) -> list[Entry]:
    """The newest act of a device that was not undone, with its whole batch; ``own`` newest first."""
    undone: set[bytes] = set()
    found: list[Entry] = []
    before: list[Entry] = []
    turns = iter(own)
    for entry in turns:
        if found and (entry.body.batch is None or entry.body.batch != found[0].body.batch):
            before.append(entry)
            break
        undoes = entry.body.payload.get("undoes")
        if undoes is not None:
            undone.add(undoes)
        elif entry.id[:RECORD_BYTES] not in undone and entry.header.verb in VERBS:
            found.append(entry)
    if not found or _of_founding(found[0], chain(before, turns)):
        raise Refused("This laptop has written nothing that could be undone.", "")
    return found


def _of_founding(entry: Entry, before: Iterator[Entry]) -> bool:
    """Whether the founding itself wrote it: the settings up to the care plan it began with."""
    if entry.header.kind != SETTING or entry.header.sequence > SET_BY_FOUNDING or entry.body.batch:
        return False
    own = list(before)
    planned = any(one.body.payload.get("key") == LAST_OF_FOUNDING for one in own)
    return bool(own) and own[-1].header.verb == FOUND and not planned


def undo(entries: list[Entry], shelf: Shelf, name_of: Callable[[bytes], str]) -> list[Act]:
    """The acts that take these back. Raises Refused naming what someone has since changed."""
    unread = {one.entry for one in shelf.every_unread()}
    if any(entry.id in unread for entry in entries):
        raise _of_a_newer_program()
    return [_undo(entry, shelf, name_of) for entry in entries]


def _undo(entry: Entry, shelf: Shelf, name_of: Callable[[bytes], str]) -> Act:
    verb, payload, id = entry.header.verb, entry.body.payload, entry.id[:RECORD_BYTES]
    if verb in (SAME, DIFFERENT):
        return _undo_tie(entry, shelf)
    if verb == RESOLVE:
        raise Refused(
            "A resolved conflict is not undone: the accounts it ended would be lost from sight.",
            "Amend the field to what is right, saying why.",
        )
    record = shelf.get(payload["of"] if verb != RECORD else _began(entry, shelf))
    if record is None or record.kind not in CATALOGUE:
        raise _of_a_newer_program()
    _refuse_if_moved_on(record, entry, name_of)
    if verb == RECORD:
        return stand(record, RETRACT, False, UNDONE, undoes=id)
    if STANDS in payload["claims"]:
        back = not payload["claims"][STANDS][0][STANDS]
        return stand(record, AMEND if back else RETRACT, back, UNDONE, undoes=id)
    return _undo_amend(record, id, payload)


def _of_a_newer_program() -> Refused:
    return Refused(
        "What this laptop wrote last was written by a newer program, which this one cannot read.",
        "Update this program on this laptop, then undo.",
    )


def _began(entry: Entry, shelf: Shelf) -> bytes:
    key = entry.body.payload.get("key")
    if key is None:
        return entry.record_id
    spec = CATALOGUE.get(entry.header.kind)
    if spec is None or spec.keyed is None:
        return keyed_record_id(entry.header.farm, entry.header.kind, key)
    for record in shelf.of_kind(entry.header.kind):
        if record.value(spec.keyed) == key:
            return record.id
    raise Refused("What this wrote was taken back already.", "")


def _refuse_if_moved_on(record: Record, entry: Entry, name_of: Callable[[bytes], str]) -> None:
    id, device = entry.id[:RECORD_BYTES], entry.header.device
    later = [c for c in record.claims() if id in c.cites and c.author.device != device]
    if later:
        who = later[-1].author.by
        raise Refused(
            f"{name_of(record.id)} was amended since, by {who}; nothing was undone.",
            "Amend or retract it by hand, saying why.",
        )


def _undo_amend(record: Record, id: bytes, payload: dict[str, Any]) -> Act:
    claims: dict[str, Any] = {}
    for name in payload["claims"]:
        register = record.registers[name]
        own = next((claim for claim in register.every() if claim.entry == id), None)
        if own is None:
            continue
        if any(isinstance(value, dict) for value in own.values.values()):
            claims[name] = [_set_back(own), []]
            continue
        before = _before(register, own)
        if before is None:
            raise Refused(
                f"'{name}' is disputed since; nothing was undone.",
                "Resolve the conflict instead ('herdsync conflicts').",
            )
        claims[name] = [before, [claim.entry for claim in register.standing]]
    kind = CATALOGUE[record.kind]
    undoing = {"of": record.id, "claims": claims, "because": UNDONE, "undoes": id}
    if "follows" in payload:
        undoing["follows"] = payload["follows"]
    flags = CRITICAL if kind.critical else 0
    return Act(AMEND, kind.name, undoing, kind.version, flags, frozenset({record.id}))


def _before(register: Register, own: Claim) -> dict[str, Any] | None:
    """What a register said without a claim; None where the accounts of it differ even so."""
    if not register.disputed:
        before = [claim for claim in register.ended if claim.entry in own.cites]
        # Claims that agreed are one value; nothing before means the field was not told at all.
        return dict(before[-1].values) if before else {}
    others = [claim for claim in register.standing if claim.entry != own.entry]
    # An account given beside the others cites none of them: without it they are what stands.
    beside = not own.cites and len(others) < len(register.standing)
    agreed = len({claim.same_as for claim in others}) == 1
    return dict(others[-1].values) if beside and agreed else None


def _set_back(claim: Claim) -> dict[str, Any]:
    return {
        name: {
            "add": [element for element, _ in change["drop"]],
            "drop": [[element, [claim.entry]] for element in change["add"]],
        }
        for name, change in claim.values.items()
    }


def _undo_tie(entry: Entry, shelf: Shelf) -> Act:
    payload = entry.body.payload
    a, b = shelf.get(payload["a"]), shelf.get(payload["b"])
    if a is None or b is None:
        raise _of_a_newer_program()
    other = DIFFERENT if entry.header.verb == SAME else SAME
    act = tie(other, a, b, None, UNDONE)
    undoing = act.payload | {
        "a": payload["a"],
        "b": payload["b"],
        "cites": [entry.id[:RECORD_BYTES]],
        "undoes": entry.id[:RECORD_BYTES],
    }
    return Act(act.verb, act.kind, undoing, act.kind_version, act.flags, act.subjects)
