"""The verb of milk: where the milk went, doe by doe, and the lactations."""

from __future__ import annotations

from collections.abc import Iterator

import click

from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import labelled, sentence, several, table
from herdsync.cli.typed import complete_animal
from herdsync.reports import LactationLine, MilkBoard


@verb("milk", known=True)
@click.argument("doe", required=False, shell_complete=complete_animal)
@click.option(
    "--days", type=click.IntRange(1, 4000), default=7, metavar="N",
    help="Milk of the last N days; 7 where left out.",
)  # fmt: skip
def milk(asked: Asked, doe: str | None, days: int) -> None:
    """Tell milk given, sold and held, and the lactation of each doe or all of DOE's."""
    with asked.farm() as farm:
        board = farm.milk_board(doe or "", days)
    asked.answer(board, told_milk(board))


def told_milk(board: MilkBoard) -> Iterator[str]:
    """The days' milk as a table, then each lactation."""
    if not board.does:
        yield "No milk is written down for these days, and no doe is in milk."
    rows = [
        (one.name, one.milkings, _kg(one.milk_kg), _kg(one.sold_kg), _kg(one.held_kg),
         _kg(one.kept_kg), one.days_in_milk)
        for one in board.does
    ]  # fmt: skip
    yield from table(("doe", "milkings", "kg", "sold", "held", "kept", "days in milk"), rows)
    for one in board.does:
        if one.sold_while_held_kg:
            yield from sentence(f"! {one.name}: {one.says}", 2, 4)
    for lactation in board.lactations:
        yield ""
        yield from _told_lactation(lactation)
    yield ""
    yield from sentence(f"Caution: {board.caution}")


def _kg(number: float | None) -> str:
    return "" if number is None else f"{number:g}"


def _told_lactation(line: LactationLine) -> Iterator[str]:
    until = f"to {line.end}" if not line.running else "running"
    yield from sentence(f"{line.name}: kidded {line.start}, {until}, {several(line.days, 'day')}")
    yield from sentence(line.says, 2, 4)
    fat = f"fat {_part(line.fat_kg, line.fat_percent)}" if line.fat_kg is not None else ""
    protein = (
        f"protein {_part(line.protein_kg, line.protein_percent)}"
        if line.protein_kg is not None
        else ""
    )
    if fat or protein:
        yield from labelled("solids", ", ".join(one for one in (fat, protein) if one))
    if line.standard_milk_kg is not None:
        yield from labelled(
            "standard", f"{_kg(line.standard_milk_kg)} kg in {line.standard_days} days"
        )
    if line.fcm4_kg is not None:
        ecm = f", for energy {line.ecm_kg:.1f} kg" if line.ecm_kg is not None else ""
        yield from labelled("corrected", f"to 4 % fat {line.fcm4_kg:.1f} kg{ecm}")
    if line.cell_score is not None:
        trend = " ".join(f"{score:.1f}" for score in line.cell_scores)
        yield from labelled("cell score", f"{line.cell_score:.2f} (so far: {trend})")
    if line.persistency_percent is not None:
        yield from labelled("keeps up", f"{line.persistency_percent:g} % of her milk per 30 days")
    for warning in line.warnings:
        yield from sentence(f"! {warning}", 2, 4)


def _part(kg: float | None, percent: float | None) -> str:
    share = "" if percent is None else f" ({percent:.2f} %)"
    return f"{_kg(kg)} kg{share}"
