"""Spans of days drawn on one calendar, a line each: mating to kidding, window by window. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from rich.cells import cell_len

from tui.pages.canvas import Canvas, Line, one
from tui.text import fit

Span = tuple[str, str, str]  # first day, last day, mark
WEEK = 7
LABEL_LEAST, LABEL_MOST = 8, 14
# What each mark means, and its tone; later marks cover earlier ones.
MARKS: Mapping[str, tuple[str, str]] = {
    "h": ("heat may come back", "dim"),
    "c": ("test for kids", "open"),
    "d": ("dry off", "accent"),
    "b": ("booster", "accent"),
    "w": ("watch her from here", "closing"),
    "━": ("window", "strong"),
    "●": ("due", "late"),
}


def calendar(rows: Sequence[tuple[str, Sequence[Span]]], today: date, width: int) -> list[Line]:
    """A line a doe: what falls when, a column so many days, from this week on; later marks cover earlier."""
    days = [date.fromisoformat(day) for _, spans in rows for one in spans for day in one[:2] if day]
    if not days:
        return [one("No doe is mated.", "dim")]
    label = max(LABEL_LEAST, min(LABEL_MOST, max(cell_len(name) for name, _ in rows)))
    columns = max(10, width - label - 2)
    begins = min(today, *days) - timedelta(days=min(today, *days).weekday())
    step = -(-((max(today, *days) - begins).days + 1) // columns)
    step = step if step < WEEK else -(-step // WEEK) * WEEK
    shown = min(columns, (max(today, *days) - begins).days // step + 1)
    here = (today - begins).days // step
    lines: list[Line] = [
        one(" " * (label + 1) + _months(begins, step, shown), "dim"),
        one(" " * (label + 1 + here) + "▾", "good"),
    ]
    for name, spans in rows:
        canvas = Canvas(shown, 1)
        canvas.put(0, 0, "·" * shown, "dim")
        canvas.put(here, 0, "│", "good")
        for first, last, mark in spans:
            if first:
                start = (date.fromisoformat(first) - begins).days // step
                end = (date.fromisoformat(last or first) - begins).days // step
                canvas.put(start, 0, mark * (end + 1 - start), MARKS.get(mark, ("", "plain"))[1])
        lines.append([(f"{fit(name, label)} ", "strong"), *canvas.lines()[0]])
    return [*lines, one(f"▾ │ today; a column is {step} {'day' if step == 1 else 'days'}", "good")]


def _months(begins: date, step: int, shown: int) -> str:
    head = [" "] * (shown + 3)
    for at in range(shown):
        day = begins + timedelta(days=at * step)
        before = day - timedelta(days=step)
        if (day.month != before.month or at == 0) and all(
            sign == " " for sign in head[at : at + 3]
        ):
            head[at : at + 3] = f"{day:%b}"
    return "".join(head).rstrip()
