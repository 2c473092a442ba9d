"""Lactations of the does by the test interval method, from kidding to drying off or to today.

Milk held for a withdrawal was still given and counts here. Corrected figures come from cows and
compare does with each other only. Must not know prices.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections.amounts import figure, told
from herdsync.projections.goat import Goat
from herdsync.reports import LactationLine
from herdsync.trade.advice import Advice
from herdsync.trade.lactation import (
    STANDARD_LACTATION_DAYS,
    WIDEST_GAP_DAYS,
    Lactation,
    MilkTest,
    lactation_yield,
    standard_lactation,
)
from herdsync.trade.milk import (
    cell_score,
    day_plausible,
    energy_corrected_milk_kg,
    fat_corrected_milk_kg,
    judge_cells,
    persistency,
)
from herdsync.trade.units import plain

MILK_CAUTION = (
    "Milk of the first days after kidding and milk under a hold is not for sale; it was given all "
    "the same and counts as produced. A cell count is no diagnosis: follow the doe's own trend."
)
# Without test days, days on which she was milked at least this often stand for them.
MILKINGS_OF_A_DAY = 2
# Persistency from days close together is chance: common practice, no published source.
KEPT_LEAST_DAYS = 28


def lactation_lines(does: Iterable[Goat], *, every: bool = False) -> list[LactationLine]:
    """The newest lactation of each doe that has any test, or with ``every`` all of them."""
    found = []
    for doe in does:
        lines = list(_lactations(doe))
        found += lines if every else lines[-1:]
    return found


def test_day_words(doe: Goat, test: Record) -> Iterator[str]:
    """Whether the figures of a test day just written down can be, and what its cells say of sale."""
    figures = day_plausible(
        told(test, "milk_kg", "kg"),
        told(test, "fat_percent", "%"),
        told(test, "protein_percent", "%"),
    )
    if figures.advice is not Advice.OK:
        yield f"{doe.name}: {figures.reason}."
    cells = test.value("cells_per_ml")
    if isinstance(cells, int):
        finding = judge_cells(cells, doe.look.settings.cells_limit)
        if finding.advice is not Advice.OK:
            yield f"{doe.name}: {finding.reason}."


def _lactations(doe: Goat) -> Iterator[LactationLine]:
    kiddings = [day for day, _ in doe.done("kidding")]
    for place, start in enumerate(kiddings):
        following = kiddings[place + 1] if place + 1 < len(kiddings) else None
        dried = [
            day
            for day, _ in doe.done("dry-off")
            if day > start and (following is None or day <= following)
        ]
        running = not dried and following is None
        end = dried[0] if dried else following or doe.look.today
        tests = _tests(doe, start, end)
        if tests and end > start:
            yield _line(doe, start, end, running, tests)


def _tests(doe: Goat, start: date, end: date) -> dict[date, tuple[MilkTest, Record | None]]:
    """Test days within a lactation; where there are none, days whose milkings were all weighed."""
    milked = _milked_by_day(doe)
    found: dict[date, tuple[MilkTest, Record | None]] = {}
    for day, test in doe.done("test-day"):
        milk = told(test, "milk_kg", "kg")
        if milk is None and day in milked:
            milk = milked[day]
        if start <= day <= end and milk is not None:
            fat, protein = (told(test, f"{what}_percent", "%") for what in ("fat", "protein"))
            found[day] = (MilkTest(day, milk, fat, protein), test)
    if found:
        return found
    return {day: (MilkTest(day, milk), None) for day, milk in milked.items() if start <= day <= end}


def _milked_by_day(doe: Goat) -> dict[date, Fraction]:
    """The milk of each day on which she was milked at least twice."""
    by_day: dict[date, list[Fraction]] = {}
    for day, milking in doe.done("milk"):
        by_day.setdefault(day, []).append(told(milking, "milk_kg", "kg") or Fraction(0))
    return {
        day: sum(milkings, Fraction(0))
        for day, milkings in by_day.items()
        if len(milkings) >= MILKINGS_OF_A_DAY
    }


def _line(
    doe: Goat,
    start: date,
    end: date,
    running: bool,
    tests: dict[date, tuple[MilkTest, Record | None]],
) -> LactationLine:
    whole: Lactation | None = None
    standard: Lactation | None = None
    points = [test for test, _ in tests.values()]
    by_milkings = all(record is None for _, record in tests.values())
    gap = _unbridged(start, end, list(tests)) if by_milkings else 0
    try:
        if gap > WIDEST_GAP_DAYS:
            raise ValueError(f"no milking was weighed for {gap} days; record test days")
        whole = lactation_yield(start, end, points)
        standard = standard_lactation(start, end, points)
        says = whole.reason
    except ValueError as fault:
        says = f"no yield can be told: {fault}"
    cells = [
        (day, int(record.value("cells_per_ml")))
        for day, (_, record) in sorted(tests.items())
        if record is not None and record.value("cells_per_ml")
    ]
    scores = [float(cell_score(count)) for _, count in cells]
    fcm, ecm = _corrected(whole)
    return LactationLine(
        animal=text_id(doe.id),
        name=doe.name,
        start=start.isoformat(),
        end=end.isoformat(),
        running=running,
        days=(end - start).days,
        tests=len(points),
        milk_kg=figure(whole.milk_kg if whole else None, 4),
        fat_kg=figure(whole.fat_kg if whole else None, 4),
        protein_kg=figure(whole.protein_kg if whole else None, 4),
        fat_percent=figure(whole.fat_percent if whole else None),
        protein_percent=figure(whole.protein_percent if whole else None),
        standard_days=min(STANDARD_LACTATION_DAYS, standard.days) if standard else None,
        standard_milk_kg=figure(standard.milk_kg if standard else None, 4),
        fcm4_kg=figure(fcm),
        ecm_kg=figure(ecm),
        cells_per_ml=cells[-1][1] if cells else None,
        cell_score=scores[-1] if scores else None,
        cell_scores=scores,
        persistency_percent=_kept(points),
        says=says,
        warnings=[*(whole.warnings if whole else ()), *_cell_warnings(doe, cells)],
    )


def _corrected(whole: Lactation | None) -> tuple[Fraction | None, Fraction | None]:
    if whole is None or whole.fat_kg is None:
        return None, None
    fcm = fat_corrected_milk_kg(whole.milk_kg, whole.fat_kg)
    if whole.protein_kg is None:
        return fcm, None
    return fcm, energy_corrected_milk_kg(whole.milk_kg, whole.fat_kg, whole.protein_kg)


def _kept(points: list[MilkTest]) -> float | None:
    """Persistency in per cent per 30 days; None before a test follows the peak by four weeks."""
    try:
        found = persistency([(test.on, test.milk_kg) for test in points])
    except ValueError:
        return None
    last = max(test.on for test in points)
    return figure(found.kept_percent, 1) if (last - found.peak_on).days >= KEPT_LEAST_DAYS else None


def _unbridged(start: date, end: date, days: list[date]) -> int:
    """The longest stretch of days without a milking that was weighed, from kidding to end."""
    marks = sorted([start, *days, end])
    return max((later - earlier).days for earlier, later in pairwise(marks))


def _cell_warnings(doe: Goat, cells: list[tuple[date, int]]) -> Iterator[str]:
    if not cells:
        return
    finding = judge_cells(cells[-1][1], doe.look.settings.cells_limit)
    if finding.advice is not Advice.OK:
        yield finding.reason
    if len(cells) > 1 and cells[-1][0] - cells[-2][0] <= timedelta(days=75):
        risen = cell_score(cells[-1][1]) - cell_score(cells[-2][1])
        if risen >= 1:
            yield (
                f"her cell score rose by {plain(risen, 1)} since {cells[-2][0]}: cells have doubled or "
                "more, look at the udder"
            )
