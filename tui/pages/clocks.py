"""Clocks: every running timer, and every hold on what may be sold."""

from __future__ import annotations

from datetime import datetime

from herdsync.answers import HerdLine, Timer
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


def held_rows(animals: list[HerdLine]) -> list[Row]:
    """The animals whose milk or meat may not be sold."""
    rows = []
    for line in animals:
        held = words.not_for_sale(line.holds)
        if held:
            cells = (
                Cell(words.hold_tags(held), "tag"),
                Cell(line.name, "held"),
                Cell(", ".join(held)),
                Cell(line.pen, "dim"),
            )
            rows.append(Row(f"held {line.id}", cells, animal=line.id, name=line.name, pen=line.pen))
    return rows
