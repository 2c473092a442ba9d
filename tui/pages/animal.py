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
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.reports import MarkLine
from herdsync.sights import Sights
from tui import words
from tui.pages import clocks, life, pictures, trail
from tui.pages.herd import animal_facts
from tui.pages.page import Cell, Column, Fact, Page, Row, heading
from tui.pages.rounds import line_facts

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("What", 16, grow=1),
    Column("Told", 30, grow=5),
    Column("When", 14, grow=1),
)
EMPTY = "Nothing is told of this record."


@dataclass(frozen=True)
class Whole:
    """A record and, of an animal, its figures, marks and family; of any other record its trail."""

    record: RecordAnswer
    herd: Mapping[str, HerdLine] = field(default_factory=dict)
    sights: Sights | None = None
    marks: MarkLine | None = None
    trail: list[TrailLine] = field(default_factory=list)


def read(farm: Farm, ref: str) -> Whole:
    """The record, whole."""
    record = farm.show(ref)
    herd = {line.id: line for line in farm.herd(every=True)}
    if record.animal is None:
        return Whole(record, herd, trail=farm.trail(ref))
    return Whole(record, herd, farm.sights(ref), _marks(farm, ref))


def _marks(farm: Farm, ref: str) -> MarkLine | None:
    try:
        return next(iter(farm.marks(ref).animals), None)
    except Refused:
        return None  # its page is whole without a suggestion of the next mark


def page(whole: Whole, now: datetime) -> Page:
    """Holds, clocks and work first; then what it is by subject; then every field, kin and act."""
    told = whole.record
    facts: dict[str, list[Fact]] = {}
    rows = [heading("title", title(told))]
    rows += _headed("Held", _holds(told, now))
    rows += _headed("Clocks", _clocks(told, now))
    rows += _headed("Due", [work_row(line, now) for line in told.due])
    facts |= {line.id: line_facts(line, told.animal, now) for line in told.due}
    if told.animal is not None:
        lives = (told.acts, whole.marks, whole.sights)
        rows += _headed("In short", life.rows(told.animal, *lives, now))
        facts |= life.facts(*lives)
    fields = [field_row(told, name, one, now) for name, one in told.fields.items()]
    rows += _headed("What is told of it", fields)
    accounts = [field_facts(one, now) for one in told.fields.values()]
    facts |= {row.key: said for row, said in zip(fields, accounts, strict=True)}
    if told.animal is not None:
        rows += _headed("Family", pictures.family(told.animal, whole.herd))
        rows += _headed("Kids", [_kid(id, whole.herd) for id in told.kids])
    changes = trail.entries(whole.trail)
    rows += _headed("Trail", [_trail_row(one, whole, now) for one in changes])
    rows += _headed("History, newest first", [act_row(act, now) for act in told.acts])
    facts |= {act.id: [Fact(act.title, act.shown or "no details")] for act in told.acts}
    facts |= {
        f"hold {number}": clocks.hold_facts(hold, now) for number, hold in enumerate(told.holds)
    }
    short = animal_facts(told.animal, now) if told.animal is not None else []
    for row in rows:
        facts.setdefault(row.key, short)
    return Page(COLUMNS, rows, EMPTY, facts)


def title(told: RecordAnswer) -> str:
    """What a record is called, with its kind and what holds it."""
    kind = CATALOGUE[told.kind].title if told.kind in CATALOGUE else told.kind
    gone = "" if told.stands else ", taken back"
    held = words.hold_tags([hold.what for hold in told.holds])
    return f"{told.title}  ({kind}{gone})  {held}".rstrip()


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
    says = f"{line.sex_now}, {words.age(line.age_days)}" if line is not None else ""
    cells = (Cell("kid", "dim"), Cell(name), Cell(says, "dim"))
    return Row(f"kid {id}", cells, animal=id, name=name, record=id)
