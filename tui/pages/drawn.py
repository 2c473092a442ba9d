"""What is drawn of a farm or an animal: each picture with the same figures as lines beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from herdsync.answers import HerdLine
from herdsync.faults import Refused
from herdsync.safe_text import safe_text
from tui import words
from tui.pages import charts, pictures
from tui.pages.page import Cell, Column, Page, Row

if TYPE_CHECKING:
    from herdsync.farm import Farm

Draw = Callable[[int, int], list[charts.Line]]  # width and height to lines
TABLE = (Column("Whose", 12, grow=1), Column("When", 12, grow=1), Column("What", 20, grow=3))
MATES_MOST = 8
FIGURES_MOST = 200
PEN_ORDER_LAST = 1_000


@dataclass(frozen=True)
class Drawn:
    """One picture: its title, how it is drawn in so much room, and its figures as a page of lines."""

    title: str
    draw: Draw
    page: Page


def of_animal(farm: Farm, ref: str) -> list[Drawn]:
    """Growth, milk, scurs and family of one animal, those there are figures for."""
    herd = {line.id: line for line in farm.herd(every=True)}
    own = farm.show(ref)
    animal = own.animal
    if animal is None:
        return []
    mates = [
        one for one in herd.values()
        if animal.dam and one.id != animal.id and (one.dam, one.born) == (animal.dam, animal.born)
    ]  # fmt: skip
    growth = {
        one.name: _figures(farm, one, "weighing", "weight_kg")
        for one in (animal, *mates[:MATES_MOST])
    }
    board = next((kid for kid in farm.kids() if kid.id == animal.id), None)
    norm = board.gain_says if board is not None else ""
    scurs = {side: _figures(farm, animal, "scurs", f"{side}_mm") for side in ("left", "right")}
    found = [
        _curve("Growth with litter mates", growth, "kg", "days old", norm),
        _curve("Milk, milking by milking", _milk(farm, animal), "kg", "days old", ""),
        _curve("Scurs", scurs, "mm", "days old", ""),
    ]
    return [one for one in found if one.page.rows] + [_family(farm, animal, herd)]


def _milk(farm: Farm, animal: HerdLine) -> dict[str, list[Figure]]:
    """Milkings sold, and those that were not: held, fed or thrown away."""
    every = _figures(farm, animal, "milk", "milk_kg", also="sold")
    return {
        "sold": [one for one in every if one.also],
        "not sold": [one for one in every if not one.also],
    }


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of an animal: when, at what age in days, how much."""

    on: str
    day: int
    value: float
    also: bool = False


def _figures(farm: Farm, animal: HerdLine, kind: str, field: str, also: str = "") -> list[Figure]:
    born = date.fromisoformat(animal.born[:10]) if len(animal.born) >= 10 else None
    found = []
    acts = [act for act in farm.show(animal.id).acts if act.kind == kind][:FIGURES_MOST]
    for act in reversed(acts):
        fields = farm.show(act.id).fields
        told = fields.get(field)
        if told is None or not isinstance(told.value, int | float) or len(act.on) < 10:
            continue
        day = date.fromisoformat(act.on[:10])
        flag = fields.get(also)
        marked = flag is not None and flag.value is True
        found.append(Figure(act.on, (day - (born or day)).days, float(told.value), marked))
    return found


def _curve(
    title: str, series: Mapping[str, list[Figure]], unit: str, across: str, note: str
) -> Drawn:
    told = {
        safe_text(name): [(one.day, one.value) for one in every]
        for name, every in series.items()
        if every
    }

    def draw(width: int, height: int) -> list[charts.Line]:
        notes = [(safe_text(note), "dim")] if note else []
        return [*charts.points(told, width, height - len(notes), unit, across), *notes]

    rows = [
        Row(f"{name} {at}", (Cell(name), Cell(one.on[:10]), Cell(f"{one.value:g} {unit}")))
        for name, every in series.items()
        for at, one in enumerate(every)
    ]  # fmt: skip
    return Drawn(title, draw, Page(TABLE, rows, ""))


