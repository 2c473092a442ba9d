"""Hooves: when to trim next, and when to look again at a lame or heavily corrected foot.

Knows days only; which foot was trimmed and what was found is the keeper's record.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import Due, Window, add_days, window
from herdsync.trade.units import whole

# Common practice, no published source: about every two months. Two hoof-trimming articles agree
# (every two to three months; not under three a year); wet ground shortens it, rock lengthens it.
TRIM_INTERVAL_DAYS = 56
TRIM_LEAST_DAYS = 28
TRIM_MOST_DAYS = 90
TRIMS_A_YEAR = 3
# Common practice, no published source.
FIRST_TRIM_DAYS = 56
FIRST_TRIM_MOST_DAYS = 84
LAME_RECHECK_DAYS = 7
HEAVY_RECHECK_DAYS = (14, 21)
GENTLE_BEFORE_DUE_DAYS = 30

CAUTION = (
    "Take little at a time; a nick of the quick is noted and looked at again. Disinfect the tools "
    "between animals, and neither tip nor struggle with a doe in her last month."
)


def next_trim(last: date, interval_days: int = TRIM_INTERVAL_DAYS) -> Window:
    """The days for the next trim. Raises ValueError for an interval outside 28 to 90 days."""
    whole(interval_days, "the trim interval in days", TRIM_LEAST_DAYS, TRIM_MOST_DAYS)
    reason = f"last trimmed {last}, every {interval_days} days; {TRIM_MOST_DAYS} at the most"
    return window(last, interval_days, interval_days, TRIM_MOST_DAYS, reason)


def first_trim(born: date) -> Window:
    """The days for a kid's first trim."""
    reason = "first trim at about 8 weeks, by 12 at the latest, so that the feet grow level"
    return window(born, FIRST_TRIM_DAYS, FIRST_TRIM_DAYS, FIRST_TRIM_MOST_DAYS, reason)


def lameness_recheck(found: date) -> Due:
    """The day to look again at a foot found lame."""
    return Due(
        add_days(found, LAME_RECHECK_DAYS),
        f"lame {found}: look again after {LAME_RECHECK_DAYS} days, call the veterinarian if worse",
    )


def correction_recheck(trimmed: date) -> Window:
    """The days to look again at an overgrown foot that is brought back in steps."""
    first, last = HEAVY_RECHECK_DAYS
    # Overlong toes are corrected in steps: Solaiman (ed.), Goat Science and Production, 2010.
    return window(
        trimmed, first, None, last, f"heavy correction {trimmed}: take the next step in 2-3 weeks"
    )


def trims_in_year(trims: Sequence[date], on: date) -> Finding:
    """Whether an animal of a year or more had enough trims in the 365 days up to a day."""
    since = add_days(on, -365)
    count = len({day for day in trims if since < day <= on})
    if count < TRIMS_A_YEAR:
        return Finding(
            Advice.LOOK, f"{count} trims in the year to {on}; at least {TRIMS_A_YEAR} are wanted"
        )
    return Finding(Advice.OK, f"{count} trims in the year to {on}")


def handling_before_kidding(due: date, on: date) -> Finding:
    """Whether a doe due on a day may be handled for a trim as any other."""
    left = (due - on).days
    if 0 <= left <= GENTLE_BEFORE_DUE_DAYS:
        return Finding(
            Advice.LOOK, f"due in {left} days: no tipping or rough handling in the last month"
        )
    return Finding(Advice.OK, "not in the last month before kidding")
