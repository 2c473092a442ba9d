"""One animal, or any record, whole: what holds, what is due, what was done, every field's accounts."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.answers import ActLine, ClaimLine, DueLine, FieldAnswer, RecordAnswer
from tui import words
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


def read(farm: Farm, ref: str) -> RecordAnswer:
    """The record, whole."""
    return farm.show(ref)


def page(told: RecordAnswer, now: datetime) -> Page:
    """Holds, clocks and work first; then what it is; then what was done, newest first."""
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    rows += _holds(told, now)
    for line in told.due:
        rows.append(work_row(line, now))
        facts[line.id] = line_facts(line, told.animal, now)
    for name, field in told.fields.items():
        row = field_row(told, name, field)
        rows.append(row)
        facts[row.key] = field_facts(field, now)
    for act in told.acts:
        rows.append(act_row(act, now))
        facts[act.id] = [Fact(act.title, act.shown or "no details"), Fact("Id", act.id, "dim")]
    headed = _with_headings(rows)
    short = animal_facts(told.animal, now) if told.animal is not None else []
    for row in headed:
        facts.setdefault(row.key, short)
    return Page(COLUMNS, headed, EMPTY, facts)


def _with_headings(rows: list[Row]) -> list[Row]:
    """A heading before each run of rows of one sort; the sort is the beginning of the key."""
    titles = {"hold": "Held", "clock": "Clocks", "field": "What is told of it"}
    found: list[Row] = []
    last = ""
    for row in rows:
        sort = row.key.split(" ")[0] if " " in row.key else ("work" if row.pen == "due" else "act")
        if sort != last:
            found.append(heading(sort, titles.get(sort, {"work": "Due"}.get(sort, "Done"))))
            last = sort
        found.append(row)
    return found


def _holds(told: RecordAnswer, now: datetime) -> list[Row]:
    rows = []
    for number, hold in enumerate(told.holds):
        until = words.day_word(hold.until, now) if hold.until else "nobody knows when"
        tag = words.hold_tags([hold.what]) or "■HELD"
        cells = (Cell(f"{tag} {hold.what}", "held"), Cell(hold.reason), Cell(f"until {until}"))
        rows.append(Row(f"hold {number}", cells, record=hold.records[0] if hold.records else ""))
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
    return Row(line.id, cells, animal=line.animal, name=line.name, pen="due")


def field_row(told: RecordAnswer, name: str, field: FieldAnswer) -> Row:
    """One field with the value that counts."""
    label = name.replace("_", " ")
    mark, tone = ("? ", "late") if field.disputed else ("", "plain")
    last = field.claims[-1] if field.claims else None
    by = f"by {last.by or last.keeper}" if last is not None else ""
    cells = (Cell(label, "dim"), Cell(mark + told_value(field), tone), Cell(by, "dim"))
    return Row(f"field {name}", cells, record=told.id)


def told_value(field: FieldAnswer) -> str:
    """The value that counts, in the keeper's words."""
    if field.shown:
        return field.shown
    return "" if field.value is None else str(field.value)


def field_facts(field: FieldAnswer, now: datetime) -> list[Fact]:
    """Every account of a field, who gave it and when."""
    found = [account(claim, now) for claim in field.claims]
    if field.disputed:
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
        Cell(words.day_word(act.on, now)),
    )
    return Row(act.id, cells, record=act.id, name=act.title)
