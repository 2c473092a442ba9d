"""What is drawn of a farm or an animal: each picture with the same figures as lines beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from herdsync.answers import HerdLine
from herdsync.faults import Refused
from herdsync.reports import KiddingLine
from herdsync.safe_text import safe_text
from herdsync.sights import Curve, Growth, HeadsLine, MilkCurve, Pedigree, Sights
from tui import words
from tui.pages import boxes, charts, counts, kin, lactations, weeks
from tui.pages.canvas import Line, Piece, legend, one
from tui.pages.page import Cell, Column, Page, Row
from tui.text import wrapped

if TYPE_CHECKING:
    from herdsync.farm import Farm

Draw = Callable[[int, int], list[Line]]  # width and height to lines
TABLE = (Column("Whose", 12, grow=1), Column("When", 12, grow=1), Column("What", 20, grow=3))
PEN_ORDER_LAST = 1_000
KID_DAYS = 240
GROWTH, MILK, SCURS, FAMILY = "growth", "milk", "scurs", "family"


@dataclass(frozen=True)
class Drawn:
    """One picture: its title, how it is drawn in so much room, and its figures as a page of lines."""

    title: str
    draw: Draw
    page: Page
    about: str = ""


def of_animal(farm: Farm, ref: str, first: str = "") -> list[Drawn]:
    """Growth, milk, scurs and family of one animal, those there are figures for; ``first`` leads."""
    told = farm.sights(ref)
    found = []
    if any(curve.points for curve in told.growth.curves):
        found.append(_growth(told))
    if told.milk is not None:
        found.append(_milk(told.name, told.milk, _lactation(farm, ref)))
    if told.scurs:
        found.append(_scurs(told.name, told.scurs))
    found.append(_family(told.name, told.pedigree))
    return sorted(found, key=lambda one: one.about != first)


def _lactation(farm: Farm, ref: str) -> list[str]:
    try:
        lines = farm.milk_board(ref).lactations[-1:]
    except Refused:
        return []
    return [
        f"{fact.label}: {fact.text}"
        for line in lines
        for fact in lactations.facts(line)
        if fact.label in ("Milk", "Keeps", "Cell score")
    ]


def _with_notes(notes: Sequence[Piece], draw: Draw) -> Draw:
    """A picture with sentences under it; they are wrapped, never cut."""

    def drawn(width: int, height: int) -> list[Line]:
        under = [one(line, tone) for said, tone in notes if said for line in wrapped(said, width)]
        return [*draw(width, max(charts.FEWEST_ROWS + 3, height - len(under))), *under]

    return drawn


def _growth(told: Sights) -> Drawn:
    growth: Growth = told.growth
    days = [point.day for point in growth.curves[0].points]
    grown = not days or max(days) > KID_DAYS
    title = f"{'Weight' if grown else 'Growth'} of {told.name}"
    title += " with litter mates" if len(growth.curves) > 1 else ""
    series = _series(growth.curves)
    band = [(one.day, one.least, one.most) for one in growth.band]

    def draw(width: int, height: int) -> list[Line]:
        return charts.points(series, width, height, "kg", _aged, band)

    page = Page(TABLE, _figure_rows(growth.curves, "kg"), "")
    return Drawn(title, _with_notes([(growth.says, "dim")], draw), page, GROWTH)


def _aged(day: float) -> str:
    return words.age(round(day))


def _milk(name: str, told: MilkCurve, sums: Sequence[str]) -> Drawn:
    days = [(point.day, point.value, point.mark) for point in told.days.points]
    tests = [(float(point.day), point.value) for point in told.tests.points]

    def draw(width: int, height: int) -> list[Line]:
        return charts.bars(days, tests, width, height, "kg", "day {:g} in milk".format)

    held = f"{told.held_kg:g} kg of it was held and not for sale." if told.held_kg else ""
    notes = [(f"{told.says}. {held}".strip(), "dim"), *((one, "accent") for one in sums)]
    rows = [
        Row(f"{curve.name} {point.on}",
            (Cell(curve.name, "held" if point.mark in ("held", "part") else "plain"), Cell(point.on),
             Cell(f"{point.value:g} kg{_marked(point.mark)}")))
        for curve in (told.days, told.tests)
        for point in curve.points
    ]  # fmt: skip
    return Drawn(
        f"Milk of {name}, day by day", _with_notes(notes, draw), Page(TABLE, rows, ""), MILK
    )


def _marked(mark: str) -> str:
    return {"held": " ■ held: not for sale", "part": " ■ held in part"}.get(mark, "")


def _scurs(name: str, curves: Sequence[Curve]) -> Drawn:
    series = _series(curves)

    def draw(width: int, height: int) -> list[Line]:
        return charts.points(series, width, height, "mm", _aged)

    return Drawn(f"Scurs of {name}", draw, Page(TABLE, _figure_rows(curves, "mm"), ""), SCURS)


def _series(curves: Sequence[Curve]) -> dict[str, list[charts.Point]]:
    return {
        safe_text(curve.name): [(point.day, point.value) for point in curve.points]
        for curve in curves
    }


def _figure_rows(curves: Sequence[Curve], unit: str) -> list[Row]:
    return [
        Row(f"{curve.name} {at}",
            (Cell(curve.name), Cell(f"{point.on} ({words.age(point.day)})"), Cell(f"{point.value:g} {unit}")),
            animal=curve.animal, name=curve.name)
        for curve in curves
        for at, point in enumerate(curve.points)
    ]  # fmt: skip


def _family(name: str, told: Pedigree) -> Drawn:
    def draw(width: int, height: int) -> list[Line]:
        del height
        return [*kin.tree(told, width), one("")]

    rows = [
        Row(f"kin {line.path}",
            (Cell("  " * (len(line.path) - 1) + words.kin(line.path), "dim"), Cell(line.name or "no name"),
             Cell(f"{line.mark} {line.born}{'' if line.sure else ' ? only presumed'}".strip(), "dim")),
            animal=line.id, name=line.name, record=line.id)
        for line in told.ancestors
    ]  # fmt: skip
    columns = (
        Column("Kin", 22, grow=1),
        Column("Name", 14, grow=1),
        Column("Mark, born", 20, grow=2),
    )
    empty = "No parent is written down: e on its page gives dam and sire."
    return Drawn(
        f"Family of {name}, four generations",
        _with_notes(kin.figures(told), draw),
        Page(columns, rows, empty),
        FAMILY,
    )


def pens(farm: Farm) -> list[Drawn]:
    """Who stands where, in the order of the walk."""
    order = {pen: place for place, pen in enumerate(farm.pens())}
    groups: dict[str, list[HerdLine]] = {pen: [] for pen in order}
    for line in farm.herd():
        groups.setdefault(line.pen or "No pen", []).append(line)
    told = sorted(groups.items(), key=lambda one: order.get(one[0], PEN_ORDER_LAST))
    counted = farm.heads()
    named: list[tuple[str, list[Piece]]] = [
        (f"{pen} ({len(lines)})", [*_miscounted(counted, pen), *(_stands(one) for one in lines)])
        for pen, lines in told
    ]
    rows = [counts.row_of_map(one) for one in counted] + [
        Row(f"{pen} {one.id}",
            (Cell(pen, "dim"), Cell(one.name, "strong"), Cell(one.sex_now),
             Cell(words.hold_tags(one.holds), "tag" if one.holds else "plain")),
            animal=one.id, name=one.name, pen=pen)
        for pen, lines in told
        for one in lines
    ]  # fmt: skip
    columns = (
        Column("Pen", 14, grow=1), Column("Animal", 12, grow=1), Column("", 7), Column("Held", 20, grow=1),
    )  # fmt: skip
    facts = {counts.KEY + one.id: counts.facts(one) for one in counted}
    page = Page(columns, rows, "No animal is written down.", facts)
    return [Drawn("Who stands where", lambda width, _: boxes.boxes(named, width), page)]


def _miscounted(counted: Sequence[HeadsLine], pen: str) -> list[Piece]:
    return [(counts.beside_the_name(one), "late") for one in counts.of_pen(counted, pen)]


def _stands(line: HerdLine) -> Piece:
    held = words.not_for_sale(line.holds)
    tone = "held" if held else "strong" if "entire" in line.state else "plain"
    return f"{words.named(line.name, line.holds)}  {line.sex_now}", tone


def kiddings(farm: Farm) -> list[Drawn]:
    """The does in kid with their windows on one calendar."""
    lines = farm.kidding()
    today = farm.moment().date()
    told = [(safe_text(one.name), _spans(one)) for one in lines]
    rows = [
        Row(
            one.doe,
            (Cell(one.name, "strong"), Cell(one.due or "not known"),
             Cell(f"{' to '.join(one.window)}; {one.says}")),
            animal=one.doe, name=one.name,
        )
        for one in lines
    ]  # fmt: skip

    def draw(width: int, height: int) -> list[Line]:
        del height
        keys = [(f"{mark} {said}", tone) for mark, (said, tone) in weeks.MARKS.items()]
        return [*weeks.calendar(told, today, width), one(""), *legend(keys, width)]

    columns = (Column("Doe", 12, grow=1), Column("Due", 11), Column("Window", 20, grow=3))
    empty = (
        "No doe is in kid.\n\nesc, then o: write down a mating; her due day is worked out from it"
    )
    return [Drawn("Kidding calendar", draw, Page(columns, rows, empty))]


def _spans(line: KiddingLine) -> list[weeks.Span]:
    def ends(days: Sequence[str]) -> tuple[str, str]:
        return (days[0], days[-1]) if days else ("", "")

    watch = (
        (line.watch_from, line.window[0] if line.window else line.due)
        if line.watch_from
        else ("", "")
    )
    spans: Mapping[str, tuple[str, str]] = {
        "h": ends(line.heat_return), "c": ends(line.check), "d": (line.dry_off, ""),
        "b": ends(line.booster), "w": watch, "━": ends(line.window), "●": (line.due, ""),
    }  # fmt: skip
    return [(first, last, mark) for mark, (first, last) in spans.items() if first]
