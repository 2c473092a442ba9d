"""Medicine: what may not be sold, running clocks, doses due, and the products on the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.answers import DueLine, Found, HerdLine, Hold, Timer
from tui import words
from tui.pages import clocks
from tui.pages.page import Cell, Fact, Page, Row, heading
from tui.pages.rounds import line_facts

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = clocks.COLUMNS
KINDS = ("dose", "vaccination", "course")
EMPTY = (
    "No medicine is written down, nothing is held, no clock runs.\n\n"
    "r  write down a product first ('medicine'): its holds as the label or veterinarian wrote them\n"
    "g  then give it: holds and next doses run by themselves"
)


@dataclass(frozen=True)
class Medicine:
    """What Medicine needs of the farm."""

    held: list[tuple[HerdLine, Hold]]
    timers: list[Timer]
    due: list[DueLine]
    products: list[Found]


def read(farm: Farm) -> Medicine:
    """Holds, clocks, doses due and products."""
    due = [line for line in farm.due() if line.kind in KINDS]
    products = [
        Found(one.id, "product", one.title, "")
        for name in farm.names("product")
        for one in farm.find(name)
        if one.kind == "product" and one.title == name
    ]
    held = [
        (line, hold)
        for line in farm.herd()
        if words.not_for_sale(line.holds)
        for hold in farm.holds(line.id)
        if words.not_for_sale([hold.what])
    ]
    running = [timer for timer in farm.timers() if not timer.what.endswith(" clear")]
    return Medicine(held, running, due, products)


def page(told: Medicine, now: datetime) -> Page:
    """Held first, then clocks, then what is due, then the shelf."""
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    if told.held:
        animals = len({line.id for line, _ in told.held})
        rows.append(heading("held", "Not for sale", words.count(animals, "animal")))
    for line, hold in told.held:
        rows.append(clocks.held_row(line, hold, now))
        facts[rows[-1].key] = clocks.hold_facts(hold, now)
    running = clocks.page(told.timers, now)
    if running.rows:
        rows += [heading("clocks", "Clocks"), *running.rows]
        facts |= running.facts
    if told.due:
        rows.append(heading("due", "To give"))
        rows += [_due_row(line, now) for line in told.due]
        facts |= {line.id: line_facts(line, None, now) for line in told.due}
    if told.products:
        rows.append(heading("shelf", "Products written down"))
        rows += [_product(one) for one in told.products]
    return Page(COLUMNS, rows, EMPTY, facts)


def _due_row(line: DueLine, now: datetime) -> Row:
    cells = (
        Cell(words.state_word(line.state), line.state),
        Cell(line.name, "strong"),
        Cell(("! " if line.caution else "") + line.work),
        Cell(words.until(line, now), line.state),
    )
    return Row(line.id, cells, animal=line.animal, name=line.name, pen=line.pen)


def _product(found: Found) -> Row:
    cells = (Cell("product", "dim"), Cell(found.title, "strong"), Cell("enter: its sheet", "dim"))
    return Row(f"product {found.id}", cells, record=found.id, name=found.title)
