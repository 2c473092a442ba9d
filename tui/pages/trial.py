"""What a change of the care plan would make due, as lines. Only shown here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.answers import PlanChange

COLUMNS = (
    Column("", 8),
    Column("Animal", 12, grow=1),
    Column("Work", 24, grow=3),
    Column("Now", 16, grow=1, room=80),
    Column("Then", 16, grow=1),
)
AHEAD_DAYS = 30
NOTHING = f"Nothing that is open now, or opens within {AHEAD_DAYS} days, would change."
MARKS = {"new": "+ new", "moved": "~ moved", "gone": "- gone"}
TONES = {"new": "due", "moved": "open", "gone": "dim"}
SHOWN = 8


def trial_page(plan: str, changes: Sequence[PlanChange], now: datetime) -> Page:
    """A line a piece of work that would come, move or go under a plan."""
    rows = [heading("plan", plan, _counts(changes), "only looked at")] if changes else []
    facts = {}
    for number, one in enumerate(changes):
        tone = TONES.get(one.what, "plain")
        cells = (
            Cell(MARKS.get(one.what, one.what), tone),
            Cell(one.name or one.pen, "strong"),
            Cell(one.work, tone),
            Cell(_at(one.state_before, one.due_before, now), "dim"),
            Cell(_at(one.state_after, one.due_after, now), tone),
        )
        rows.append(Row(str(number), cells, animal=one.animal, name=one.name, pen=one.pen))
        facts[str(number)] = [Fact("", one.work, "strong"), Fact("Why", one.reason)]
    return Page(COLUMNS, rows, NOTHING, facts)


def counted(changes: Sequence[PlanChange]) -> str:
    """How much would change, in one sentence."""
    if not changes:
        return NOTHING
    return f"Of what is open now or opens within {AHEAD_DAYS} days: {_counts(changes)}."


def _counts(changes: Sequence[PlanChange]) -> str:
    counts = {what: sum(one.what == what for one in changes) for what in MARKS}
    return ", ".join(f"{number} {what}" for what, number in counts.items() if number)


def told_short(changes: Sequence[PlanChange], now: datetime) -> str:
    """The sentence, and the first few changes beneath it."""
    lines = [counted(changes)]
    for one in changes[:SHOWN]:
        then = _at(one.state_after, one.due_after, now) or "no more"
        lines.append(
            f"  {MARKS.get(one.what, one.what)}  {one.name or one.pen}: {one.work}, {then}"
        )
    if len(changes) > SHOWN:
        lines.append(f"  and {len(changes) - SHOWN} more")
    return "\n".join(lines)


def _at(state: str, due: str, now: datetime) -> str:
    return f"{words.state_word(state)} {words.day_word(due, now)}".strip() if state else ""
