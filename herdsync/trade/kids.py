"""Kids: colostrum, bottles, gain, adjusted weight, and when one may be weaned.

Knows weights, days and hours; must not know pens, dams or records. Weights are kilograms, gains
grams per day.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import Window, add_days, add_hours, age_days, days_since
from herdsync.trade.reproduction import Size
from herdsync.trade.units import (
    KG_PER_LB,
    ML_PER_US_FL_OZ,
    Amount,
    exact,
    plain,
    positive,
    whole,
)

# Georgia multi-herd study, 608 does and 1,147 kids (Amoah et al. 1996, J. Anim. Sci. 74:723-728):
# mean 3.2 kg, SD 0.64, Pygmy 1.7 kg, 0.45 kg less per extra kid about a mean litter of 1.85. The
# spread of miniatures is scaled from that of all: ours.
BIRTH_MEAN_KG: dict[Size, Fraction] = {
    "standard": Fraction("3.2"),
    "miniature": Fraction("1.7"),
}
BIRTH_SPREAD_SHARE = Fraction("0.64") / Fraction("3.2")
BIRTH_SPREADS_USUAL = 2
LESS_PER_EXTRA_KID_KG = Fraction("0.45")
MEAN_LITTER = Fraction("1.85")
MOST_BORN = 7

# Veterinary practice handout, nutrition of newborn kids: 10 % of body weight in 24 h, first feed
# within 1 h, certainly 6 h. Gut closes at 24 h, best in 12 h: extension text.
COLOSTRUM_PERCENT = 10
COLOSTRUM_FIRST_H = 1
COLOSTRUM_LAST_FIRST_H = 6
COLOSTRUM_BEST_H = 12
GUT_CLOSES_H = 24
# Dawson, herd health for goats, Langston Field Day proceedings, about 2001: 2 oz within the hour.
FIRST_FEED_ML = 2 * ML_PER_US_FL_OZ
# A gram of colostrum is counted as a millilitre: common practice, no published source.
ML_PER_G_COLOSTRUM = 1

# Cornell CALS 4-H, Using math to see how well your goat is growing: 1 to 2 quarts a day; a third
# to half a pound a day in the first three months; weaned at 10 to 12 weeks and 30 lb (13.6 kg).
BOTTLE_DAY_ML = (32 * ML_PER_US_FL_OZ, 64 * ML_PER_US_FL_OZ)
# Common practice, no published source: before that it drinks by its own measure, colostrum first.
BOTTLE_FROM_DAYS = 4
GAIN_LEAST_G_PER_DAY = 1000 * KG_PER_LB / 3
GAIN_MOST_G_PER_DAY = 1000 * KG_PER_LB / 2
WEANING_DAYS = 70
WEANING_MOST_DAYS = 90
WEANING_KG = Decimal("13.6")
# An Australian state's handbook (reprint): 6 weeks or less if well grown.
WEANING_LEAST_DAYS = 42
# Common practice, no published source.
GAIN_ALERT_G_PER_DAY = 100
GAIN_ALERT_OVER_DAYS = 14
# Solaiman (ed.), Goat Science and Production, 2010: weight at 90 days from birth and gain.
ADJUSTED_DAYS = 90

CAUTION = (
    "A weak or cold kid is warmed first and fed after; tube feeding only by someone trained. Call "
    "the veterinarian for a kid that does not suck."
)


class Colostrum(NamedTuple):
    """How much colostrum a kid needs in 24 hours and by when; instants are UTC."""

    total_g: Fraction
    total_ml: Fraction
    first_feed_ml: Fraction
    first_feed_by: datetime
    first_feed_at_latest: datetime
    best_until: datetime
    gut_closes: datetime
    reason: str


class Gain(NamedTuple):
    """Daily gain between two weighings and what to make of it."""

    gain_g_per_day: Fraction
    days: int
    advice: Advice
    reason: str


class Weaning(NamedTuple):
    """Whether a kid may be weaned, and from which day its age allows it."""

    ready: bool
    days: Window
    reason: str


def colostrum(born_at: datetime, weight_kg: Amount) -> Colostrum:
    """What a newborn needs in its first 24 hours, a tenth of its weight."""
    weight = positive(weight_kg, "the weight in kg")
    total_g = weight * 1000 * COLOSTRUM_PERCENT / 100
    return Colostrum(
        total_g,
        total_g * ML_PER_G_COLOSTRUM,
        FIRST_FEED_ML,
        add_hours(born_at, COLOSTRUM_FIRST_H),
        add_hours(born_at, COLOSTRUM_LAST_FIRST_H),
        add_hours(born_at, COLOSTRUM_BEST_H),
        add_hours(born_at, GUT_CLOSES_H),
        f"{COLOSTRUM_PERCENT} % of {plain(weight)} kg in 24 hours is {plain(total_g, 0)} g; first "
        f"feed within {COLOSTRUM_FIRST_H} hour, at the latest {COLOSTRUM_LAST_FIRST_H}",
    )


def colostrum_had(weight_kg: Amount, had_ml: Amount, age_h: Amount) -> Finding:
    """Whether what a kid has had so far is enough for its hours of age."""
    wanted = positive(weight_kg, "the weight in kg") * 1000 * COLOSTRUM_PERCENT / 100
    had = exact(had_ml, "the colostrum in mL")
    hours = exact(age_h, "the age in hours")
    if had < 0 or hours < 0:
        raise ValueError("colostrum and age cannot be below zero; type them again")
    if had == 0 and hours > COLOSTRUM_LAST_FIRST_H:
        return Finding(Advice.STOP, f"nothing fed at {plain(hours)} hours: feed now, ask the vet")
    if had == 0 and hours > COLOSTRUM_FIRST_H:
        return Finding(Advice.LOOK, f"nothing fed at {plain(hours)} hours: feed now")
    if had < wanted and hours >= GUT_CLOSES_H:
        return Finding(
            Advice.LOOK,
            f"{plain(had, 0)} of {plain(wanted, 0)} mL in {GUT_CLOSES_H} hours: cover is doubtful",
        )
    return Finding(Advice.OK, f"{plain(had, 0)} of {plain(wanted, 0)} mL fed")


def bottle_day(day_ml: Amount) -> Finding:
    """Whether a day's milk by bottle lies within what kids are usually given."""
    milk = positive(day_ml, "the milk of a day in mL")
    least, most = BOTTLE_DAY_ML
    words = f"{plain(milk, 0)} mL a day, usual is {plain(least, 0)} to {plain(most, 0)} mL"
    if milk > most:
        return Finding(Advice.LOOK, f"{words}: too much brings scours, raise it slowly")
    return Finding(Advice.OK if milk >= least else Advice.LOOK, words)


