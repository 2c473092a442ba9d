"""Disbudding: what a kid's age says on the day, how the iron is set on, and how a scur grows.

Knows days, seconds and millimetres; what each country's law says stands in ``law``, and the days on
which kids are disbudded and looked at again in the care plan.
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Literal, NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import add_days, age_days, days_since
from herdsync.trade.units import Amount, plain, positive, whole

KidSex = Literal["buck", "doe", "unknown"]

# First, best and last day of age. Unknown sex: Shearer and Plummer, Iowa State University, dairy
# goat kid disbudding (ideal 4 to 7 d). Bucks in the first week, does by two weeks: Niemann,
# Raising Goats Naturally. The best days of each lie within the ideal of the first source.
WINDOW_DAYS: dict[KidSex, tuple[int, int, int]] = {
    "buck": (3, 4, 7),
    "doe": (4, 7, 14),
    "unknown": (4, 5, 7),
}
# Shearer and Plummer, Iowa State University: from 14 d it is late, after 14 d a dehorning.
LATE_FROM_DAYS = 14
VET_FROM_DAYS = 15

# Extension Goat Handbook, Management Techniques: about 10 s. Frontiers in Veterinary Science
# 7:568750, 2021: brain oedema under 1, 0, 1 and 2 buds at 5, 10, 15 and 20 s in six kids.
APPLICATION_MOST_S = 10
# Extension Goat Handbook, Management Techniques: about 1 cm of skin round the bud.
MARGIN_CM = 1
# Common practice, no published source: the buckling's bud is longer towards the nose.
APPLICATIONS_PER_BUD: dict[KidSex, int] = {"buck": 2, "doe": 1, "unknown": 1}

# A scur that needs longer than this to reach the skin is given no date; ours.
SCUR_HORIZON_DAYS = 3650
LONGEST_SCUR_MM = 600


class ScurGrowth(NamedTuple):
    """How fast a scur grows, and the day it would reach the skin where the gap is known."""

    growth_mm_per_30_days: Fraction
    reaches_skin: date | None
    advice: Advice
    reason: str


def disbudding_age(born: date, on: date) -> Finding:
    """What a kid's age on the day of the work says, whatever its sex."""
    age = age_days(born, on)
    first = min(days[0] for days in WINDOW_DAYS.values())
    if age >= VET_FROM_DAYS:
        return Finding(Advice.STOP, f"{age} days old: this is dehorning, call the veterinarian")
    if age >= LATE_FROM_DAYS:
        return Finding(Advice.LOOK, f"{age} days old is late; tomorrow it is the veterinarian's")
    if age < first:
        days = "1 day" if age == 1 else f"{age} days"
        return Finding(Advice.LOOK, f"{days} old is early: the bud must be felt")
    return Finding(Advice.OK, f"{age} days old lies within the days for disbudding")


def application(seconds: Amount) -> Finding:
    """What the seconds of one application of the iron say."""
    held_s = positive(seconds, "the time of an application in seconds")
    if held_s > APPLICATION_MOST_S:
        return Finding(
            Advice.STOP,
            f"{plain(held_s)} s is over {APPLICATION_MOST_S} s: heat reaches the brain; watch the "
            "kid closely and call the veterinarian if it is dull or does not suck",
        )
    return Finding(Advice.OK, f"{plain(held_s)} s is within {APPLICATION_MOST_S} s")


def applications_wanted(sex: KidSex) -> Finding:
    """How the iron is set on each bud of a kid of this sex."""
    if APPLICATIONS_PER_BUD[sex] > 1:
        return Finding(
            Advice.LOOK,
            "a buckling's bud is longer at the front: set on twice, overlapping, the second "
            "offset towards the nose, or what is missed grows as a scur",
        )
    return Finding(Advice.OK, f"once on each bud, about {MARGIN_CM} cm of skin round it")


def scur_growth(
    earlier: date,
    earlier_mm: int,
    later: date,
    later_mm: int,
    *,
    towards_skull: bool,
    gap_mm: int | None = None,
) -> ScurGrowth:
    """How fast a scur grew between two measurements and whether it will reach the skin.

    ``gap_mm`` is what is left between its tip and the skin. Raises ValueError for measurements of
    one day or lengths no scur has.
    """
    days = days_since(earlier, later, "the earlier measurement")
    if days == 0:
        raise ValueError(f"both lengths are of {later}; growth needs two different days")
    earlier_mm, later_mm = (
        whole(length, "the length of a scur in mm", 0, LONGEST_SCUR_MM)
        for length in (earlier_mm, later_mm)
    )
    per_30 = Fraction((later_mm - earlier_mm) * 30, days)
    reaches = _reaches_skin(later, per_30, gap_mm) if towards_skull else None
    if towards_skull:
        when = f"it would reach the skin about {reaches}" if reaches else "measure the gap"
        return ScurGrowth(
            per_30, reaches, Advice.STOP, f"it grows towards the skull, trim it now; {when}"
        )
    grows = f"{plain(per_30, 1)} mm in 30 days"
    if per_30 > 0:
        return ScurGrowth(per_30, None, Advice.LOOK, f"it grows {grows}; look at each handling")
    return ScurGrowth(per_30, None, Advice.OK, "it has not grown; look at each handling")


def _reaches_skin(measured: date, growth_mm_per_30: Fraction, gap_mm: int | None) -> date | None:
    if gap_mm is None or growth_mm_per_30 <= 0:
        return None
    days = whole(gap_mm, "the gap to the skin in mm", 0, LONGEST_SCUR_MM) * 30 / growth_mm_per_30
    return None if days > SCUR_HORIZON_DAYS else add_days(measured, int(days))
