"""Clocks: every running timer, and every hold on what may be sold."""

from __future__ import annotations

from datetime import datetime

from herdsync.answers import HerdLine, Hold, Timer
from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row

COLUMNS = (
    Column("Left", 13),
    Column("Animal", 13, grow=1),
    Column("What", 20, grow=2),
    Column("Ends", 17, grow=1),
)
EMPTY = "No clock is running.\n\ng  give a medicine: its holds and next dose run here"


def page(timers: list[Timer], now: datetime) -> Page:
    """All running clocks, the soonest first."""
    rows = [row(timer, number, now) for number, timer in enumerate(timers)]
    facts = {one.key: timer_facts(timer, now) for one, timer in zip(rows, timers, strict=True)}
    return Page(COLUMNS, rows, EMPTY, facts)


def row(timer: Timer, number: int, now: datetime) -> Row:
    """One running clock."""
    left = words.seconds_left(timer.ends, now)
    tag = words.hold_tags([timer.what]) if timer.what.endswith("clear") else ""
    doubt = " (check date)" if timer.doubtful else ""
    cells = (
        Cell(words.countdown(left), "late" if left <= 0 else "strong"),
        Cell(f"{timer.name} {tag}".strip(), "held" if tag else "strong"),
        Cell(timer.what),
        Cell(words.stamp(timer.ends, now) + doubt),
    )
    record = timer.records[0] if timer.records else ""
    key = f"clock {number} {timer.animal} {timer.what}"
    return Row(key, cells, animal=timer.animal, name=timer.name, record=record)


def timer_facts(timer: Timer, now: datetime) -> list[Fact]:
    """Since when a clock runs and until when."""
    found = [
        Fact("Since", words.day_word(timer.since, now)),
        Fact("Ends", words.day_word(timer.ends, now), "strong"),
    ]
    if timer.doubtful:
        found.append(Fact("? Check the date", "a clock it rests on is doubtful", "late"))
    return found


def held_row(line: HerdLine, hold: Hold, now: datetime) -> Row:
    """What may not be sold of one animal, how long still and until when."""
    left = words.countdown(words.seconds_left(hold.until, now)) if hold.until else "unknown"
    tag = words.hold_tags([hold.what])
    cells = (
        Cell(left, "held"),
        Cell(f"{line.name} {tag}", "tag"),
        Cell(hold.what),
        Cell(words.stamp(hold.until, now) if hold.until else "nobody knows", "strong"),
    )
    record = hold.records[0] if hold.records else ""
    key = f"held {line.id} {hold.what}"
    return Row(key, cells, animal=line.id, name=line.name, pen=line.pen, record=record)


def hold_facts(hold: Hold, now: datetime) -> list[Fact]:
    """What is held, until when as a moment and a countdown, and why."""
    until = "nobody knows when: ask the veterinarian"
    if hold.until:
        left = words.countdown(words.seconds_left(hold.until, now))
        until = f"{words.day_word(hold.until, now)}, {left}"
    found = [Fact(hold.what, f"until {until}", "held"), Fact("Why", hold.reason)]
    if hold.disputed:
        found.append(Fact("? Disputed", "The longest account holds until it is resolved.", "late"))
    return found
