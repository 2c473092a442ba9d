"""Milk: today's milkings pen by pen, whose milk goes to a separate pail, sold against held."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import HerdLine
from herdsync.reports import HeldAnimal, LactationLine, MilkLine
from herdsync.sights import Milking
from tui import words
from tui.pages import lactations
from tui.pages.page import Cell, Cells, Column, Fact, OnAsking, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

DAYS = 7
APART = "■MILK apart"
COLUMNS = (
    Column("Doe", 12, grow=2),
    Column("Goes to", 11),
    Column("Morning", 8, right=True),
    Column("Evening", 8, right=True),
    Column(f"{DAYS} days kg", 9, right=True),
    Column("Sold kg", 7, room=68, right=True),
    Column("Held kg", 7, room=68, right=True),
    Column("In milk", 7, room=90, right=True),
    Column("So far kg", 9, room=100, right=True),
)
EMPTY = (
    "No doe is in milk.\n\n"
    "k  write down a kidding: she counts as in milk from then on\n"
    "m  write down a milking"
)
DO_NOT_SELL = "Do not sell: milk her into a separate pail"
SOLD_WHILE_HELD = (
    "This was written down as sold though it was not for sale then: keep it out of the tank, or tell "
    "the buyer at once. Where it was not sold, open it and amend 'sold'."
)


@dataclass(frozen=True)
class Told:
    """What Milk needs of the farm."""

    herd: dict[str, HerdLine]
    does: list[MilkLine]
    lactations: dict[str, LactationLine]
    held: dict[str, HeldAnimal]
    milkings: list[Milking]
    pens: list[str]
    caution: str


def read(farm: Farm, now: datetime) -> Page:
    """The does in milk; those whose milk is held stand first."""
    return page(gather(farm), now)


def gather(farm: Farm) -> Told:
    """What the page is made of."""
    board = farm.milk_board("", DAYS)
    return Told(
        {line.id: line for line in farm.herd()},
        board.does,
        {line.animal: line for line in board.lactations},
        {one.id: one for one in farm.held()},
        farm.milkings(),
        farm.pens(),
        board.caution,
    )


def to_milk(told: Told) -> list[tuple[str, str]]:
    """Ids and names of the does in milk, in the order of the walk."""
    in_milk = {one.animal for one in told.does if one.in_milk}
    return [(line.id, line.name) for line in told.herd.values() if line.id in in_milk]


def sold_last(told: Told) -> str:
    """Whether any of the newest milking that could be sold was: most likely it is so again."""
    free = [one for one in told.milkings if not one.held]
    newest = [one for one in free if (one.day, one.slot) == (free[-1].day, free[-1].slot)]
    return "" if not free else "yes" if any(one.sold for one in newest) else "no"


def page(told: Told, now: datetime) -> Page:
    """Separate pails first, then pen by pen; what was sold while held above all."""
    rows = [_slip(one) for one in told.does if one.sold_while_held_kg]
    slips = {row.key for row in rows}
    if rows:
        rows.insert(0, heading("slips", "▲ Sold while held"))
    for key, title, does in _groups(told):
        rows.append(heading(key, title, _sums(does)))
        rows += [_row(one, told, now) for one in does]
    by_id = {one.animal: one for one in told.does}

    def facts(key: str) -> list[Fact]:
        if key in slips:
            return [Fact("! Sold while held", SOLD_WHILE_HELD, "late")]
        return _facts(by_id[key], told, now)

    return Page(COLUMNS, rows, EMPTY, OnAsking(slips | set(by_id), facts))


def is_apart(line: HerdLine | None) -> bool:
    """Whether a doe's milk goes to a separate pail now."""
    return line is not None and any("milk" in one.casefold() for one in line.holds)


def _groups(told: Told) -> list[tuple[str, str, list[MilkLine]]]:
    apart: list[MilkLine] = []
    by_pen: dict[str, list[MilkLine]] = {}
    for one in told.does:
        line = told.herd.get(one.animal)
        pen = line.pen if line is not None else ""
        (apart if is_apart(line) else by_pen.setdefault(pen, [])).append(one)
    groups = [("apart", "■ Separate pail: do not sell", apart)] if apart else []
    order = {pen: place for place, pen in enumerate(told.pens)}
    for pen, does in sorted(by_pen.items(), key=lambda one: order.get(one[0], len(order))):
        groups.append((f"pen {pen}", pen or "No pen", does))
    return groups