def birth_weight(weight_kg: Amount, size: Size, litter: int) -> Finding:
    """Whether a birth weight is usual for the breed size and the number born."""
    weight = positive(weight_kg, "the weight in kg")
    whole(litter, "the number born", 1, MOST_BORN)
    mean = BIRTH_MEAN_KG[size]
    scale = mean / BIRTH_MEAN_KG["standard"]
    expected = mean - LESS_PER_EXTRA_KID_KG * scale * (litter - MEAN_LITTER)
    spread = mean * BIRTH_SPREAD_SHARE * BIRTH_SPREADS_USUAL
    words = f"{plain(weight)} kg, about {plain(expected, 1)} kg is usual for one of {litter}"
    if weight < expected - spread:
        return Finding(Advice.LOOK, f"{words}: light, see that it sucks and stays warm")
    if weight > expected + spread:
        return Finding(Advice.LOOK, f"{words}: heavy, weigh again")
    return Finding(Advice.OK, words)


def daily_gain(earlier_kg: Amount, earlier: date, later_kg: Amount, later: date) -> Gain:
    """Gain between two weighings of a kid, in grams per day.

    Any loss, or under 100 g over 14 days or more, asks for a look. Raises ValueError where both
    weighings are of one day.
    """
    days = days_since(earlier, later, "the earlier weighing")
    if days == 0:
        raise ValueError(f"both weights are of {later}; gain needs two different days")
    before = positive(earlier_kg, "the earlier weight in kg")
    now = positive(later_kg, "the later weight in kg")
    gain = (now - before) * 1000 / days
    words = f"{plain(gain, 1)} g a day over {days} days"
    if gain < 0:
        return Gain(gain, days, Advice.LOOK, f"{words}: it lost weight, look why")
    if gain < GAIN_ALERT_G_PER_DAY and days >= GAIN_ALERT_OVER_DAYS:
        return Gain(gain, days, Advice.LOOK, f"{words} is under {GAIN_ALERT_G_PER_DAY} g: look why")
    norm = f"{plain(GAIN_LEAST_G_PER_DAY, 0)} to {plain(GAIN_MOST_G_PER_DAY, 0)} g"
    return Gain(gain, days, Advice.OK, f"{words}; {norm} is usual in the first three months")


def adjusted_weight_kg(
    birth_kg: Amount, later_kg: Amount, age: int, at_days: int = ADJUSTED_DAYS
) -> Fraction:
    """The weight a kid has, or would have, at ``at_days`` by its gain since birth.

    Raises ValueError for a weight taken at birth.
    """
    whole(age, "the age in days when weighed", 1, 400)
    whole(at_days, "the age in days to adjust to", 1, 400)
    birth = positive(birth_kg, "the birth weight in kg")
    now = positive(later_kg, "the later weight in kg")
    return birth + (now - birth) / age * at_days


def weaning(
    born: date,
    on: date,
    weight_kg: Amount | None,
    *,
    eats_hay_and_grain: bool,
    least_days: int = WEANING_DAYS,
    least_kg: Amount = WEANING_KG,
) -> Weaning:
    """Whether a kid has the age, the weight and the appetite to be weaned on a day.

    Raises ValueError for a least age outside 42 to 90 days.
    """
    whole(least_days, "the least age in days", WEANING_LEAST_DAYS, WEANING_MOST_DAYS)
    gate = positive(least_kg, "the least weight in kg")
    age = age_days(born, on)
    opens = add_days(born, least_days)
    lacks = []
    if age < least_days:
        lacks.append(f"it is {age} of {least_days} days old")
    if weight_kg is None:
        lacks.append(f"no weight is recorded, {plain(gate)} kg is needed")
    elif positive(weight_kg, "the weight in kg") < gate:
        lacks.append(f"it weighs {plain(weight_kg)} of {plain(gate)} kg")
    if not eats_hay_and_grain:
        lacks.append("that it eats hay and grain is not on record")
    reason = f"not yet: {'; '.join(lacks)}" if lacks else "old enough, heavy enough and eating"
    days = Window(opens, opens, add_days(born, WEANING_MOST_DAYS), reason)
    return Weaning(not lacks, days, reason)
