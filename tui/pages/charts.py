"""Figures drawn as lines of text: points over days, and spans over weeks. Pure; shape tells before colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

Point = tuple[float, float]
Line = tuple[str, str]  # text and tone
LEFT = 7
SERIES_MARKS = "●abcdefgh"
WEEK = 7


def points(
    series: Mapping[str, Sequence[Point]], width: int, height: int, unit: str, across: str
) -> list[Line]:
    """Every series with its own mark (the first ●, others a letter) over axes from its least to most.

    The least of the upright axis is nought, so that no small change looks great. Where two fall on one
    place the first stays.
    """
    every = [point for one in series.values() for point in one]
    if not every:
        return [("No figure is written down.", "dim")]
    columns, rows = max(10, width - LEFT - 1), max(4, height - 3)
    first, last = min(x for x, _ in every), max(x for x, _ in every)
    most = max(y for _, y in every) or 1.0
    grid = [[" "] * columns for _ in range(rows)]
    for mark, told in reversed(list(zip(SERIES_MARKS, series.values(), strict=False))):
        for x, y in told:
            at = round((x - first) / ((last - first) or 1) * (columns - 1))
            up = round(y / most * (rows - 1))
            grid[rows - 1 - up][at] = mark
    lines: list[Line] = []
    for row, cells in enumerate(grid):
        share = (rows - 1 - row) / (rows - 1)
        label = f"{most * share:.1f}" if row in (0, rows // 2, rows - 1) else ""
        lines.append((f"{label:>{LEFT - 1}} │{''.join(cells)}".rstrip(), "plain"))
    lines.append((f"{unit:>{LEFT - 1}} └{'─' * columns}", "dim"))
    ends = f"{first:g}", f"{across} {last:g}"
    gap = columns - len(ends[0]) - len(ends[1])
    lines.append((" " * (LEFT + 1) + ends[0] + " " * max(1, gap) + ends[1], "dim"))
    legend = [f"{mark} {name}" for mark, name in zip(SERIES_MARKS, series, strict=False)]
    return [*lines, (" " * LEFT + "  ".join(legend), "accent")]


Span = tuple[str, str, str]  # first day, last day, mark


def calendar(rows: Sequence[tuple[str, Sequence[Span]]], today: date, width: int) -> list[Line]:
    """A line a doe: what falls when, a column so many days, from this week on; later marks cover earlier."""
    days = [date.fromisoformat(day) for _, spans in rows for one in spans for day in one[:2] if day]
    if not days:
        return [("No doe is mated.", "dim")]
    label = max(8, min(14, max(len(name) for name, _ in rows)))
    columns = max(10, width - label - 2)
    begins = min(today, *days) - timedelta(days=min(today, *days).weekday())
    step = -(-((max(days) - begins).days + 1) // columns)
    step = step if step < WEEK else -(-step // WEEK) * WEEK
    shown = min(columns, (max(days) - begins).days // step + 1)
    head = [" "] * (shown + 6)
    for at in range(shown):
        day = begins + timedelta(days=at * step)
        before = day - timedelta(days=step)
        if (day.month != before.month or at == 0) and all(one == " " for one in head[at : at + 3]):
            head[at : at + 3] = f"{day:%b}"
    lines: list[Line] = [(" " * (label + 1) + "".join(head).rstrip(), "dim")]
    for name, spans in rows:
        cells = ["·"] * shown
        cells[(today - begins).days // step] = "│"
        for first, last, mark in spans:
            if first:
                start = (date.fromisoformat(first) - begins).days // step
                end = (date.fromisoformat(last or first) - begins).days // step
                cells[start : end + 1] = [mark] * (min(end, shown - 1) + 1 - start)
        lines.append((f"{name[:label]:<{label}} {''.join(cells)}", "plain"))
    return [*lines, (f"│ today, a column is {step} days", "dim")]


def boxes(groups: Sequence[tuple[str, Sequence[str]]], width: int, box: int = 26) -> list[Line]:
    """A box a group with its names in it, as many beside each other as fit."""
    across = max(1, width // box)
    inner = min(box, width) - 3
    lines: list[Line] = []
    for start in range(0, len(groups), across):
        row = groups[start : start + across]
        tall = max(len(names) for _, names in row)
        lines.append((" ".join(f"┌{_cut(f' {name} ', inner, '─')}┐" for name, _ in row), "strong"))
        for at in range(tall):
            told = [names[at] if at < len(names) else "" for _, names in row]
            lines.append((" ".join(f"│{_cut(f' {one}', inner, ' ')}│" for one in told), "plain"))
        lines.append((" ".join(f"└{'─' * inner}┘" for _ in row), "strong"))
    return lines


def _cut(text: str, width: int, fill: str) -> str:
    return text[:width].ljust(width, fill)