def _sums(does: Sequence[MilkLine]) -> str:
    given, sold, held = (
        sum(getattr(one, name) for one in does) for name in ("milk_kg", "sold_kg", "held_kg")
    )
    said = f"{words.count(len(does), 'doe')}, {given:g} kg in {DAYS} days, {sold:g} kg sold"
    return said + (f", {held:g} kg held" if held else "")


def _slip(one: MilkLine) -> Row:
    cells = (Cell(one.name, "late"), Cell(f"{one.sold_while_held_kg:g} kg", "late"))
    return Row(f"slip {one.animal}", cells, animal=one.animal, name=one.name)


def _row(one: MilkLine, told: Told, now: datetime) -> Row:
    line = told.herd.get(one.animal)
    cells = partial(_cells, one, told, now)
    pen = line.pen if line is not None else ""
    return Row(one.animal, cells, animal=one.animal, name=one.name, pen=pen)


def _cells(one: MilkLine, told: Told, now: datetime) -> Cells:
    apart = is_apart(told.herd.get(one.animal))
    lactation = told.lactations.get(one.animal)
    morning, evening = (
        _slot(one.animal, slot, told.milkings, now) for slot in ("morning", "evening")
    )
    days = "" if one.days_in_milk is None else f"{one.days_in_milk} d"
    so_far = "" if lactation is None or lactation.milk_kg is None else f"{lactation.milk_kg:.0f}"
    return (
        Cell(("? " if one.disputed else "") + one.name, "held" if apart else "strong"),
        Cell(APART if apart else "tank", "tag" if apart else "dim"),
        morning,
        evening,
        Cell(f"{one.milk_kg:g}"),
        Cell(f"{one.sold_kg:g}", "dim"),
        Cell(f"{one.held_kg:g}", "held" if one.held_kg else "dim"),
        Cell(days, "dim"),
        Cell(so_far, "dim"),
    )


def _slot(animal: str, slot: str, milkings: Iterable[Milking], now: datetime) -> Cell:
    """Today's milking of a slot; held milk carries its mark, what is not written down yet a dot."""
    today = now.date().isoformat()
    found = [one for one in milkings if (one.animal, one.slot, one.day) == (animal, slot, today)]
    if not found:
        return Cell("·", "dim")
    kg = sum(one.milk_kg or 0 for one in found)
    if any(one.held and one.sold for one in found):
        return Cell(f"▲{kg:g}", "late")
    held = any(one.held for one in found)
    return Cell(f"■{kg:g}" if held else f"{kg:g}", "held" if held else "good")


def _facts(one: MilkLine, told: Told, now: datetime) -> list[Fact]:
    found: list[Fact] = []
    line = told.herd.get(one.animal)
    held = told.held.get(one.animal)
    if is_apart(line):
        found.append(Fact("", f"{DO_NOT_SELL} {_until(held, now)}", "held"))
        found += (
            [Fact("Why", hold.reason) for hold in held.holds if "milk" in hold.what] if held else []
        )
    found.append(Fact("Yesterday", _day_before(one.animal, told.milkings, now)))
    lactation = told.lactations.get(one.animal)
    if lactation is not None:
        found += lactations.facts(lactation)
    found.append(
        Fact(f"Last {DAYS} days", f"{one.milk_kg:g} kg in {words.count(one.milkings, 'milking')}: "
             f"{one.sold_kg:g} sold, {one.held_kg:g} held, {one.kept_kg:g} kept for kids and house")
    )  # fmt: skip
    return [*found, Fact("! Caution", told.caution, "closing")]


def _until(held: HeldAnimal | None, now: datetime) -> str:
    """Until when a doe's milk goes to a separate pail, with the first milking to sell."""
    if held is None:
        return "until her hold has run out (Medicine, 4)."
    ends = [hold.until for hold in held.holds if "milk" in hold.what]
    if not ends or not all(ends):
        return "until the veterinarian says: nobody wrote down how long."
    last = max(ends)
    left = words.countdown(words.seconds_left(last, now))
    said = f"until {words.day_word(last, now)} ({left} left)."
    if held.first_saleable:
        said += f" First milking to sell: {words.day_word(held.first_saleable, now)}."
    return said


def _day_before(animal: str, milkings: Iterable[Milking], now: datetime) -> str:
    day = (now.date() - timedelta(days=1)).isoformat()
    found = [one for one in milkings if (one.animal, one.day) == (animal, day)]
    told = [f"{one.slot} {one.milk_kg or 0:g}{' held' if one.held else ''}" for one in found]
    return ", ".join(told) + " kg" if told else "nothing written down"
