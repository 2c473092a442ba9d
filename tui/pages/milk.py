"""Milk: who is in milk, whose milk may not be sold, and what was given in the last days."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

DAYS = 7
COLUMNS = (
    Column("Doe", 14, grow=2),
    Column("Held", 7),
    Column("In milk", 7),
    Column("Given kg", 8, right=True),
    Column("Sold kg", 8, right=True),
    Column("Held kg", 8, right=True),
    Column("Milkings", 9, room=70, right=True),
)
EMPTY = (
    "No doe is in milk.\n\n"
    "k  write down a kidding: she counts as in milk from then on\n"
    "m  write down a milking"
)
DO_NOT_SELL = "Do not sell: keep her milk apart until the clock in Medicine (4) has run out."


def read(farm: Farm, now: datetime) -> Page:
    """The does of the herd with their milk of the last days; those held stand first."""
    held = {line.id: words.not_for_sale(line.holds) for line in farm.herd()}
    pens = {line.id: line.pen for line in farm.herd()}
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    lines = farm.milk(DAYS)
    groups = [
        ("held", "Milk not for sale", [one for one in lines if _milk(held.get(one.animal))]),
        ("tank", "In milk", [one for one in lines if not _milk(held.get(one.animal))]),
    ]
    for key, title, does in groups:
        if does:
            total = sum(one.milk_kg for one in does)
            rows.append(
                heading(key, title, f"{words.count(len(does), 'doe')}, {total:g} kg in {DAYS} days")
            )
        for one in does:
            tag = "■MILK" if key == "held" else ""
            days = "" if one.days_in_milk is None else f"{one.days_in_milk} d"
            cells = (
                Cell(("? " if one.disputed else "") + one.name, "held" if tag else "strong"),
                Cell(tag, "tag" if tag else "plain"),
                Cell(days),
                Cell(f"{one.milk_kg:g}"),
                Cell(f"{one.sold_kg:g}"),
                Cell(f"{one.held_kg:g}", "held" if one.held_kg else "dim"),
                Cell(str(one.milkings), "dim"),
            )
            pen = pens.get(one.animal, "")
            rows.append(Row(one.animal, cells, animal=one.animal, name=one.name, pen=pen))
            facts[one.animal] = [Fact("", DO_NOT_SELL, "held")] if tag else []
            facts[one.animal] += [Fact("Held", hold, "held") for hold in held.get(one.animal, [])]
            facts[one.animal].append(
                Fact(f"Last {DAYS} days", f"{one.milkings} milkings, {one.milk_kg:g} kg given, "
                     f"{one.sold_kg:g} kg sold, {one.held_kg:g} kg kept apart")
            )  # fmt: skip
    del now
    return Page(COLUMNS, rows, EMPTY, facts)


def _milk(holds: list[str] | None) -> bool:
    return any("milk" in one.casefold() for one in holds or [])
