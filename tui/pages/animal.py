"""One animal, or any record, whole: what holds, what is due, what was done, every field's accounts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.answers import (
    ActLine,
    ClaimLine,
    DueLine,
    FieldAnswer,
    HerdLine,
    RecordAnswer,
    TrailLine,
)
from herdsync.kinds import CATALOGUE
from tui import words
from tui.pages import clocks, pictures, trail
from tui.pages.herd import animal_facts
from tui.pages.page import Cell, Column, Fact, Page, Row, heading
from tui.pages.rounds import line_facts

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("What", 20, grow=1),
    Column("Told", 26, grow=4),
    Column("When", 14, grow=1),
)
EMPTY = "Nothing is told of this record."
BARS_SHOWN = 30
# What is worth a picture: kind of act, the figure in it, its unit, what the picture is called.
PICTURED = (
    ("weighing", "weight_kg", "kg", "Weight"),
    ("milk", "milk_kg", "kg", "Milk, milking by milking"),
)


@dataclass(frozen=True)
class Whole:
    """A record and, of an animal, its figures over time and its family."""

    record: RecordAnswer
    figures: Mapping[str, list[tuple[str, float]]] = field(default_factory=dict)
    herd: Mapping[str, HerdLine] = field(default_factory=dict)
    trail: list[TrailLine] = field(default_factory=list)


def read(farm: Farm, ref: str) -> Whole:
    """The record, whole."""
    record = farm.show(ref)
    if record.animal is None:
        herd = {line.id: line for line in farm.herd(every=True)}
        return Whole(record, {}, herd, farm.trail(ref))
    figures: dict[str, list[tuple[str, float]]] = {}
    for kind, name, _, _ in PICTURED:
        acts = [act for act in record.acts if act.kind == kind][:BARS_SHOWN]
        told = [(act.on, farm.show(act.id).fields.get(name)) for act in reversed(acts)]
        figures[kind] = [
            (on, float(one.value))
            for on, one in told
            if one is not None and isinstance(one.value, int | float)
        ]
    return Whole(record, figures, {line.id: line for line in farm.herd(every=True)})


def page(whole: Whole, now: datetime) -> Page:
    """Holds, clocks and work first; then what it is; then what was done, newest first."""
    told = whole.record
    facts: dict[str, list[Fact]] = {}
    rows = [heading("title", title(told))]
    rows += _headed("Held", _holds(told, now))
    rows += _headed("Clocks", _clocks(told, now))
    rows += _headed("Due", [work_row(line, now) for line in told.due])
    facts |= {line.id: line_facts(line, told.animal, now) for line in told.due}
    fields = [field_row(told, name, one, now) for name, one in told.fields.items()]
    rows += _headed("What is told of it", fields)
    accounts = [field_facts(one, now) for one in told.fields.values()]
    facts |= {row.key: said for row, said in zip(fields, accounts, strict=True)}
    if told.animal is not None:
        rows += _headed("Family", pictures.family(told.animal, whole.herd))
        rows += _headed("Kids", [_kid(id, whole.herd) for id in told.kids])
    changes = trail.entries(whole.trail)
    rows += _headed("Trail", [_trail_row(one, whole, now) for one in changes])
    rows += _headed("Done", [act_row(act, now) for act in told.acts])
    facts |= {act.id: [Fact(act.title, act.shown or "no details")] for act in told.acts}
    facts |= {
        f"hold {number}": clocks.hold_facts(hold, now) for number, hold in enumerate(told.holds)
    }
    short = short_facts(whole, now)
    for row in rows:
        facts.setdefault(row.key, short)
    return Page(COLUMNS, rows, EMPTY, facts)


def title(told: RecordAnswer) -> str:
    """What a record is called, with its kind and what holds it."""
    kind = CATALOGUE[told.kind].title if told.kind in CATALOGUE else told.kind
    gone = "" if told.stands else ", taken back"
    held = words.hold_tags([hold.what for hold in told.holds])
    return f"{told.title}  ({kind}{gone})  {held}".rstrip()


def short_facts(whole: Whole, now: datetime) -> list[Fact]:
    """An animal in short, with the pictures there are figures for."""
    animal = whole.record.animal
    if animal is None:
        return []
    found = animal_facts(animal, now)
    for kind, _, unit, called in PICTURED:
        figures = whole.figures.get(kind, [])
        if len(figures) > 1:
            found.append(Fact(called, pictures.course(figures, unit, BARS_SHOWN), "accent"))
    return found


def _headed(called: str, rows: list[Row]) -> list[Row]:
    return [heading(called, called), *rows] if rows else []


def _holds(told: RecordAnswer, now: datetime) -> list[Row]:
    rows = []
    for number, hold in enumerate(told.holds):
        until = words.stamp(hold.until, now) if hold.until else "nobody knows"
        cells = (
            Cell(f"{words.hold_tags([hold.what])} {hold.what}", "held"),
            Cell(hold.reason),
            Cell(until, "held"),
        )
        rows.append(Row(f"hold {number}", cells, record=hold.records[0] if hold.records else ""))
    return rows


def _clocks(told: RecordAnswer, now: datetime) -> list[Row]:
    rows = []
    for number, timer in enumerate(told.timers):
        left = words.countdown(words.seconds_left(timer.ends, now))
        cells = (Cell(timer.what), Cell(words.day_word(timer.ends, now)), Cell(left, "strong"))
        record = timer.records[0] if timer.records else ""
        rows.append(Row(f"clock {number}", cells, record=record))
    return rows


def work_row(line: DueLine, now: datetime) -> Row:
    """One piece of due work."""
    cells = (
        Cell(words.state_word(line.state), line.state),
        Cell(("! " if line.caution else "") + line.work),
        Cell(words.until(line, now), line.state),
    )
    return Row(line.id, cells, animal=line.animal, name=line.name)


def field_row(told: RecordAnswer, name: str, one: FieldAnswer, now: datetime) -> Row:
    """One field with the value that counts."""
    mark, tone = ("? ", "late") if one.disputed else ("", "plain")
    last = one.claims[-1] if one.claims else None
    by = f"by {last.by or last.keeper}" if last is not None else ""
    cells = (
        Cell(words.label(name), "dim"),
        Cell(mark + words.spoken(told_value(one), now), tone),
        Cell(by, "dim"),
    )
    return Row(f"field {name}", cells, record=told.id)


def told_value(one: FieldAnswer) -> str:
    """The value that counts, in the keeper's words."""
    if one.shown:
        return one.shown
    return "" if one.value is None else str(one.value)


