"""Courses of treatment: when the next dose falls due, and whether one came too early or too late.

Counts elapsed hours between instants. Interval and number of doses are typed from the label or the
veterinarian's instruction.
"""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import add_hours, hours_between
from herdsync.trade.units import Amount, plain, positive, whole

# Common practice, no published source: a sixth of the interval either way (2 h in 12, 4 h in 24).
TOLERANCE_SHARE = Fraction(1, 6)
MOST_DOSES = 100
MOST_INTERVAL_H = 24 * 366


def next_dose(last: datetime, interval_h: Amount) -> datetime:
    """The instant, in UTC, at which the next dose is due."""
    return add_hours(last, _interval(interval_h))


def course_doses(first: datetime, interval_h: Amount, count: int) -> tuple[datetime, ...]:
    """The instants, in UTC, of all doses of a course, the first included.

    Raises ValueError for more than 100 doses.
    """
    hours = _interval(interval_h)
    whole(count, "the number of doses", 1, MOST_DOSES)
    return tuple(add_hours(first, hours * index) for index in range(count))


def dose_timing(last: datetime, at: datetime, interval_h: Amount) -> Finding:
    """Whether a dose at an instant follows the last too early, in time, or late."""
    wanted = _interval(interval_h)
    passed = hours_between(last, at)
    if passed < 0:
        raise ValueError("this dose lies before the last one; correct one of the two times")
    words = f"{plain(passed, 1)} h after the last dose, every {plain(wanted, 1)} h"
    if passed < wanted * (1 - TOLERANCE_SHARE):
        return Finding(
            Advice.STOP, f"{words}: too early; has the other keeper dosed already? Ask first"
        )
    if passed > wanted * (1 + TOLERANCE_SHARE):
        return Finding(Advice.LOOK, f"{words}: late; ask the veterinarian, never give it twice")
    return Finding(Advice.OK, f"{words}: in time")


def _interval(interval_h: Amount) -> Fraction:
    hours = positive(interval_h, "the interval in hours")
    if hours > MOST_INTERVAL_H:
        raise ValueError(f"an interval of {plain(hours)} h is over a year; type it in hours")
    return hours
