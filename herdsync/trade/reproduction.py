"""Breeding: heat, service, due dates, dry-off, and who is old enough to breed.

Knows days, weights and horns; must not know records, pens or pedigrees. A date is an estimate, and
a doe may show heat while pregnant (Merck Veterinary Manual): only a test says she is pregnant.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import (
    Due,
    Window,
    add_days,
    add_hours,
    add_months,
    days_since,
    window,
)
from herdsync.trade.units import KG_PER_LB, Amount, plain, positive, whole

Size = Literal["standard", "miniature"]
Horns = Literal["horned", "polled", "unknown"]
PregnancyTest = Literal["return-to-heat", "blood-or-milk", "scan", "estrone-sulfate"]

# Merck Veterinary Manual, Puberty and Estrus in Goats: cycle 21 d, 18 to 24; heat 24 to 48 h.
CYCLE_DAYS = 21
CYCLE_LEAST_DAYS = 18
CYCLE_MOST_DAYS = 24
STANDING_HEAT_LEAST_H = 24
STANDING_HEAT_H = 36
STANDING_HEAT_MOST_H = 48
# Below this a cycle is short; the same text notes short cycles, the cut is common practice.
SHORT_CYCLE_BELOW_DAYS = 17
# NC State Extension, Heat Detection and Breeding in Meat Goats: with a buck newly among them does
# come in heat after 2 to 3 days, and about 5 days later in fertile heat.
BUCK_FIRST_HEAT_DAYS = (2, 3)
BUCK_FERTILE_AFTER_DAYS = 5

# Extension Goat Handbook, NAL 1992, D-6: 150 d; Storey's Guide to Raising Dairy Goats, 5th ed.,
# ch. 64: 145 to 155. Miniatures: 145 is common practice, no published source.
GESTATION_DAYS: dict[Size, int] = {"standard": 150, "miniature": 145}
GESTATION_LEAST_DAYS = 145
GESTATION_MOST_DAYS: dict[Size, int] = {"standard": 155, "miniature": 153}
# Amoah et al. 1996, J. Anim. Sci. 74:723-728, abstract of a study of 608 does: each kid more than the
# mean litter of 1.85 shortens gestation by 0.92 d.
LITTER_MEAN = Fraction(185, 100)
LITTER_DAYS_A_KID = Fraction(-92, 100)
# Storey's Guide to Raising Dairy Goats, 5th ed., ch. 64.
WATCH_FROM_DAYS = 140

# Ontario Goat, Dry off management (mean 50 to 60 d); Tamil Nadu Agricultural University agritech
# portal (at least 30 d); the 28 allows four whole weeks, common practice.
DRY_DAYS = 60
DRY_LEAST_DAYS = 28
DRY_MOST_DAYS = 60
# Goat Vaccination Program, NC State-origin extension text: 2 to 6 weeks before, about 30 d.
BOOSTER_BEFORE_DUE_DAYS = 30
BOOSTER_LEAST_DAYS = 14
BOOSTER_MOST_DAYS = 42

# Extension Goat Handbook, NAL 1992; C. Lewis DVM, first breeding of doelings: 7 to 10 months,
# 60 to 75 % of expected mature weight, about 80 lb in standard breeds.
FIRST_BREEDING_MONTHS = 7
FIRST_BREEDING_MOST_MONTHS = 10
FIRST_BREEDING_PERCENT = 70
FIRST_BREEDING_LEAST_PERCENT = 60
FIRST_BREEDING_MOST_PERCENT = 75
FIRST_BREEDING_KG = 80 * KG_PER_LB
# Extension Goat Handbook, NAL 1992: a doe weighs about 100 lb at her first kidding.
FIRST_KIDDING_KG = Decimal(45)

# Blood or milk from 28 to 30 d, scan from 30 to 60 d: from memory. Estrone sulfate from about
# 35 d: small-animal raising handbook.
TEST_FROM_DAYS: dict[PregnancyTest, int] = {
    "return-to-heat": CYCLE_DAYS,
    "blood-or-milk": 30,
    "scan": 30,
    "estrone-sulfate": 35,
}
CHECK_BEST_DAYS = 35
CHECK_MOST_DAYS = 60


class StandingHeat(NamedTuple):
    """When a heat first seen at a moment ends, at the earliest, as expected and at the latest."""

    earliest_end: datetime
    expected_end: datetime
    latest_end: datetime
    reason: str


class BreedingReadiness(NamedTuple):
    """Whether a doeling may be bred, the day her age allows it and the weight she needs."""

    ready: bool
    old_enough_on: date
    needed_kg: Fraction | None
    reason: str


def heat_return(service: date, cycle_days: int = CYCLE_DAYS) -> Window:
    """The days on which a doe that did not conceive comes in heat again.

    Raises ``ValueError`` for a cycle outside 18 to 24 days.
    """
    whole(cycle_days, "the heat cycle in days", CYCLE_LEAST_DAYS, CYCLE_MOST_DAYS)
    reason = (
        f"a doe not in kid returns {cycle_days} days after {service} "
        f"({CYCLE_LEAST_DAYS} to {CYCLE_MOST_DAYS}); heat alone does not prove her open"
    )
    return window(service, CYCLE_LEAST_DAYS, cycle_days, CYCLE_MOST_DAYS, reason)


def earlier_may_have_held(earlier: date, later: date, *, in_heat: bool) -> bool:
    """Whether a doe served again may be in kid from the service before (common practice).

    ``in_heat``: whether the later service shows her in heat: led to the buck, inseminated, seen
    mounted. Then the earlier one failed, unless both fall within a short cycle; a buck she merely runs
    with proves nothing. Raises ``ValueError`` where the days stand the wrong way.
    """
    return not in_heat or days_since(earlier, later, "the service") < SHORT_CYCLE_BELOW_DAYS


def heat_interval(earlier: date, later: date) -> Finding:
    """What the days between two heats of one doe say."""
    days = days_since(earlier, later, "the earlier heat")
    if days < SHORT_CYCLE_BELOW_DAYS:
        return Finding(Advice.LOOK, f"only {days} days since the last heat: a short cycle, note it")
    if days <= CYCLE_MOST_DAYS:
        return Finding(Advice.OK, f"{days} days since the last heat: a regular cycle")
    return Finding(
        Advice.LOOK,
        f"{days} days since the last heat: one may have been missed, or a pregnancy lost",
    )


def standing_heat(seen_at: datetime) -> StandingHeat:
    """How long a doe first seen in heat at a moment is expected to stand for the buck."""
    return StandingHeat(
        add_hours(seen_at, STANDING_HEAT_LEAST_H),
        add_hours(seen_at, STANDING_HEAT_H),
        add_hours(seen_at, STANDING_HEAT_MOST_H),
        f"standing heat lasts about {STANDING_HEAT_H} hours "
        f"({STANDING_HEAT_LEAST_H} to {STANDING_HEAT_MOST_H}) from when it began",
    )


def fertile_heat_after_buck(put_in: date) -> Window:
    """The days of the fertile heat that a newly introduced buck brings on."""
    first, last = (day + BUCK_FERTILE_AFTER_DAYS for day in BUCK_FIRST_HEAT_DAYS)
    reason = (
        f"a buck put in on {put_in} brings a first heat after 2 to 3 days, often barren, "
        f"and a fertile one about {BUCK_FERTILE_AFTER_DAYS} days later"
    )
    return window(put_in, first, None, last, reason)


def kidding_due(service: date, size: Size, gestation_days: int | None = None) -> Window:
    """The kidding window of a doe served on a known day, its best day being the due date.

    ``gestation_days`` overrides the breed size's default within its range. Raises ``ValueError``
    outside it.
    """
    days = _gestation(size, gestation_days)
    most = GESTATION_MOST_DAYS[size]
    reason = (
        f"served {service}: {days} days carry her to {add_days(service, days)}, "
        f"{GESTATION_LEAST_DAYS} to {most} days are usual"
    )
    note = "; for miniatures the whole window counts, not the day" if size == "miniature" else ""
    return window(service, GESTATION_LEAST_DAYS, days, most, reason + note)


def pen_kidding_due(
    put_in: date, taken_out: date, size: Size, mount_seen: date | None = None
) -> Window:
    """The kidding window of a doe that ran with a buck from one day to another.

    While he is still with her, ``taken_out`` is the day asked about. A best day is given only
    where a mount was seen. Raises ``ValueError`` where the days contradict each other.
    """
    days_since(put_in, taken_out, "the day the buck was put in")
    best = None
    if mount_seen is not None:
        if not put_in <= mount_seen <= taken_out:
            raise ValueError(
                f"a mount on {mount_seen} lies outside the stay from {put_in} to {taken_out}; "
                "correct one of the dates"
            )
        best = add_days(mount_seen, GESTATION_DAYS[size])
    seen = f"a mount was seen {mount_seen}" if mount_seen else "no mount was seen, so no best day"
    return Window(
        add_days(put_in, GESTATION_LEAST_DAYS),
        best,
        add_days(taken_out, GESTATION_MOST_DAYS[size]),
        f"with a buck from {put_in} to {taken_out}; {seen}",
    )


def gestation_found(service: date, kidded: date, size: Size) -> Finding:
    """What the days carried say: too few or too many for this service to be the one."""
    days = days_since(service, kidded, "the service")
    least, most = GESTATION_LEAST_DAYS, GESTATION_MOST_DAYS[size]
    if days < least:
        return Finding(
            Advice.LOOK,
            f"{days} days carried is under {least}: a loss before term (keep her apart, call the "
            "veterinarian) or an earlier service and perhaps another sire",
        )
    if days > most:
        return Finding(
            Advice.LOOK,
            f"{days} days carried is over {most}: a later service, perhaps another sire",
        )
    return Finding(Advice.OK, f"{days} days carried lies within {least} to {most}")


def litter_shift_days(kids: int) -> Fraction:
    """By how many days a litter of so many kids comes later (negative: sooner) in the mean.

    It is far less than the window; no due date is moved by it. Raises ``ValueError`` for
    no kids, or more than twelve.
    """
    whole(kids, "the kids counted", 1, 12)
    return (kids - LITTER_MEAN) * LITTER_DAYS_A_KID


def watch_from(service: date) -> Due:
    """The day from which a doe is watched for kidding; for pen mating, from the day put in."""
    return Due(
        add_days(service, WATCH_FROM_DAYS),
        f"{WATCH_FROM_DAYS} days after {service} she may kid any day",
    )


def dry_off(due: date, dry_days: int = DRY_DAYS) -> Due:
    """The day to dry a doe off before her due date. Raises ``ValueError`` outside 28 to 60 days."""
    whole(dry_days, "the dry period in days", DRY_LEAST_DAYS, DRY_MOST_DAYS)
    return Due(add_days(due, -dry_days), f"dry {dry_days} days before she is due on {due}")


def pre_kidding_booster(due: date, days_before: int = BOOSTER_BEFORE_DUE_DAYS) -> Window:
    """The days on which a doe's yearly booster best passes on to her kids.

    Raises ``ValueError`` outside 14 to 42 days before.
    """
    whole(days_before, "the days before kidding", BOOSTER_LEAST_DAYS, BOOSTER_MOST_DAYS)
    reason = (
        f"due {due}: boosted {days_before} days before (2 to 6 weeks), her first milk carries "
        "the cover to the kids"
    )
    return window(due, -BOOSTER_MOST_DAYS, -days_before, -BOOSTER_LEAST_DAYS, reason)


def pregnancy_check_due(service: date) -> Window:
    """The days on which a pregnancy is best proved by a test."""
    reason = (
        f"served {service}: no return by {add_days(service, CYCLE_DAYS)} is a hint only; blood, "
        f"milk or scan tells from day {TEST_FROM_DAYS['scan']}"
    )
    return window(service, TEST_FROM_DAYS["scan"], CHECK_BEST_DAYS, CHECK_MOST_DAYS, reason)


def pregnancy_test_timing(service: date, tested: date, test: PregnancyTest) -> Finding:
    """Whether a test was done late enough after service for its negative to mean anything."""
    days = days_since(service, tested, "the service")
    needed = TEST_FROM_DAYS[test]
    if days < needed:
        return Finding(
            Advice.LOOK,
            f"day {days} is early for {test}, which tells from day {needed}: test again",
        )
    if test == "return-to-heat":
        return Finding(
            Advice.LOOK, f"no heat by day {days} is silence, not proof: have a test done"
        )
    return Finding(Advice.OK, f"day {days} is late enough for {test} (from day {needed})")


def first_breeding(
    born: date,
    on: date,
    size: Size,
    weight_kg: Amount | None,
    mature_kg: Amount | None,
    *,
    least_months: int = FIRST_BREEDING_MONTHS,
    percent: int = FIRST_BREEDING_PERCENT,
) -> BreedingReadiness:
    """Whether a doeling has both the age and the weight for her first service.

    ``mature_kg`` is her expected mature weight; without it a standard doeling needs about 80 lb,
    and a miniature cannot be judged. Raises ``ValueError`` for settings out of their range.
    """
    whole(
        least_months, "the least age in months", FIRST_BREEDING_MONTHS, FIRST_BREEDING_MOST_MONTHS
    )
    whole(
        percent,
        "the share of mature weight in per cent",
        FIRST_BREEDING_LEAST_PERCENT,
        FIRST_BREEDING_MOST_PERCENT,
    )
    days_since(born, on, "the birth")
    old_enough = add_months(born, least_months)
    needed = _breeding_weight_kg(size, mature_kg, percent)
    lacks = []
    if on < old_enough:
        lacks.append(f"she is {least_months} months old only on {old_enough}")
    if needed is None:
        lacks.append("her expected mature weight is not known")
    elif weight_kg is None:
        lacks.append(f"no weight is recorded; she needs {plain(needed, 1)} kg")
    elif positive(weight_kg, "the weight in kg") < needed:
        lacks.append(f"she weighs {plain(weight_kg)} of the {plain(needed)} kg needed")
    if lacks:
        return BreedingReadiness(False, old_enough, needed, "; ".join(lacks))
    return BreedingReadiness(True, old_enough, needed, "old enough and heavy enough to be bred")


def first_kidding_weight(weight_kg: Amount) -> Finding:
    """Whether a first freshener has about the weight she should have at kidding."""
    weight = positive(weight_kg, "the weight in kg")
    if weight < FIRST_KIDDING_KG:
        return Finding(
            Advice.LOOK,
            f"{plain(weight, 1)} kg is light for a first kidding in a standard breed "
            f"(about {FIRST_KIDDING_KG} kg): expect help to be needed",
        )
    return Finding(Advice.OK, f"{plain(weight, 1)} kg is enough for a first kidding")


def polled_pair(sire: Horns, dam: Horns) -> Finding:
    """The warning for a mating of two goats born without horns.

    The polled gene, doubled, makes genetic females intersex (polled intersex syndrome,
    Pailhoux et al. 2001, Nature Genetics 29: from memory).
    """
    if sire == dam == "polled":
        return Finding(
            Advice.STOP, "both parents are polled: some kids may be born intersex and barren"
        )
    if "horned" in (sire, dam):
        return Finding(Advice.OK, "at least one parent was born horned")
    return Finding(Advice.LOOK, "whether both parents are polled is not known: look before mating")


def _gestation(size: Size, days: int | None) -> int:
    if days is None:
        return GESTATION_DAYS[size]
    return whole(days, "the gestation in days", GESTATION_LEAST_DAYS, GESTATION_MOST_DAYS[size])


def _breeding_weight_kg(size: Size, mature_kg: Amount | None, percent: int) -> Fraction | None:
    if mature_kg is not None:
        return positive(mature_kg, "the expected mature weight in kg") * percent / 100
    return FIRST_BREEDING_KG if size == "standard" else None
