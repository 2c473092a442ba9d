"""Figures of one animal over time, for drawing: weights beside a usual band, milk, scurs, ancestors.

Must not know how anything is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from fractions import Fraction

from herdsync.kinds.ids import raw_id, text_id
from herdsync.merge.records import Record
from herdsync.projections.amounts import figure, told
from herdsync.projections.breeding import pedigree, size_of
from herdsync.projections.goat import Goat
from herdsync.projections.growth import growth_of
from herdsync.projections.herd import Herd
from herdsync.projections.milk import held_milking
from herdsync.sights import Ancestor, BandDay, Curve, Growth, MilkCurve, Pedigree, Point, Sights
from herdsync.trade.gain_band import BAND_DAYS, BAND_WORDS, usual_weight_kg
from herdsync.trade.pedigree import Parentage
from herdsync.trade.relationship import inbreeding_of

GENERATIONS = 4
# A milk curve without a kidding on record goes back so far: a standard lactation.
MILK_DAYS = 305
# A band of kids says nothing of an animal that is older: eight months.
KID_DAYS = 240
SIDES = ("left", "right")
MATES_MOST = 8


def sights(herd: Herd, goat: Goat) -> Sights:
    """All there is to draw of one animal."""
    return Sights(
        text_id(goat.id),
        goat.name,
        str(goat.told("born") or ""),
        growth(herd, goat),
        milk_curve(herd, goat),
        [curve for side in SIDES if (curve := _scurs(goat, side)).points],
        ancestry(herd, goat),
    )


def growth(herd: Herd, goat: Goat) -> Growth:
    """Weights of the animal and its litter mates; the usual band while it is or was a kid."""
    grown = growth_of(goat)
    says = grown.says
    band: list[BandDay] = []
    born = goat.born
    weighed = [day for day, _ in goat.done("weighing")]
    young = born is not None and any((day - born).days <= KID_DAYS for day in weighed)
    if born is not None and young and size_of(goat) == "standard":
        for day in range(BAND_DAYS + 1):
            least, most = usual_weight_kg(day, grown.birth_kg)
            band.append(BandDay(day, float(round(least, 2)), float(round(most, 2))))
        says = f"{grown.says.partition(';')[0]}; {BAND_WORDS}" if says else BAND_WORDS
    curves = [_weights(one) for one in (goat, *_mates(herd, goat)[:MATES_MOST])]
    return Growth([curves[0], *(one for one in curves[1:] if one.points)], band, says)


def milk_curve(herd: Herd, doe: Goat) -> MilkCurve | None:
    """Milk day by day since her last kidding, each day with what of it was held; None without any."""
    if not doe.female:
        return None
    kidded = doe.last_kidding
    milkings = [(day, act) for day, act in doe.done("milk") if act.value("milk_kg") is not None]
    tests = [(day, act) for day, act in doe.done("test-day") if act.value("milk_kg") is not None]
    every = [day for day, _ in (*milkings, *tests)]
    if not every:
        return None
    start = kidded[0] if kidded is not None else max(every) - timedelta(days=MILK_DAYS)
    if kidded is None:
        start = max(start, min(every))
    by_day: dict[date, list[Record]] = {}
    for day, act in milkings:
        if day >= start:
            by_day.setdefault(day, []).append(act)
    points, held_kg = [], Fraction(0)
    for day, acts in sorted(by_day.items()):
        held = [act for act in acts if held_milking(herd, doe, act)]
        held_kg += sum((_kg(act) for act in held), Fraction(0))
        mark = "held" if len(held) == len(acts) else "part" if held else ""
        points.append(_point(day, start, sum((_kg(act) for act in acts), Fraction(0)), mark))
    tested = [_point(day, start, _kg(act), "test") for day, act in tests if day >= start]
    if not points and not tested:
        return None
    says = (
        f"day 0 is her kidding of {start}"
        if kidded is not None
        else f"no kidding is on record: day 0 is {start}"
    )
    return MilkCurve(
        start.isoformat(),
        Curve("milk of the day", points, text_id(doe.id)),
        Curve("test day", tested, text_id(doe.id)),
        float(round(held_kg, 2)),
        says,
    )


def ancestry(herd: Herd, goat: Goat) -> Pedigree:
    """Ancestors of four generations with how inbred the animal is and how much of it is known."""
    book = pedigree(herd.records, herd.look)
    found = inbreeding_of(book, text_id(goat.id))
    known = found.completeness
    ancestors = list(_ancestors(herd, text_id(goat.id), book.lines, ""))
    return Pedigree(
        ancestors=ancestors,
        inbreeding=float(round(found.inbreeding, 6)),
        complete_generations=known.complete_generations,
        equivalent_generations=float(round(known.equivalent_generations, 4)),
        known=[float(share) for share in known.known_by_generation[:GENERATIONS]],
        says=known.reason,
        faults=[one.reason for one in found.faults],
    )


def _ancestors(
    herd: Herd, animal: str, lines: Mapping[str, Parentage], path: str
) -> Iterator[Ancestor]:
    line = lines.get(animal)
    if line is None or len(path) == GENERATIONS:
        return
    for step, parent, sure in (("s", line.sire, line.sire_sure), ("d", line.dam, line.dam_sure)):
        if parent is None or parent not in lines:
            continue
        goat = herd.goat(raw_id(parent))
        yield Ancestor(
            path + step,
            parent,
            lines[parent].name,
            _mark(goat),
            str(goat.told("born") or "") if goat is not None else "",
            sure,
        )
        yield from _ancestors(herd, parent, lines, path + step)


def _mark(goat: Goat | None) -> str:
    if goat is None:
        return ""
    return str(goat.told("tattoo_left") or goat.told("tattoo_right") or "")


def _mates(herd: Herd, goat: Goat) -> list[Goat]:
    """Those born with it: of one kidding, else of one dam on one day."""
    kidding, dam = goat.told("kidding"), goat.told("dam")
    found = []
    for other in herd.every:
        together = kidding is not None and other.told("kidding") == kidding
        same_day = dam is not None and other.told("dam") == dam and other.born == goat.born
        if other.id != goat.id and (together or (same_day and goat.born is not None)):
            found.append(other)
    return found


def _weights(goat: Goat) -> Curve:
    points = []
    for day, act in goat.done("weighing"):
        kg = told(act, "weight_kg", "kg")
        if kg is not None:
            points.append(_point(day, _begins(goat, "weighing"), kg, "", act))
    return Curve(goat.name, points, text_id(goat.id))


def _scurs(goat: Goat, side: str) -> Curve:
    points = []
    for day, act in goat.done("scurs"):
        mm = told(act, f"{side}_mm", "mm")
        if mm is not None:
            points.append(_point(day, _begins(goat, "scurs"), mm, "", act))
    return Curve(side, points, text_id(goat.id))


def _begins(goat: Goat, kind: str) -> date:
    """Day 0: its birth, else the first of its acts of a kind."""
    return goat.born or goat.done(kind)[0][0]


def _kg(act: Record) -> Fraction:
    return told(act, "milk_kg", "kg") or Fraction(0)


def _point(day: date, start: date, value: Fraction, mark: str, act: Record | None = None) -> Point:
    return Point(
        day.isoformat(),
        (day - start).days,
        figure(value) or 0.0,
        mark,
        text_id(act.id) if act is not None else "",
    )
