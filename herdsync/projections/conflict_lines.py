"""Disagreements as the keepers read them: both claims side by side, and what to do about it."""

from __future__ import annotations

from herdsync.answers import ClaimLine, ConflictLine
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.conflicts import FIELD, PAIR, RETRACTED, RULE, Conflict
from herdsync.merge.payloads import STANDS, VERDICT
from herdsync.merge.records import Claim, Record
from herdsync.projections.look import Look
from herdsync.projections.voices import Voices, claim_line, fields_shown, label, shown


def conflict_line(conflict: Conflict, look: Look, voices: Voices) -> ConflictLine:
    """One disagreement, open or closed."""
    record = look.records.get(conflict.records[0])
    animal = _animal(record, look)
    says, mend = conflict.says, conflict.mend
    if conflict.kind == FIELD and not says:
        says = f"Two accounts stand on {_what(conflict)}{_of(record, look)}."
        mend = "Take one of them, or say what is right."
    if conflict.kind == RETRACTED and not says:
        says = f"It was taken back by one and amended by another{_of(record, look)}."
        mend = "Say whether it stands."
    return ConflictLine(
        id=text_id(conflict.id),
        kind=conflict.kind,
        subject=text_id(conflict.records[0]),
        field=conflict.field,
        claims=[_claim(claim, conflict, look, voices) for claim in conflict.claims],
        after=text_id(conflict.after) if conflict.after else "",
        open=conflict.open,
        says=says,
        mend=mend,
        records=[text_id(one) for one in conflict.records],
        record_kind=conflict.record_kind,
        animal=text_id(animal.id) if animal is not None else "",
        name=look.names.of(animal) if animal is not None else "",
    )


def _claim(claim: Claim, conflict: Conflict, look: Look, voices: Voices) -> ClaimLine:
    """A claim in a conflict: between records it stands for the whole record it began."""
    field = _only_field(conflict)
    kind = conflict.record_kind
    line = claim_line(claim, field, kind, look, voices)
    among = {one.entry for one in conflict.claims}
    saw = [text_id(one) for one in voices.saw(claim.entry) if one in among]
    if conflict.kind not in (PAIR, RULE):
        words = shown(kind, claim.register, claim.values, look) if not line.shown else line.shown
        return _with(line, saw, line.value, words)
    if claim.register == VERDICT:
        same = bool(claim.values[VERDICT])
        return _with(line, saw, same, "the same" if same else "different")
    record = look.records.get(claim.record)
    if record is None:
        return _with(line, saw, text_id(claim.record), "not on record")
    title = CATALOGUE[record.kind].title if record.kind in CATALOGUE else record.kind
    return _with(line, saw, text_id(claim.record), summary(record, look) or title)


def _with(line: ClaimLine, saw: list[str], value: object, words: str) -> ClaimLine:
    return ClaimLine(
        line.id, value, line.keeper, line.by, line.device, line.recorded, saw, words,
        line.stands, line.vouched,
    )  # fmt: skip


def summary(record: Record, look: Look) -> str:
    """An act in one line: its fields as they count, without whom and when."""
    kind = CATALOGUE.get(record.kind)
    left_out = {kind.subject, kind.on, STANDS} if kind is not None else {STANDS}
    told = {name: record.value(name) for name in record.field_names() if name not in left_out}
    return fields_shown(
        record.kind, {name: value for name, value in told.items() if value not in (None, [])}, look
    )


def _only_field(conflict: Conflict) -> str:
    """The field of a register that holds one alone, else the register itself."""
    kind = CATALOGUE.get(conflict.record_kind)
    fields = kind.registers.get(conflict.field, ()) if kind is not None else ()
    return fields[0] if len(fields) == 1 else conflict.field


def _what(conflict: Conflict) -> str:
    kind = CATALOGUE.get(conflict.record_kind)
    fields = kind.registers.get(conflict.field, ()) if kind is not None else ()
    named = fields or (conflict.field,)
    return " and ".join(label(conflict.record_kind, name) for name in named)


def _of(record: Record | None, look: Look) -> str:
    return f" of {look.names.of(record)}" if record is not None else ""


def _animal(record: Record | None, look: Look) -> Record | None:
    """The animal a record is about, or the animal it is."""
    if record is None or record.kind == "animal":
        return record
    kind = CATALOGUE.get(record.kind)
    told = record.value(kind.subject) if kind is not None and kind.subject else None
    found = look.records.get(told) if isinstance(told, bytes) else None
    return found if found is not None and found.kind == "animal" else None
