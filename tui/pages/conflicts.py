"""Conflicts: what was written that does not agree, and what each way out of it would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.answers import ClaimLine, ConflictLine, HerdLine, RecordAnswer, Timer
from herdsync.kinds import CATALOGUE
from tui import words
from tui.pages.page import Cell, Column, Page, Row

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("About", 12, grow=1),
    Column("What", 20, grow=2),
    Column("Sort", 14),
    Column("Says", 10, grow=4, room=90),
)
EMPTY = (
    "Everything written agrees.\n\n"
    "b  exchange with a partner: what differs comes up here\ni  see what was resolved before"
)
SORTS = {
    "field": "two accounts",
    "retract": "taken back?",
    "pair": "twice written?",
    "rule": "cannot be",
}


@dataclass(frozen=True)
class Conflicts:
    """What Conflicts needs of the farm."""

    lines: list[ConflictLine]
    records: dict[str, RecordAnswer]
    animals: dict[str, HerdLine]
    timers: list[Timer]


def read(farm: Farm, timers: list[Timer], *, every: bool) -> Conflicts:
    """Conflicts with the records they touch; ``timers`` are all that run."""
    lines = farm.conflicts(every=every)
    touched = {id for line in lines for id in line.records}
    records = {id: farm.show(id) for id in sorted(touched)}
    if not lines:
        return Conflicts([], {}, {}, [])
    about = sorted({line.animal for line in lines if line.animal})
    animals = {one.id: one for one in farm.animal_lines(about)}
    return Conflicts(lines, records, animals, timers)


def page(told: Conflicts) -> Page:
    """One line a conflict, open ones first."""
    ordered = sorted(told.lines, key=lambda line: not line.open)
    return Page(COLUMNS, [row(line) for line in ordered], EMPTY)


def row(line: ConflictLine) -> Row:
    """One conflict as a line."""
    done = "" if line.open else "resolved, "
    cells = (
        Cell(line.name or "the farm", "strong" if line.open else "dim"),
        Cell(what(line)),
        Cell(done + SORTS.get(line.kind, line.kind), "late" if line.open else "dim"),
        Cell(line.says, "dim"),
    )
    return Row(line.id, cells, animal=line.animal, name=line.name, record=line.subject)


def what(line: ConflictLine) -> str:
    """What it is about in words: the kind of record, and the field."""
    kind = CATALOGUE.get(line.record_kind)
    title = kind.title if kind is not None else line.record_kind
    if line.kind in ("pair", "retract"):
        return title
    return f"{title}: {line.field.replace('_', ' ')}"


def above(line: ConflictLine, told: Conflicts, now: datetime) -> list[tuple[str, str]]:
    """The sentences over the accounts: what is wrong, what counts until then, the ways out."""
    found = [(line.says, "strong")]
    record = told.records.get(line.records[0]) if line.records else None
    if line.kind == "field" and record is not None:
        kind = CATALOGUE.get(line.record_kind)
        names = kind.registers.get(line.field, (line.field,)) if kind is not None else (line.field,)
        counting = [
            f"{name.replace('_', ' ')} {words.spoken(record.fields[name].shown, now)}"
            for name in names
            if name in record.fields
        ]
        if counting and line.open:
            found.append((f"Until it is resolved this counts: {', '.join(counting)}.", "closing"))
    found.append((ways_out(line), "accent"))
    return [one for one in found if one[0]]


def below(line: ConflictLine, told: Conflicts, now: datetime) -> list[tuple[str, str]]:
    """The sentences under the accounts: how to mend it, and what rests on it."""
    shared = in_common(line, told, now)
    found = [("", "plain"), *([(shared, "dim")] if shared else []), (line.mend, "dim")]
    return found + [(said, "held") for said in resting(line, told, now)]


def resting(line: ConflictLine, told: Conflicts, now: datetime) -> list[str]:
    """Holds and clocks that rest on a record in conflict, so that a choice may change them."""
    touched = set(line.records)
    found = []
    for timer in told.timers:
        if touched & set(timer.records):
            ends = words.day_word(timer.ends, now)
            found.append(f"Your choice may change: {timer.name}, {timer.what} {ends}.")
    animal = told.animals.get(line.animal)
    for hold in animal.holds if animal is not None else []:
        found.append(f"Held now: {animal.name if animal else ''}, {hold}.")
    return found


def foreseen(farm: Farm, line: ConflictLine, take: str) -> list[tuple[str, str]]:
    """What taking an account, or saying same or different, would change in due work and holds."""
    if line.kind == "pair":
        trials = [
            ("Same would change", farm.consequences(line.id, same=True)),
            ("Different would change", farm.consequences(line.id)),
        ]
    else:
        letter = next(
            (chr(ord("A") + place) for place, one in enumerate(line.claims) if one.id == take), ""
        )
        trials = [(f"Taking {letter} would change", farm.consequences(line.id, take=take))]
    told: list[tuple[str, str]] = []
    for title, changes in trials:
        told.append((f"{title}:" if changes else f"{title} no work and no hold.", "accent"))
        told += [(f"  {one}", "held") for one in changes]
    return told


def account_lines(
    claim: ClaimLine, line: ConflictLine, told: Conflicts, now: datetime
) -> tuple[tuple[str, str], ...]:
    """What one account says, when it was written, and which others its writer had seen."""
    found: list[tuple[str, str]] = [(words.spoken(claim.shown or str(claim.value), now), "strong")]
    if line.kind in ("pair", "rule"):
        record = told.records.get(str(claim.value))
        if record is not None:
            others = [told.records[one] for one in line.records if one != record.id]
            found = [(record.title, "plain"), *compared(record, others, now)]
    found.append((f"written {words.day_word(claim.recorded, now)}", "dim"))
    letters = {one.id: chr(ord("A") + place) for place, one in enumerate(line.claims)}
    seen = [letters[one] for one in claim.saw if one in letters and one != claim.id]
    found.append((f"had seen {', '.join(seen)}" if seen else "had seen no other account", "dim"))
    if not claim.vouched:
        found.append(("not vouched for: counts for safety alone", "late"))
    return tuple(found)


def compared(
    record: RecordAnswer, others: Sequence[RecordAnswer], now: datetime
) -> list[tuple[str, str]]:
    """The fields of a record that the others do not tell alike."""
    shared = alike([record, *others])
    return [
        (f"≠ {_field(record, name, now)}", "strong") for name in record.fields if name not in shared
    ]


def alike(records: Sequence[RecordAnswer]) -> list[str]:
    """The fields that all of these records tell alike."""
    first, *others = records
    return [
        name
        for name, field in first.fields.items()
        if all(name in one.fields and one.fields[name].value == field.value for one in others)
    ]


def _field(record: RecordAnswer, name: str, now: datetime) -> str:
    field = record.fields[name]
    return f"{name.replace('_', ' ')}: {words.spoken(field.shown or str(field.value), now)}"


def in_common(line: ConflictLine, told: Conflicts, now: datetime) -> str:
    """What all accounts of two or more records say alike, in one sentence; empty for nothing."""
    records = [told.records[id] for id in line.records if id in told.records]
    if line.kind not in ("pair", "rule") or len(records) < 2:
        return ""
    said = [_field(records[0], name, now) for name in alike(records)]
    return f"Told alike: {', '.join(said)}." if said else ""


def who(claim: ClaimLine) -> str:
    """Who gave an account, and where."""
    by = claim.keeper if claim.by in ("", claim.keeper) else f"{claim.by} for {claim.keeper}"
    return f"{by} at {claim.device}"


def ways_out(line: ConflictLine) -> str:
    """The keys that resolve a conflict of this sort."""
    if not line.open:
        return "resolved; enter opens the record"
    ways = {
        "field": "left right choose · t take it · v another value · w why · n leave a note",
        "retract": "left right choose · t take it · w why · n leave a note",
        "pair": "s the same, written twice · d different, both happened · w why · n leave a note",
        "rule": "left right choose · e amend it · x take it back · a let it stand, with why · n note",
    }
    return ways.get(line.kind, "")