def field_facts(one: FieldAnswer, now: datetime) -> list[Fact]:
    """Every account of a field, who gave it and when."""
    found = [account(claim, now) for claim in one.claims]
    if one.disputed:
        found.insert(0, Fact("? Disputed", "Accounts differ: look at Conflicts (6).", "late"))
    return found


def account(claim: ClaimLine, now: datetime) -> Fact:
    """One account in one fact."""
    by = claim.keeper if claim.by in ("", claim.keeper) else f"{claim.by} ({claim.keeper}'s laptop)"
    ended = "" if claim.stands else ", no longer counts"
    doubt = "" if claim.vouched else ", not vouched for"
    label = f"{by} at {claim.device}, {words.day_word(claim.recorded, now)}{ended}{doubt}"
    return Fact(label, claim.shown or str(claim.value), "plain" if claim.stands else "dim")


def act_row(act: ActLine, now: datetime) -> Row:
    """One act in an animal's life."""
    mark = "? " if act.disputed else ""
    cells = (
        Cell(mark + act.title, "late" if act.disputed else "plain"),
        Cell(act.shown, "dim"),
        Cell(words.stamp(act.on, now)),
    )
    return Row(act.id, cells, record=act.id, name=act.title)


def _trail_row(changes: list[TrailLine], whole: Whole, now: datetime) -> Row:
    """One entry that told something of a record."""
    line = changes[0]
    names = {id: animal.name for id, animal in whole.herd.items()}
    because = f", because {line.because}" if line.because else ""
    said = "; ".join(trail.all_changes(changes, names, now)) + because
    cells = (
        Cell(f"{line.verb} by {line.by or line.keeper}"),
        Cell(said, "dim"),
        Cell(words.stamp(line.recorded, now)),
    )
    return Row(f"entry {line.entry}", cells, record=line.record, name=line.title)


def _kid(id: str, herd: Mapping[str, HerdLine]) -> Row:
    line = herd.get(id)
    name = line.name if line is not None else id[:8]
    says = f"{line.sex}, {words.age(line.age_days)}" if line is not None else ""
    cells = (Cell("kid", "dim"), Cell(name), Cell(says, "dim"))
    return Row(f"kid {id}", cells, animal=id, name=name, record=id)
