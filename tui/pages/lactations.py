"""The lactations of the does by their test days: sums, the standard one, how she keeps, her cells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from herdsync.answers import HerdLine
from herdsync.reports import LactationLine
from tui import words
from tui.pages import pictures
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("Doe", 11, grow=2),
    Column("Days", 5, right=True),
    Column("Tests", 5, right=True),
    Column("Milk kg", 8, right=True),
    Column("305 d kg", 8, right=True),
    Column("Fat %", 6, room=70, right=True),
    Column("Prot. %", 7, room=78, right=True),
    Column("Keeps %", 7, room=60, right=True),
    Column("Cells", 5, right=True),
    Column("", 8, grow=1, room=90),
)
EMPTY = (
    "No lactation can be summed yet.\n\n"
    "m  write down milkings, or test days: morning and evening of one day will do"
)


def read(farm: Farm, ref: str = "") -> Page:
    """The newest lactation of each doe; of one doe all of hers."""
    board = farm.milk_board(ref)
    herd = {one.id: one for one in farm.animal_lines(one.animal for one in board.lactations)}
    rows = [row(line, herd.get(line.animal)) for line in board.lactations]
    told = {row.key: facts(line) for row, line in zip(rows, board.lactations, strict=True)}
    for key in told:
        told[key].append(Fact("! Caution", board.caution, "closing"))
    if rows:
        rows.insert(
            0, heading("lactations", "Lactations by test days", words.count(len(rows), "doe"))
        )
    return Page(COLUMNS, rows, EMPTY, told)


def row(line: LactationLine, animal: HerdLine | None) -> Row:
    """One lactation; whose milk or meat is held is marked as in every list."""
    holds = words.not_for_sale(animal.holds) if animal is not None else []
    mark = "▲ " if line.warnings else ""
    score = "" if line.cell_score is None else f"{line.cell_score:.1f}"
    cells = (
        Cell(
            mark + words.named(line.name, holds), "held" if holds else "late" if mark else "strong"
        ),
        Cell(str(line.days)),
        Cell(str(line.tests), "dim"),
        Cell(_figure(line.milk_kg), "strong"),
        Cell(_figure(line.standard_milk_kg)),
        Cell(_figure(line.fat_percent, 2), "dim"),
        Cell(_figure(line.protein_percent, 2), "dim"),
        Cell(_figure(line.persistency_percent)),
        Cell(score, "late" if mark else "plain"),
        Cell(pictures.bars(line.cell_scores), "accent"),
    )
    key = f"lactation {line.animal} {line.start}"
    return Row(key, cells, animal=line.animal, name=line.name)


def facts(line: LactationLine) -> list[Fact]:
    """A lactation in words, what to look at first."""
    found = [Fact("! Look", one, "late") for one in line.warnings]
    state = "running" if line.running else f"ended {line.end}"
    said = f"since {line.start}, {line.days} days, {state}, {words.count(line.tests, 'test day')}"
    found.append(Fact("Lactation", said))
    if line.milk_kg is not None:
        whole = f"{line.milk_kg:.1f} kg so far"
        if line.standard_milk_kg is not None:
            days = line.standard_days or 0
            whole += f"; {line.standard_milk_kg:.1f} kg in its first {days} of 305 days"
        found.append(Fact("Milk", whole, "strong"))
    if line.persistency_percent is not None:
        found.append(Fact("Keeps", f"{line.persistency_percent:g} % of her milk per 30 days"))
    if line.cell_score is not None:
        scores = " ".join(f"{one:.1f}" for one in line.cell_scores[-6:])
        found.append(Fact("Cell score", f"{line.cell_score:.1f} (test by test {scores})"))
    return [*found, *_corrected(line), Fact("How", line.says, "dim")]


def _corrected(line: LactationLine) -> list[Fact]:
    told = [
        f"{value:.1f} kg {name}"
        for name, value in (("at 4 % fat", line.fcm4_kg), ("energy corrected", line.ecm_kg))
        if value is not None
    ]
    return [Fact("Corrected", ", ".join(told))] if told else []


def _figure(value: float | None, places: int = 0) -> str:
    return "" if value is None else f"{value:.{places}f}"
