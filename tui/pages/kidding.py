"""Kidding: does in kid with their windows, kids with what presses, does and bucks that met."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from herdsync.reports import ExposureLine, KidBoard, KiddingLine
from tui import words
from tui.pages import kids
from tui.pages.page import Cell, Cells, Column, Fact, OnAsking, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.answers import HerdLine
    from herdsync.farm import Farm

COLUMNS = (
    Column("Animal", 13, grow=1),
    Column("Now", 20, grow=2),
    Column("When", 24, grow=2),
    Column("Says", 10, grow=4, room=90),
)
EMPTY = (
    "No doe is in kid and there is no kid.\n\n"
    "o  write down a mating or a heat: the due date is worked out from it\n"
    "k  write down a kidding, then each kid"
)
CALL_THE_VET = (
    "Hard straining for half an hour with no progress, or a doe that weakens, is the moment to call the "
    "veterinarian."
)


def read(farm: Farm, now: datetime) -> Page:
    """Does, kids and meetings as lines."""
    does, boards = farm.kidding(), farm.kids()
    told = farm.animal_lines([*(doe.doe for doe in does), *(kid.id for kid in boards)])
    herd = {line.id: line for line in told}
    rows: list[Row] = []
    facts: dict[str, Callable[[], list[Fact]]] = {}
    if does:
        rows.append(heading("does", "In kid", words.count(len(does), "doe")))
    for doe in does:
        rows.append(_doe(doe, herd.get(doe.doe), now))
        facts[doe.doe] = partial(doe_facts, doe, now)
    if boards:
        rows.append(heading("kids", "Kids", words.count(len(boards), "kid")))
    for kid in boards:
        line = herd.get(kid.id)
        rows.append(_kid(kid, line.pen if line is not None else ""))
        facts[f"kid {kid.id}"] = partial(kids.facts, kid, now)
    meetings = _meetings(farm.exposures(), now)
    rows += [row for row, _ in meetings]
    facts |= {row.key: partial(_met_facts, one) for row, one in meetings}
    if meetings:
        rows.insert(-len(meetings), heading("met", "Shared a pen with a male able to sire"))
    return Page(COLUMNS, rows, EMPTY, OnAsking(facts, lambda key: facts[key]()))


def _doe(line: KiddingLine, animal: HerdLine | None, now: datetime) -> Row:
    holds = animal.holds if animal is not None else []
    watch, tone = _watch(line, now)
    doubt = "" if line.sure else "? "
    sire = f" by {line.sire}" if line.sire else ""
    cells = (
        Cell(words.named(line.name, holds), "held" if words.not_for_sale(holds) else "strong"),
        Cell(f"{doubt}{line.proof}{sire}", "late" if doubt else "plain"),
        Cell(f"{watch}{_due(line, now)}", tone),
        Cell(_window(line, now), "dim"),
    )
    return Row(line.doe, cells, animal=line.doe, name=line.name, pen=line.pen)


def _due(line: KiddingLine, now: datetime) -> str:
    if line.days_left is None:
        return "due day not known"
    gap = f"in {words.span(line.days_left)}" if line.days_left >= 0 else f"{-line.days_left} d past"
    return f"due {words.stamp(line.due, now)}, {gap}" if line.due else f"about {gap}"


def _watch(line: KiddingLine, now: datetime) -> tuple[str, str]:
    """Whether she is to be watched already, as a word and a tone."""
    today = now.date().isoformat()
    if line.window and today > line.window[1]:
        return "▲ over: ", "late"
    if line.window and today >= line.window[0]:
        return "◆ any hour: ", "closing"
    return (
        ("◆ watch: ", "closing") if line.watch_from and today >= line.watch_from else ("", "strong")
    )


def _window(line: KiddingLine, now: datetime) -> str:
    return " to ".join(words.stamp(day, now) for day in line.window)


def doe_facts(line: KiddingLine, now: datetime) -> list[Fact]:
    """The days that follow from her mating, the nearest ones first; what to call the vet for.

    Of one who is watched already that stands right under the days: a small screen cuts off the rest.
    """
    spans = (
        ("Kids between", line.window), ("Watch her from", [line.watch_from]),
        ("Booster", line.booster), ("Dry off", [line.dry_off]), ("Test for kids", line.check),
        ("Heat may come back", line.heat_return),
    )  # fmt: skip
    found = []
    for label, days in spans:
        told = " to ".join(words.day_word(day, now) for day in days if day)
        if told:
            found.append(Fact(label, told, "strong" if label == "Kids between" else "plain"))
    call = Fact("! Caution", CALL_THE_VET, "closing")
    watched, _ = _watch(line, now)
    found.insert(1 if watched and line.window else len(found), call)
    if not line.sure:
        found.insert(
            0, Fact("? Disputed", "Accounts of her mating differ: look at Conflicts (6).", "late")
        )
    return [*found, Fact("Rests on", line.says)]


def _kid(kid: KidBoard, pen: str) -> Row:
    first = kids.pressing(kid)
    weight = f"{kid.weight_kg:g} kg" if kid.weight_kg is not None else "not weighed"
    gain = f", {kid.gain_g_per_day:.0f} g/day" if kid.gain_g_per_day is not None else ""
    alert = "▲ " if kid.alerts else ""
    cells = (
        Cell(alert + kid.name, "late" if alert else "strong"),
        Cell(f"{kid.sex_now}, {words.age(kid.age_days)}, {weight}{gain}"),
        Cell(
            f"{words.state_word(first.state)}: {first.work}" if first else "nothing open",
            first.state if first else "dim",
        ),
        Cell(f"dam {kid.dam}" if kid.dam else "", "dim"),
    )
    return Row(f"kid {kid.id}", cells, animal=kid.id, name=kid.name, pen=pen)


def _meetings(met: list[ExposureLine], now: datetime) -> list[tuple[Row, ExposureLine]]:
    """Does that shared a pen with a male able to sire, each with what is known of the meeting."""
    return [
        (
            Row(f"met {number} {one.doe}", partial(_met, one, now), animal=one.doe, name=one.doe_name,
                pen=one.pen),
            one,
        )
        for number, one in enumerate(met)
    ]  # fmt: skip


def _met(one: ExposureLine, now: datetime) -> Cells:
    sure = "" if one.sure else "? "
    window = " to ".join(words.day_word(day, now) for day in one.window)
    return (
        Cell(f"{sure}{one.doe_name}", "late"),
        Cell(f"with {one.male_name} in {one.pen}, {one.days} d"),
        Cell(f"may kid {window}" if window else ""),
        Cell(one.says, "dim"),
    )


def _met_facts(one: ExposureLine) -> list[Fact]:
    related = f"{one.relationship * 100:.3g} %" if one.relationship else "none known"
    return [Fact("Met", one.says, "late"), Fact("Related", related)]
