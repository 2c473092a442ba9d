"""Milk, fat and protein of a lactation from its test days, by the test interval method.

Source: ICAR Guidelines, Section 2 Procedure 2, Computing of Accumulated Lactation Yield (method
by name; formula as commonly described): the first test stands for the days before it, the last
for those after, and between two tests the mean of both. Fat and protein are summed as kg a day,
never by averaging per cents. Must not know who milked, nor what may be sold.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from herdsync.trade.bounds import percent, within
from herdsync.trade.dates import add_days
from herdsync.trade.units import Amount, plain, whole

# Extension Goat Handbook, 1992: 305 days; goats may milk longer.
STANDARD_LACTATION_DAYS = 305
# A longer gap between two tests is said: common practice, no published source.
WIDEST_GAP_DAYS = 75
# First test not before day 4, when the colostrum is over: from memory.
FIRST_TEST_DAY = 4
# Twice what an exceptional goat gives in a day; a guard against slips of the keys: from memory.
MOST_MILK_KG_PER_DAY = 40


class MilkTest(NamedTuple):
    """One test day: the milk of 24 hours, with fat and protein where they were tested."""

    on: date
    milk_kg: Amount
    fat_percent: Amount | None = None
    protein_percent: Amount | None = None


class Lactation(NamedTuple):
    """Yields from ``start`` to ``end``; fat and protein are None where a test lacks them.

    Per cents are those of the whole lactation: total kg over total milk.
    """

    start: date
    end: date
    days: int
    milk_kg: Fraction
    fat_kg: Fraction | None
    protein_kg: Fraction | None
    fat_percent: Fraction | None
    protein_percent: Fraction | None
    reason: str
    warnings: tuple[str, ...]


_Points = list[tuple[int, Fraction]]


def lactation_yield(start: date, end: date, tests: Sequence[MilkTest]) -> Lactation:
    """Yields from kidding to drying off, or to any later day up to which one wants them.

    ``days`` is end - start. Tests may come in any order. Raises ValueError without a test, for
    two tests on one day, one outside the lactation, or an impossible figure.
    """
    ordered = _ordered(start, end, tests)
    return _lactation(start, end, ordered, _warnings(start, end, ordered))


def standard_lactation(
    start: date, end: date, tests: Sequence[MilkTest], days: int = STANDARD_LACTATION_DAYS
) -> Lactation:
    """Yields of the first 305 days (or ``days``); of a shorter lactation as it is, never stretched.

    Where the cut falls between two tests, the line between them is cut there: common practice, no
    published source. Raises as ``lactation_yield``.
    """
    cut = add_days(start, whole(days, "the days of a standard lactation", 1, 3650))
    ordered = _ordered(start, end, tests)
    if cut >= end:
        return _lactation(start, end, ordered, _warnings(start, end, ordered))
    if ordered[0].on > cut:
        raise ValueError(f"no test lies within the first {days} days; the yield cannot be known")
    warnings = _warnings(start, cut, [test for test in ordered if test.on <= cut])
    return _lactation(start, cut, ordered, warnings)


def _ordered(start: date, end: date, tests: Sequence[MilkTest]) -> list[MilkTest]:
    if not tests:
        raise ValueError("no test day is recorded; a lactation needs at least one")
    if end <= start:
        raise ValueError(f"the lactation ends on {end}, not after its start on {start}; mend one")
    ordered = sorted(tests, key=lambda test: test.on)
    for earlier, later in pairwise(ordered):
        if earlier.on == later.on:
            raise ValueError(f"two test days stand on {later.on}; keep one")
    for test in (ordered[0], ordered[-1]):
        if not start <= test.on <= end:
            raise ValueError(f"the test of {test.on} lies outside {start} to {end}; mend the date")
    return ordered


def _lactation(
    start: date, end: date, tests: Sequence[MilkTest], warnings: tuple[str, ...]
) -> Lactation:
    days = (end - start).days
    milk_points = [((test.on - start).days, _milk(test)) for test in tests]
    milk = _area(milk_points, days)
    fat = _solids(start, days, [(t, t.fat_percent) for t in tests], "fat")
    protein = _solids(start, days, [(t, t.protein_percent) for t in tests], "protein")
    lacking = [name for name, kg in (("fat", fat), ("protein", protein)) if kg is None]
    reason = f"{plain(milk)} kg of milk in {days} days from {_tests(len(tests))}"
    if lacking:
        reason += f"; no {' or '.join(lacking)}, for it was not tested every time"
    return Lactation(
        start, end, days, milk, fat, protein, _of(fat, milk), _of(protein, milk), reason, warnings
    )


def _milk(test: MilkTest) -> Fraction:
    return within(test.milk_kg, f"the milk of {test.on} in kg", 0, MOST_MILK_KG_PER_DAY)


def _solids(
    start: date, days: int, tests: Sequence[tuple[MilkTest, Amount | None]], what: str
) -> Fraction | None:
    """Kg of fat or protein; a day without milk needs no test of it."""
    points: _Points = []
    for test, value in tests:
        milk = _milk(test)
        if value is None and milk:
            return None
        share = percent(value or 0, f"the {what} of {test.on} in %") / 100
        points.append(((test.on - start).days, milk * share))
    return _area(points, days)


def _of(part_kg: Fraction | None, milk_kg: Fraction) -> Fraction | None:
    return None if part_kg is None or not milk_kg else 100 * part_kg / milk_kg


def _area(points: _Points, days: int) -> Fraction:
    """Kg under the line through (day, kg a day), level before the first and after the last."""
    first_day, first = points[0]
    total = first * min(first_day, days)
    for (day, here), (next_day, there) in pairwise(points):
        if day >= days:
            break
        span = min(next_day, days) - day
        at_end = here + (there - here) * Fraction(span, next_day - day)
        total += span * (here + at_end) / 2
    last_day, last = points[-1]
    return total + last * max(0, days - last_day)


def _warnings(start: date, end: date, tests: Sequence[MilkTest]) -> tuple[str, ...]:
    found = []
    if (tests[0].on - start).days < FIRST_TEST_DAY:
        found.append(f"the test of {tests[0].on} was still of colostrum")
    marks = [start, *(test.on for test in tests), end]
    for earlier, later in pairwise(marks):
        if (later - earlier).days > WIDEST_GAP_DAYS:
            found.append(f"no test for {(later - earlier).days} days from {earlier} to {later}")
    return tuple(found)


def _tests(count: int) -> str:
    return "1 test" if count == 1 else f"{count} tests"
