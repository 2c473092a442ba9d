"""Weight from a tape: heart girth alone, or girth and length. Always an estimate.

Not for miniatures (the chart), meat breeds or late pregnancy. Knows inches and pounds because the
published figures do; answers both units.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from herdsync.trade.reproduction import Size
from herdsync.trade.units import Amount, cm_to_in, lb_to_kg, plain, positive

# WSU Extension Ferry County, Heart Girth and Weight: lb = girth^2 x length / 300, in inches.
DIVISOR = 300
# A goat measures within these; ours, so that a slip of unit (cm for inches) is refused.
LEAST_IN = 8
MOST_IN = 60

# US dairy-goat weight tape: girth in inches, pounds. 10.75, 20 and 32 in were seen in a printed
# reprint (20 and 32 between rows here); all other rows are from memory.
CHART: tuple[tuple[Fraction, int], ...] = tuple(
    (Fraction(girth), pounds)
    for girth, pounds in (
        ("10.75", 5),
        ("11.75", 6),
        ("12.75", 7),
        ("14.25", 10),
        ("15.25", 12),
        ("16.25", 15),
        ("17.25", 19),
        ("18.25", 23),
        ("19.25", 27),
        ("20.25", 31),
        ("21.25", 35),
        ("22.25", 39),
        ("23.25", 45),
        ("24.25", 51),
        ("25.25", 57),
        ("26.25", 63),
        ("27.25", 69),
        ("28.25", 75),
        ("29.25", 81),
        ("30.25", 87),
        ("31.25", 93),
        ("31.75", 97),
        ("32.25", 101),
        ("33.25", 110),
        ("34.25", 120),
        ("35.25", 130),
        ("36.25", 140),
        ("37.25", 150),
        ("38.25", 160),
        ("39.25", 170),
        ("40.25", 180),
        ("41.25", 190),
        ("42.25", 200),
    )
)


class TapeWeight(NamedTuple):
    """An estimated weight in both units, and how it came about."""

    weight_lb: Fraction
    weight_kg: Fraction
    reason: str


def girth_and_length(girth_in: Amount, length_in: Amount) -> TapeWeight:
    """Weight from heart girth and length (point of shoulder to pin bone), both in inches.

    Raises ValueError outside 8 to 60 inches.
    """
    girth, length = _measured(girth_in, "girth"), _measured(length_in, "length")
    pounds = girth * girth * length / DIVISOR
    return TapeWeight(
        pounds,
        lb_to_kg(pounds),
        f"estimated from girth {plain(girth)} in and length {plain(length)} in; not for late "
        "pregnancy",
    )


def girth_and_length_cm(girth_cm: Amount, length_cm: Amount) -> TapeWeight:
    """The same from centimetres."""
    return girth_and_length(cm_to_in(girth_cm), cm_to_in(length_cm))


def girth_alone(girth_in: Amount, size: Size, *, late_pregnant: bool = False) -> TapeWeight:
    """Weight from heart girth by the chart of standard dairy goats, read between its rows.

    Raises ValueError for a miniature and outside the chart, which is never extended.
    """
    if size == "miniature":
        raise ValueError("the girth chart is for standard dairy goats; weigh a miniature")
    girth = positive(girth_in, "the girth in inches")
    first, last = CHART[0][0], CHART[-1][0]
    if not first <= girth <= last:
        raise ValueError(
            f"a girth of {plain(girth)} in is outside the chart ({plain(first)} to {plain(last)} "
            "in); weigh the goat on a scale"
        )
    lower, upper = next(rows for rows in pairwise(CHART) if girth <= rows[1][0])
    share = (girth - lower[0]) / (upper[0] - lower[0])
    pounds = lower[1] + share * (upper[1] - lower[1])
    note = "; she is heavy with kid, so it reads too high" if late_pregnant else ""
    return TapeWeight(
        pounds, lb_to_kg(pounds), f"estimated from girth {plain(girth)} in, about 5 % off{note}"
    )


def _measured(length_in: Amount, what: str) -> Fraction:
    value = positive(length_in, f"the {what} in inches")
    if not LEAST_IN <= value <= MOST_IN:
        raise ValueError(
            f"a {what} of {plain(value)} in is outside {LEAST_IN} to {MOST_IN} in; measure again"
        )
    return value
