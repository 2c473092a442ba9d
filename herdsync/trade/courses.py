"""Courses of treatment: whether a dose came too early or too late after the last.

Counts elapsed hours between instants. Interval and number of doses are typed from the label or the
veterinarian's instruction.
"""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import hours_between
from herdsync.trade.units import Amount, plain, positive

# Common practice, no published source: a sixth of the interval either way (2 h in 12, 4 h in 24).
TOLERANCE_SHARE = Fraction(1, 6)
# Common practice, no published source: a dose that comes later than that begins another course.
NEW_COURSE_INTERVALS = 7
MOST_INTERVAL_H = 24 * 366


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
    if passed > wanted * NEW_COURSE_INTERVALS:
        return Finding(Advice.OK, f"{words}: so long after it another course begins")
    if passed > wanted * (1 + TOLERANCE_SHARE):
        return Finding(Advice.LOOK, f"{words}: late; ask the veterinarian, never give it twice")
    return Finding(Advice.OK, f"{words}: in time")


def _interval(interval_h: Amount) -> Fraction:
    hours = positive(interval_h, "the interval in hours")
    if hours > MOST_INTERVAL_H:
        raise ValueError(f"an interval of {plain(hours)} h is over a year; type it in hours")
    return hours
