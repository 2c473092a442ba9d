"""Vaccination days of kids, does and others, and the weeks in which kids need a coccidia watch.

Knows days only: no product, dose or withdrawal of any vaccine. What the label or the veterinarian
says overrides every day here.
"""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import Due, Window, add_days, add_years, age_days, days_since, window

# Goat Vaccination Program, NC State-origin extension text: first dose at 5 to 6 weeks where the
# dam was vaccinated (another list: by 8 weeks), the second 21 to 28 d later; kids without cover
# from the dam at 7 to 21 d, repeated after 21 to 28 d.
FIRST_DOSE_DAYS = (35, 42, 56)
FIRST_DOSE_WITHOUT_COVER_DAYS = (7, 14, 21)
SECOND_DOSE_LEAST_DAYS = 21
SECOND_DOSE_DAYS = 28
# Common practice, no published source: later than this the veterinarian says whether to restart.
SECOND_DOSE_LATE_AFTER_DAYS = 42
# Same text: unknown history, two doses 21 to 42 d apart, then yearly; bucks and others 30 d before
# the breeding season.
SERIES_DAYS = (21, 28, 42)
BEFORE_SEASON_DAYS = 30

# Common practice, no published source: watch from day 14 until 14 d after weaning, dung looked at
# at 4 to 6 weeks and 14 d after weaning. Life of the parasite: Extension Goat Handbook, G-6.
COCCIDIA_FROM_DAYS = 14
COCCIDIA_AFTER_WEANING_DAYS = 14
COCCIDIA_CHECK_DAYS = (28, 35, 42)

CAUTION = (
    "Follow the label; write down lot, expiry, dose, route and site, and the label's withdrawal. "
    "Keep what is needed for a severe reaction at hand, as the veterinarian advises."
)
COCCIDIA_CAUTION = (
    "Preventives in feed may not be approved for goats, and some made for other animals kill "
    "horses and dogs: ask the veterinarian, and lock the feed away."
)


class KidPair(NamedTuple):
    """The two doses of a kid: the second stands after the planned first, until one is given."""

    first: Window
    second: Window
    reason: str


def kid_pair(born: date, *, cover_from_dam: bool) -> KidPair:
    """The days of a kid's two doses, ``cover_from_dam`` meaning vaccinated dam and colostrum had.

    Once the first is given, ``second_dose`` counts from that day.
    """
    days = FIRST_DOSE_DAYS if cover_from_dam else FIRST_DOSE_WITHOUT_COVER_DAYS
    dam = "the dam was vaccinated" if cover_from_dam else "no sure cover from the dam"
    reason = f"{dam}: first dose at {days[0]} to {days[1]} days"
    first = window(born, *days, reason)
    return KidPair(first, second_dose(add_days(born, days[1])), reason)


def second_dose(first: date) -> Window:
    """The days of the second dose after a first one."""
    reason = f"{SECOND_DOSE_LEAST_DAYS} to {SECOND_DOSE_DAYS} days after the first dose on {first}"
    return window(first, SECOND_DOSE_LEAST_DAYS, SECOND_DOSE_DAYS, SECOND_DOSE_DAYS, reason)


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


def unknown_history_second(first: date) -> Window:
    """The days of the second dose for an animal whose history is unknown; yearly after that."""
    return window(first, *SERIES_DAYS, f"history unknown: 21 to 42 days after {first}, then yearly")


def yearly_booster(last: date) -> Due:
    """The day of the yearly booster after the last dose."""
    return Due(add_years(last, 1), f"a year after the dose on {last}")


def booster_before_season(season_opens: date) -> Due:
    """The day to boost bucks and others before their breeding season opens."""
    return Due(
        add_days(season_opens, -BEFORE_SEASON_DAYS),
        f"{BEFORE_SEASON_DAYS} days before the breeding season opens on {season_opens}",
    )


def coccidia_watch(born: date, weaned: date) -> Window:
    """The days in which a kid is watched for coccidia; ``weaned`` may be the planned day."""
    days_since(born, weaned, "the birth")
    return Window(
        add_days(born, COCCIDIA_FROM_DAYS),
        None,
        add_days(weaned, COCCIDIA_AFTER_WEANING_DAYS),
        f"from day {COCCIDIA_FROM_DAYS} until {COCCIDIA_AFTER_WEANING_DAYS} days after weaning "
        f"on {weaned}: thin dung, rough coat, falling gain",
    )


def coccidia_checks(born: date, weaned: date) -> tuple[Window, Due]:
    """When dung samples tell most: at 4 to 6 weeks of age, and after weaning."""
    days_since(born, weaned, "the birth")
    early = window(born, *COCCIDIA_CHECK_DAYS, "dung sample at 4 to 6 weeks of age")
    late = Due(
        add_days(weaned, COCCIDIA_AFTER_WEANING_DAYS),
        f"dung sample {COCCIDIA_AFTER_WEANING_DAYS} days after weaning on {weaned}",
    )
    return early, late
