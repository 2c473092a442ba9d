"""Whether a kid's first or second vaccination came in time; the days themselves are the care plan's.

Knows days only: no product, dose or withdrawal of any vaccine. What the label or the veterinarian
says overrides every day here.
"""

from __future__ import annotations

from datetime import date

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import age_days, days_since

# Goat Vaccination Program, NC State-origin extension text: first dose at 5 to 6 weeks where the
# dam was vaccinated (another list: by 8 weeks), the second 21 to 28 d later; kids without cover
# from the dam at 7 to 21 d, repeated after 21 to 28 d.
FIRST_DOSE_DAYS = (35, 42, 56)
FIRST_DOSE_WITHOUT_COVER_DAYS = (7, 14, 21)
SECOND_DOSE_LEAST_DAYS = 21
SECOND_DOSE_DAYS = 28
# Common practice, no published source: later than this the veterinarian says whether to restart.
SECOND_DOSE_LATE_AFTER_DAYS = 42


def first_dose_timing(born: date, on: date, *, cover_from_dam: bool) -> Finding:
    """Whether a first dose on a day takes in a kid of that age."""
    age = age_days(born, on)
    earliest = (FIRST_DOSE_DAYS if cover_from_dam else FIRST_DOSE_WITHOUT_COVER_DAYS)[0]
    latest = (FIRST_DOSE_DAYS if cover_from_dam else FIRST_DOSE_WITHOUT_COVER_DAYS)[2]
    if age < earliest:
        why = "the dam's cover may keep it from taking" if cover_from_dam else "too young"
        return Finding(Advice.LOOK, f"{age} days old is before {earliest}: {why}")
    if age > latest:
        return Finding(Advice.LOOK, f"{age} days old is past {latest}: give it now, label allowing")
    return Finding(Advice.OK, f"{age} days old lies within {earliest} to {latest}")


def second_dose_timing(first: date, on: date) -> Finding:
    """Whether a second dose on a day is too early, in time, or so late that the vet decides."""
    days = days_since(first, on, "the first dose")
    if days < SECOND_DOSE_LEAST_DAYS:
        return Finding(Advice.LOOK, f"{days} days after the first is before day 21: too early")
    if days > SECOND_DOSE_LATE_AFTER_DAYS:
        return Finding(
            Advice.STOP,
            f"{days} days after the first is past {SECOND_DOSE_LATE_AFTER_DAYS}: ask the "
            "veterinarian whether to start again",
        )
    if days > SECOND_DOSE_DAYS:
        return Finding(Advice.LOOK, f"{days} days after the first is late: give it now")
    return Finding(Advice.OK, f"{days} days after the first is in time")
