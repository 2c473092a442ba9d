"""Rounds: due work in the order of a walk through the pens, or by what presses most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import DueLine, HerdLine
from herdsync.sights import HeadsLine
from tui import words
from tui.pages import counts
from tui.pages.page import Cell, Cells, Column, Fact, OnAsking, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

NO_PEN = "No pen"
OTHERS_SHOWN = 8
WORK_SHOWN = 24  # letters of a work that every list shows at 80 columns
COLUMNS = (
    Column("State", 10),
    Column("Animal", 14, grow=1),
    Column("Mark", 8, room=74),
    Column("Work", 21, grow=3),
    Column("Until", 10),
    Column("Why", 10, grow=4, room=140),
)
EMPTY_FARM = (
    "No animal is written down yet.\n\n"
    "r  write down the first: choose 'animal', then give name, sex and birth date\n"
    "2 e  take many at once from a table (CSV)\n"
    "8  Partners: set the farm up, and let a partner's laptop in\n"
    "h  all keys"
)
NOTHING_DUE = "Nothing is due.\n\ni  see what lies ahead\n2  the herd"


@dataclass(frozen=True)
class Rounds:
    """What Rounds needs of the farm."""

    due: list[DueLine]
    herd: dict[str, HerdLine]
    pens: list[str]
    counts: Sequence[HeadsLine] = ()


def read(farm: Farm, *, every: bool) -> Rounds:
    """Due work, with what lies ahead where ``every``."""
    due = farm.due(every=every)
    herd = {line.id: line for line in farm.herd(every=True)}
    return Rounds(due, herd, farm.pens(), farm.heads())


def page(told: Rounds, now: datetime, *, by_walk: bool = True) -> Page:
    """The lines, under one heading a pen, or by what presses most."""
    empty = NOTHING_DUE if told.herd else EMPTY_FARM
    facts = _facts(told, now)
    if not by_walk:
        lines = sorted(told.due, key=lambda line: (words.pressing(line.state), line.closes))
        rows = [counts.row(one) for one in told.counts]
        rows += [row(line, told.herd, now) for line in lines]
        return Page(COLUMNS, rows, empty, facts)
    rows = []
    for pen, lines in by_pen(told.due, told.pens, [one.pen for one in told.counts]):
        counted = counts.of_pen(told.counts, pen)
        pressing = sum(line.state in words.PRESSING for line in lines) + len(counted)
        said = f"{len(lines) + len(counted)} to do" + (f", {pressing} press" if pressing else "")
        rows.append(heading(f"pen {pen}", pen or NO_PEN, said))
        rows += [counts.row(one) for one in counted]
        before = ""
        for line in lines:
            rows.append(row(line, told.herd, now, again=line.subject == before))
            before = line.subject
    return Page(COLUMNS, rows, empty, facts)


def _facts(told: Rounds, now: datetime) -> OnAsking:
    """What is known of a line, with what else is due of its subject."""
    lines = {line.id: line for line in told.due}
    beside: dict[str, list[DueLine]] = {}
    for line in told.due:
        beside.setdefault(line.subject, []).append(line)

    counted = {counts.KEY + one.id: one for one in told.counts}

    def tell(id: str) -> list[Fact]:
        if id in counted:
            return counts.facts(counted[id])
        line = lines[id]
        others = [one for one in beside[line.subject] if one.id != id][:OTHERS_SHOWN]
        found = line_facts(line, told.herd.get(line.animal), now)
        return found + (
            [Fact("Also due", ""), *(_other(one, now) for one in others)] if others else []
        )

    return OnAsking({*lines, *counted}, tell)


def by_pen(
    due: Sequence[DueLine], pens: Sequence[str], counted: Sequence[str] = ()
) -> list[tuple[str, list[DueLine]]]:
    """Lines pen by pen in the order of the walk; within a pen animal by animal as they came.

    ``counted`` are pens told of even where nothing is due there.
    """
    groups: dict[str, list[DueLine]] = {pen: [] for pen in counted}
    for line in due:
        groups.setdefault(line.pen, []).append(line)
    order = {pen: place for place, pen in enumerate(pens)}
    last = len(order)
    return sorted(groups.items(), key=lambda one: order.get(one[0], last))


def row(line: DueLine, herd: dict[str, HerdLine], now: datetime, *, again: bool = False) -> Row:
    """One piece of work as a line; ``again`` where the line above is of the same animal."""
    cells = partial(_cells, line, herd.get(line.animal), now, again=again)
    return Row(line.id, cells, animal=line.animal, name=line.name, pen=line.pen, record=line.item)


def _cells(line: DueLine, animal: HerdLine | None, now: datetime, *, again: bool) -> Cells:
    name = words.named(line.name, animal.holds) if animal else line.name or line.pen
    held = animal is not None and words.not_for_sale(animal.holds)
    return (
        Cell(words.state_word(line.state), line.state),
        Cell(name, "held" if held else "dim" if again else "strong"),
        Cell(words.mark_of(animal) if animal else "", "dim"),
        Cell(("! " if line.caution else "") + line.work),
        Cell(words.until(line, now), line.state),
        Cell(line.reason, "dim"),
    )


def _other(line: DueLine, now: datetime) -> Fact:
    """Other work of the same animal, in one line."""
    said = f"{words.state_word(line.state)}  {line.work}, {words.until(line, now)}"
    return Fact("", said, line.state if line.state in ("closing", "late") else "dim")


def line_facts(line: DueLine, animal: HerdLine | None, now: datetime) -> list[Fact]:
    """Why a piece of work is asked for, until when, and what to beware of."""
    who = line.name or line.pen
    if animal is not None:
        who += f", {animal.sex_now}, {words.age(animal.age_days)}, {words.mark_of(animal)}"
    window = ", ".join(
        f"{word} {words.day_word(text, now)}"
        for word, text in (("opens", line.opens), ("best", line.best), ("closes", line.closes))
        if text
    )
    # Whole, where the column of the list cuts it.
    found = [Fact("", line.work, "strong")] if len(line.work) > WORK_SHOWN else []
    # What the mark before the work means comes first: a small screen cuts off the rest.
    found += [Fact("! Caution", line.caution, "closing")] if line.caution else []
    found.append(Fact("Why", line.reason))
    found += [Fact("In the way", one, "late") for one in line.blocks]
    found += [Fact("Law", line.law, "closing")] if line.law else []
    if animal is not None:
        found += [Fact("Held", one, "held") for one in words.not_for_sale(animal.holds)]
    found += [Fact("When", window)] if window else []
    found += [Fact("Who", who)]
    return found + ([Fact("Source", line.source, "dim")] if line.source else [])
