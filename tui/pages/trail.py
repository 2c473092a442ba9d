"""Trail: who wrote and changed what, newest first, with the state of every signature."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from herdsync.answers import TrailLine
from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("When", 13),
    Column("Who", 13, grow=1),
    Column("Did", 9),
    Column("To", 14, grow=2),
    Column("What", 10, grow=4, room=70),
    Column("Sign", 5, room=80),
)
EMPTY = "Nothing was written here yet.\n\nr  write down the first record"
SHOWN = 400


def read(farm: Farm) -> list[TrailLine]:
    """The newest lines of the whole farm."""
    return farm.trail_all(limit=SHOWN)


def page(told: Sequence[TrailLine], now: datetime, *, narrow: str = "") -> Page:
    """The lines that hold every word of ``narrow``."""
    rows, facts = [], {}
    for number, line in enumerate(told):
        one = row(line, number, now)
        if holds(line, narrow):
            rows.append(one)
            facts[one.key] = line_facts(line, now)
    empty = f"No line holds '{narrow}'.\n\nn  narrow by other words" if narrow else EMPTY
    return Page(COLUMNS, rows, empty, facts)


def holds(line: TrailLine, narrow: str) -> bool:
    """Whether a line holds every word: of who, where, what, when and why."""
    parts = (line.keeper, line.by, line.device, line.verb, line.kind, line.title, line.field)
    said = " ".join((*parts, line.recorded[:10], line.because)).casefold()
    return all(word in said for word in narrow.casefold().split())


def row(line: TrailLine, number: int, now: datetime) -> Row:
    """One line of the trail."""
    by = line.by or line.keeper
    mark = "?" if line.doubtful else ""
    good = line.signature == "good"
    cells = (
        Cell(mark + words.day_word(line.recorded[:16] + line.recorded[19:], now), "dim"),
        Cell(f"{by}, {line.device}"),
        Cell(line.verb, "strong"),
        Cell(line.title or line.kind),
        Cell(change(line), "dim"),
        Cell("good" if good else "BAD", "dim" if good else "late"),
    )
    return Row(f"{line.entry} {number}", cells, record=line.record, name=line.title)


def change(line: TrailLine) -> str:
    """What a line changed, before and after."""
    field = line.field.replace("_", " ")
    after = said(line.after)
    if not line.field:
        return {"retract": "taken back"}.get(line.verb, after)
    if line.before:
        return f"{field}: {', '.join(said(one) for one in line.before)} → {after}"
    return f"{field} {after}"


def said(value: Any) -> str:
    """A value of an answer in words."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{name} {said(one)}" for name, one in value.items())
    if isinstance(value, list):
        return ", ".join(said(one) for one in value)
    return str(value)


def line_facts(line: TrailLine, now: datetime) -> list[Fact]:
    """Everything an entry says of itself."""
    by = line.keeper if line.by in ("", line.keeper) else f"{line.by}, at {line.keeper}'s laptop"
    found = [
        Fact("", f"{line.verb}: {line.title or line.kind}, {change(line)}"),
        Fact("By", f"{by} ({line.device}), {words.day_word(line.recorded, now)}"),
    ]
    if line.because:
        found.append(Fact("Because", line.because))
    if line.by_hand:
        found.append(Fact("! Clock", "the clock was set by hand", "late"))
    if line.doubtful:
        found.append(Fact("? Clock", "it contradicts the entries around it", "late"))
    if not line.vouched:
        found.append(Fact("! Not vouched for", "it counts for safety alone", "late"))
    signature = "good" if line.signature == "good" else "BAD: run verify"
    found.append(Fact("Signature", signature, "good" if line.signature == "good" else "late"))
    return [*found, Fact("Entry", line.entry, "dim")]