def _family(farm: Farm, animal: HerdLine, herd: Mapping[str, HerdLine]) -> Drawn:
    rows = pictures.family(animal, herd)
    kin = ""
    if animal.dam and animal.sire:
        try:
            mating = farm.match(animal.dam, animal.sire)
            kin = f"Inbred {mating.inbreeding:.3f}, as far as ancestors are known."
        except Refused as fault:
            kin = f"Inbreeding cannot be told: {fault}"

    def draw(width: int, height: int) -> list[charts.Line]:
        del width, height
        tree: list[charts.Line] = [(safe_text(animal.name), "strong")]
        for row in rows:
            word, name, mark = (cell.text for cell in row.cells)
            depth = (len(word) - len(word.lstrip())) // 2
            tree.append(
                (f"{'   ' * depth}└─ {word.strip()}: {safe_text(name.strip())}  {mark}", "plain")
            )
        return [*tree, (kin or "Both parents must be known to tell the inbreeding.", "accent")]

    return Drawn("Family, four generations", draw, Page(TABLE, rows, "No parent is written down."))


def _sex(line: HerdLine) -> str:
    return "wether" if "wether" in line.state else line.sex


def pens(farm: Farm) -> list[Drawn]:
    """Who stands where, in the order of the walk."""
    order = {pen: place for place, pen in enumerate(farm.pens())}
    groups: dict[str, list[HerdLine]] = {pen: [] for pen in order}
    for line in farm.herd():
        groups.setdefault(line.pen or "No pen", []).append(line)
    told = sorted(groups.items(), key=lambda one: order.get(one[0], PEN_ORDER_LAST))
    named = [
        (safe_text(f"{pen} ({len(lines)})"),
         [safe_text(f"{words.named(one.name, one.holds)}  {_sex(one)}") for one in lines])
        for pen, lines in told
    ]  # fmt: skip
    rows = [
        Row(f"{pen} {one.id}", (Cell(pen), Cell(one.name), Cell(f"{_sex(one)} {words.hold_tags(one.holds)}")))
        for pen, lines in told
        for one in lines
    ]  # fmt: skip
    columns = (Column("Pen", 14, grow=1), Column("Animal", 12, grow=1), Column("", 20, grow=2))
    page = Page(columns, rows, "No animal is written down.")
    return [Drawn("Who stands where", lambda width, _: charts.boxes(named, width), page)]


def _ends(days: list[str]) -> tuple[str, str]:
    return (days[0], days[-1]) if days else ("", "")


def kiddings(farm: Farm) -> list[Drawn]:
    """The does in kid with their windows on one calendar."""
    lines = farm.kidding()
    today = farm.moment().date()
    told = []
    for one in lines:
        spans: list[charts.Span] = [
            (*_ends(one.heat_return), "h"), (*_ends(one.check), "c"), (one.dry_off, "", "d"),
            (*_ends(one.booster), "b"),
            (*_ends(one.window), "━"), (one.due, "", "●"),
        ]  # fmt: skip
        told.append((safe_text(one.name), [(a, b, mark) for a, b, mark in spans if a]))
    rows = [
        Row(
            one.doe, (Cell(one.name), Cell(one.due), Cell(f"{' to '.join(one.window)}; {one.says}"))
        )
        for one in lines
    ]

    def draw(width: int, height: int) -> list[charts.Line]:
        del height
        drawn = charts.calendar(told, today, width)
        marks = "● due  ━ window  d dry off  b booster  c test for kids  h heat may come back"
        return [*drawn, (marks, "accent")]

    page = Page(
        (Column("Doe", 12, grow=1), Column("Due", 11), Column("Window", 20, grow=3)),
        rows,
        "No doe is in kid.",
    )
    return [Drawn("Kidding calendar", draw, page)]
