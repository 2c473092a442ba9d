"""Kidding: does in kid and when, does and bucks that met, kids and the windows of their first months."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from tui import words
from tui.pages.herd import animal_facts
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.answers import HerdLine
    from herdsync.farm import Farm

COLUMNS = (
    Column("Animal", 13, grow=1),
    Column("Now", 20, grow=2),
    Column("When", 20, grow=2),
    Column("Says", 10, grow=4, room=90),
)
EMPTY = (
    "No doe is in kid and there is no kid.\n\n"
    "o  write down a mating or a heat: the due date is worked out from it\n"
    "k  write down a kidding, then each kid"
)
PRESSING = ("closing", "late", "due", "open")
WINDOWS_SHOWN = 12


def read(farm: Farm, now: datetime) -> Page:
    """Does, kids and meetings as lines."""
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    herd = farm.herd()
    bred = [line for line in herd if any(one in ("bred", "mated") for one in line.state)]
    if bred:
        rows.append(heading("does", "In kid", words.count(len(bred), "doe")))
        for line in sorted(bred, key=_due):
            rows.append(_doe(line, now))
            facts[line.id] = animal_facts(line, now)
    kids = farm.kids()
    if kids:
        rows.append(heading("kids", "Kids", words.count(len(kids), "kid")))
    pens = {line.id: line.pen for line in herd}
    for kid in kids:
        open_now = [task for task in kid.tasks if task.state in PRESSING]
        first = min(open_now, key=lambda task: words.pressing(task.state), default=None)
        weight = f"{kid.weight_kg:g} kg" if kid.weight_kg is not None else "not weighed"
        gain = f", {kid.gain_g_per_day:g} g/day" if kid.gain_g_per_day is not None else ""
        cells = (
            Cell(kid.name, "strong"),
            Cell(f"{kid.sex}, {words.age(kid.age_days)}, {weight}{gain}"),
            Cell(
                f"{words.state_word(first.state)}: {first.work}" if first else "nothing open",
                first.state if first else "dim",
            ),
            Cell(f"dam {kid.dam}" if kid.dam else "", "dim"),
        )
        pen = pens.get(kid.id, "")
        rows.append(Row(f"kid {kid.id}", cells, animal=kid.id, name=kid.name, pen=pen))
        told = [Fact("Gain", kid.gain_says)] if kid.gain_says else []
        for task in sorted(kid.tasks, key=lambda one: words.pressing(one.state))[:WINDOWS_SHOWN]:
            span = _span(task.opens, task.closes, now)
            said = f"done {words.day_word(task.done, now)}" if task.done else span
            mark = "✓ done" if task.state == "done" else words.state_word(task.state)
            tone = "good" if task.state == "done" else task.state
            told.append(Fact("", f"{mark}  {task.work}, {said}", tone))
        if kid.decision:
            told.append(Fact("To weigh up before he is castrated, or kept", ""))
            told += [Fact("", one) for one in kid.decision]
        facts[f"kid {kid.id}"] = told
    rows += _meetings(farm, facts, now)
    return Page(COLUMNS, rows, EMPTY, facts)


def _meetings(farm: Farm, facts: dict[str, list[Fact]], now: datetime) -> list[Row]:
    """Does that shared a pen with a male able to sire."""
    rows: list[Row] = []
    for number, one in enumerate(farm.exposures()):
        key = f"met {number} {one.doe}"
        sure = "" if one.sure else "? "
        window = " to ".join(words.day_word(day, now) for day in one.window)
        cells = (
            Cell(f"{sure}{one.doe_name}", "late"),
            Cell(f"with {one.male_name} in {one.pen}, {one.days} d"),
            Cell(f"may kid {window}" if window else ""),
            Cell(one.says, "dim"),
        )
        rows.append(Row(key, cells, animal=one.doe, name=one.doe_name, pen=one.pen))
        kin = f"{one.relationship:.3g}" if one.relationship else "none known"
        facts[key] = [Fact("Met", one.says, "late"), Fact("Related", kin)]
    if rows:
        rows.insert(0, heading("met", "Shared a pen with a male able to sire"))
    return rows


def _due(line: HerdLine) -> str:
    return next((one for one in line.state if one.startswith("due ")), "z")


def _doe(line: HerdLine, now: datetime) -> Row:
    due = _due(line).removeprefix("due ")
    moment = words.moment_of(due, now)
    when = "due date unknown"
    if moment is not None:
        days = (moment.date() - now.date()).days
        gap = f"in {days} d" if days >= 0 else f"{-days} d past"
        when = f"due {words.day_word(due, now)}, {gap}"
    state = ", ".join(one for one in line.state if not one.startswith("due "))
    name = words.named(line.name, line.holds)
    cells = (
        Cell(name, "held" if words.not_for_sale(line.holds) else "strong"),
        Cell(state),
        Cell(when, "strong"),
        Cell(words.mark_of(line), "dim"),
    )
    return Row(line.id, cells, animal=line.id, name=line.name, pen=line.pen)


def _span(opens: str, closes: str, now: datetime) -> str:
    told = [words.day_word(one, now) for one in (opens, closes) if one]
    return " to ".join(told)
