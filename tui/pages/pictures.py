"""Small pictures in one line of text: growth, milk, and a family tree. Pure; bars of block letters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from herdsync.answers import HerdLine
from tui import words
from tui.pages.page import Cell, Row

BARS = "▁▂▃▄▅▆▇█"
GENERATIONS = 4


def bars(values: Sequence[float]) -> str:
    """One bar a value, the least lowest and the most highest; equal values stand in the middle."""
    if not values:
        return ""
    least, most = min(values), max(values)
    if most == least:
        return BARS[len(BARS) // 2] * len(values)
    steps = len(BARS) - 1
    return "".join(BARS[round((value - least) / (most - least) * steps)] for value in values)


def family(line: HerdLine, herd: Mapping[str, HerdLine]) -> list[Row]:
    """Ancestors of an animal, sire and dam under each, to four generations; none repeated for ever."""
    rows: list[Row] = []
    _ancestors(line, herd, 1, rows)
    return rows


def _ancestors(line: HerdLine, herd: Mapping[str, HerdLine], depth: int, rows: list[Row]) -> None:
    for word, id, name in (
        ("sire", line.sire, line.sire_name),
        ("dam", line.dam, line.dam_name),
    ):
        if not id:
            continue
        parent = herd.get(id)
        mark = words.mark_of(parent) if parent is not None else ""
        indent = "  " * (depth - 1)
        cells = (
            Cell(f"{indent}{word}", "dim"),
            Cell(f"{indent}{name or 'unknown'}"),
            Cell(mark, "dim"),
        )
        rows.append(Row(f"family {len(rows)}", cells, animal=id, name=name, record=id))
        if parent is not None and depth < GENERATIONS:
            _ancestors(parent, herd, depth + 1, rows)
