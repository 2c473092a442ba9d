"""Herd: every animal, where it stands, what it is, what holds it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import HerdLine
from herdsync.sights import HeadsLine
from tui import words
from tui.pages import counts
from tui.pages.page import Cell, Cells, Column, Fact, OnAsking, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("Animal", 12, grow=2),
    Column("Mark", 8),
    Column("Sex", 7, room=66),
    Column("Age", 6, room=66),
    Column("Now", 12, grow=3),
    Column("Held", 13),
    Column("Due", 3, right=True),
    Column("Dam", 9, grow=1, room=90),
    Column("Sire", 9, grow=1, room=90),
)
EMPTY = (
    "No animal is written down yet.\n\n"
    "r  write down the first: choose 'animal', then give name, sex and birth date\n"
    "e  take many at once from a table (CSV)\n"
    "   a pen first makes Rounds a walk: r, 'pen'"
)


@dataclass(frozen=True)
class Herd:
    """What Herd needs of the farm."""

    animals: list[HerdLine]
    pens: list[str]
    due: Mapping[str, int]
    counts: Sequence[HeadsLine] = ()


def read(farm: Farm, *, every: bool) -> Herd:
    """The animals of the herd; with ``every`` those that left or died, and outside ones."""
    due = Counter(line.animal for line in farm.due())
    return Herd(farm.herd(every=every), farm.pens(), due, farm.heads())


def page(told: Herd, now: datetime) -> Page:
    """Animals pen by pen."""
    groups: dict[str, list[HerdLine]] = {one.pen: [] for one in told.counts}
    for line in told.animals:
        groups.setdefault(_group(line), []).append(line)
    order = {pen: place for place, pen in enumerate(told.pens)}
    rows: list[Row] = []
    for pen, lines in sorted(
        groups.items(), key=lambda one: (order.get(one[0], len(order)), one[0])
    ):
        said = counts.in_short(counts.of_pen(told.counts, pen))
        rows.append(heading(f"pen {pen}", pen, words.count(len(lines), "animal"), *said))
        rows += [row(line, told.due.get(line.id, 0), now) for line in lines]
    by_id = {line.id: line for line in told.animals}
    return Page(COLUMNS, rows, EMPTY, OnAsking(by_id, lambda id: animal_facts(by_id[id], now)))


def _group(line: HerdLine) -> str:
    if line.standing in ("here", ""):
        return line.pen or "No pen"
    return line.standing[:1].upper() + line.standing[1:]


def row(line: HerdLine, due: int, now: datetime) -> Row:
    """One animal as a line, with the number of its open pieces of work."""
    cells = partial(_cells, line, due, now)
    return Row(line.id, cells, animal=line.id, name=line.name, pen=line.pen, record=line.id)


def _cells(line: HerdLine, due: int, now: datetime) -> Cells:
    tags = words.hold_tags(line.holds)
    state = ", ".join(one for one in line.state if one != "wether") or _horns(line)
    return (
        Cell(("? " if line.disputed else "") + (line.name or "no name"), "strong"),
        Cell(words.mark_of(line), "dim"),
        Cell(line.sex_now),
        Cell(words.age(line.age_days)),
        Cell(words.dated(state, now)),
        Cell(tags, "tag" if tags else "plain"),
        Cell(str(due) if due else "", "due"),
        Cell(line.dam_name, "dim"),
        Cell(line.sire_name, "dim"),
    )


def _horns(line: HerdLine) -> str:
    return "" if line.horns == "unknown" else line.horns


def animal_facts(line: HerdLine, now: datetime) -> list[Fact]:
    """What is known of one animal in short."""
    born = f"{words.day_word(line.born, now)} ({words.age(line.age_days)})" if line.born else "?"
    ears = f"right {line.tattoo_right or '-'}, left {line.tattoo_left or '-'}"
    found = [Fact("Held", hold, "held") for hold in line.holds]
    if line.disputed:
        found.append(Fact("? Disputed", "What was written of it does not agree (6).", "late"))
    told = (line.sex_now, _horns(line) or "horns not told", line.breed)
    found += [
        Fact("", f"{line.name}: {', '.join(one for one in told if one)}"),
        Fact("Born", born),
        Fact("Ears", ears),
        Fact("Parents", f"dam {line.dam_name or '?'}, sire {line.sire_name or '?'}"),
    ]
    state = ", ".join(line.state)
    return found + ([Fact("Now", state)] if state else [])
