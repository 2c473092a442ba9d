"""Heads counted in a pen that agree with neither the records nor another keeper: who sees it where."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from herdsync.sights import HeadsLine
from tui.pages.page import Cell, Fact, Row

KEY = "heads "
ASKS = "▲ count"
AGAIN = "d writes down a new count; a move, birth or leaving that is missing: r"


def row(line: HeadsLine) -> Row:
    """It as a line of work on the pen."""
    cells = (
        Cell(ASKS, "late"), Cell(line.pen, "strong"), Cell(""), Cell(line.work, "late"), Cell(""),
        Cell(line.says, "dim"),
    )  # fmt: skip
    return Row(KEY + line.id, cells, name=line.pen, pen=line.pen, record=line.id)


def row_of_map(line: HeadsLine) -> Row:
    """It as a figure under the pen map."""
    cells = (Cell(line.pen, "dim"), Cell(ASKS, "late"), Cell(""), Cell(line.work, "late"))
    return Row(KEY + line.id, cells, name=line.pen, pen=line.pen, record=line.id)


def facts(line: HeadsLine) -> list[Fact]:
    """What was counted when, who is there on record, and what to do about it."""
    return [
        Fact("", line.work, "strong"),
        Fact("! Counted", f"{line.says}.", "late"),
        Fact("Then", AGAIN),
    ]


def of_pen(lines: Iterable[HeadsLine], pen: str) -> list[HeadsLine]:
    """Those of a pen."""
    return [line for line in lines if line.pen == pen]


def in_short(lines: Sequence[HeadsLine]) -> list[str]:
    """What stands beside the name of a pen: at most one sentence, with a mark before it."""
    return [f"▲ {line.work}" for line in lines[:1]]


def beside_the_name(line: HeadsLine) -> str:
    """What stands in the pen's box on the map."""
    return f"▲ {line.counted} counted, {line.recorded} here"
