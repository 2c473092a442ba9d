"""One record, whole: every field with every claim; of an animal also its work, holds and acts."""

from __future__ import annotations

from herdsync.answers import ActLine, ClaimLine, FieldAnswer, RecordAnswer
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.payloads import STANDS
from herdsync.merge.records import Record
from herdsync.projections.conflict_lines import summary
from herdsync.projections.due import Rounds
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.herd_lines import herd_line
from herdsync.projections.look import Look
from herdsync.projections.timers import goat_timers
from herdsync.projections.voices import Voices, answered, claim_line, shown


def record_answer(record: Record, look: Look, voices: Voices) -> RecordAnswer:
    """A record that is no animal, or an animal's sheet alone."""
    return RecordAnswer(
        id=text_id(record.id),
        kind=record.kind,
        fields=fields_of(record, look, voices),
        stands=record.stands,
        title=look.names.of(record),
        ids=[text_id(one) for one in record.ids],
    )


def animal_answer(rounds: Rounds, goat: Goat, voices: Voices) -> RecordAnswer:
    """An animal: its sheet, its line, work, holds, running timers, acts and kids."""
    herd: Herd = rounds.herd
    due = rounds.of_goat(goat)
    return RecordAnswer(
        id=text_id(goat.id),
        kind=goat.record.kind,
        fields=fields_of(goat.record, herd.look, voices),
        stands=goat.record.stands,
        title=goat.name,
        ids=[text_id(one) for one in goat.record.ids],
        animal=herd_line(herd, goat, len(due)),
        due=due,
        holds=rounds.holds_of(goat),
        timers=goat_timers(herd, goat, rounds.plan, voices.doubtful),
        acts=acts_of(goat),
        kids=[text_id(kid.id) for kid in goat.kids],
        unreadable=goat.unreadable,
    )


def fields_of(record: Record, look: Look, voices: Voices) -> dict[str, FieldAnswer]:
    """Every field anybody told: the value that counts, whether disputed, all its claims."""
    found: dict[str, FieldAnswer] = {}
    for field in record.field_names():
        value = record.value(field)
        known = value is not None
        found[field] = FieldAnswer(
            value=answered(record.kind, field, value) if known else None,
            disputed=record.disputed(field),
            claims=_claims(record, field, look, voices),
            shown=shown(record.kind, field, value, look) if known else "",
        )
    return found


def _claims(record: Record, field: str, look: Look, voices: Voices) -> list[ClaimLine]:
    register = record.registers.get(record.register_of(field))
    if register is None:
        return []
    standing = {claim.entry for claim in register.standing}
    return [
        claim_line(claim, field, record.kind, look, voices, stands=claim.entry in standing)
        for claim in register.every()
        if field in claim.values
    ]


def acts_of(goat: Goat) -> list[ActLine]:
    """The acts of an animal's life, newest first."""
    every = [act for acts in goat.acts.values() for act in acts]
    lines = [act_line(act, goat.look) for act in every]
    return sorted(lines, key=lambda line: (line.on, line.id), reverse=True)


def act_line(act: Record, look: Look) -> ActLine:
    """One act in one line."""
    kind = CATALOGUE.get(act.kind)
    when = act.value(kind.on) if kind is not None and kind.on else None
    return ActLine(
        id=text_id(act.id),
        kind=act.kind,
        title=kind.title if kind is not None else act.kind,
        on=str(when or ""),
        shown=summary(act, look),
        disputed=any(
            register.disputed for name, register in act.registers.items() if name != STANDS
        ),
    )
