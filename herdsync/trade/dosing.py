"""How many millilitres: a volume from weight, rate and strength, fitted to syringe and sites.

Every figure is the keeper's, typed from the label or the veterinarian's written instruction. This
module prescribes nothing and holds no drug, rate or ceiling of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import days_since
from herdsync.trade.units import Amount, plain, positive, whole

Rounding = Literal["nearest", "down", "up"]
Route = Literal["muscle", "skin", "mouth", "other"]

# Common practice, no published source: graduation by size of syringe, both in mL.
SYRINGE_STEP_ML: dict[int, Decimal] = {
    1: Decimal("0.01"),
    3: Decimal("0.1"),
    5: Decimal("0.2"),
    6: Decimal("0.2"),
    10: Decimal("0.2"),
    12: Decimal("0.2"),
    20: Decimal(1),
    60: Decimal(1),
}
# Common practice, no published source: a larger change by rounding is worth a finer syringe.
CHANGE_WARNING_PERCENT = 5
# eXtension, Goat Quality Assurance (Fisher, Ohio State): at most 5 mL in one place in muscle.
# Under the skin 5 mL, or what the label allows up to 10: common practice, no published source.
SITE_MOST_ML: dict[Route, int] = {"muscle": 5, "skin": 5}
LABEL_SITE_MOST_ML: dict[Route, int] = {"muscle": 5, "skin": 10}
MOST_SITES = 20

# Common practice, no published source.
WEIGHT_AGE_ADULT_DAYS = 14
WEIGHT_AGE_KID_DAYS = 3
KID_UNDER_DAYS = 56
# Solaiman (ed.), Goat Science and Production, 2010: kids gain up to 227 g/d. Twice that over the
# days between is taken as a slip; grown goats one tenth either way: common practice.
KID_GAIN_MOST_KG_PER_DAY = Fraction("0.227")
KID_SLIP_TIMES = 2
ADULT_CHANGE_SHARE = Fraction(1, 10)
GROWN_FROM_DAYS = 365

CAUTION = (
    "A computed volume is no prescription: check it against label or written instruction. Round "
    "down where the margin is small (local anaesthetics, sedatives), up only where the prescriber "
    "says under-dosing matters. Never guess a weight; inject before the shoulder, not in the leg."
)


class RoundedVolume(NamedTuple):
    """A volume as computed and as the syringe shows it, with the change in per cent."""

    volume_ml: Fraction
    rounded_ml: Fraction
    change_percent: Fraction
    advice: Advice
    reason: str


@dataclass(frozen=True, slots=True)
class Sites:
    """In how many places a volume is given, and how much in each."""

    count: int
    each_ml: Fraction
    reason: str


class Dose(NamedTuple):
    """What the syringe should show for one animal, computed from typed figures alone."""

    weight_kg: Fraction
    volume_ml: Fraction
    rounded_ml: Fraction
    change_percent: Fraction
    sites: Sites
    warnings: tuple[Finding, ...]
    reason: str


def dose_volume(weight_kg: Amount, rate_mg_per_kg: Amount, strength_mg_per_ml: Amount) -> Fraction:
    """The exact volume in mL for a weight. Raises ValueError where a figure is not above zero."""
    weight = positive(weight_kg, "the weight in kg")
    rate = positive(rate_mg_per_kg, "the rate in mg per kg")
    strength = positive(strength_mg_per_ml, "the strength in mg per mL")
    return weight * rate / strength


def syringe_step(size_ml: int) -> Fraction:
    """The graduation of a syringe in mL. Raises ValueError for a size not known."""
    if size_ml not in SYRINGE_STEP_ML:
        sizes = ", ".join(str(size) for size in SYRINGE_STEP_ML)
        raise ValueError(f"no {size_ml} mL syringe is known; use {sizes}, or give the step")
    return Fraction(SYRINGE_STEP_ML[size_ml])


def round_to_step(
    volume_ml: Amount, step_ml: Amount, rounding: Rounding = "nearest"
) -> RoundedVolume:
    """A volume as a syringe with this graduation can show it; a half goes up under ``nearest``.

    Raises ValueError where nothing would be left, or a figure is not above zero.
    """
    volume = positive(volume_ml, "the volume in mL")
    step = positive(step_ml, "the step of the syringe in mL")
    steps = volume / step
    counts = {
        "down": steps.__floor__(),
        "up": steps.__ceil__(),
        "nearest": (steps + Fraction(1, 2)).__floor__(),
    }
    result = counts[rounding] * step
    if result == 0:
        raise ValueError(
            f"{plain(volume, 4)} mL vanishes on steps of {plain(step, 4)} mL; use a finer syringe"
        )
    change = (result - volume) / volume * 100
    words = f"{plain(volume, 4)} mL shown as {plain(result, 4)} mL, {plain(change)} % of change"
    if abs(change) > CHANGE_WARNING_PERCENT:
        return RoundedVolume(
            volume, result, change, Advice.LOOK, f"{words}: use a finer syringe, or ask"
        )
    return RoundedVolume(volume, result, change, Advice.OK, words)


def site_most_ml(route: Route, label_ml: Amount | None = None) -> Fraction | None:
    """The most that goes in one place by this route, or None where it is not injected.

    ``label_ml`` is what the label allows; above 5 mL in muscle or 10 under the skin it is refused.
    """
    if route not in SITE_MOST_ML:
        return None
    if label_ml is None:
        return Fraction(SITE_MOST_ML[route])
    allowed = positive(label_ml, "the most per site in mL")
    if allowed > LABEL_SITE_MOST_ML[route]:
        raise ValueError(
            f"{plain(allowed)} mL in one place ({route}) is over "
            f"{LABEL_SITE_MOST_ML[route]} mL; use more places"
        )
    return allowed


def split_sites(
    volume_ml: Amount, route: Route, label_ml: Amount | None = None, at_least: int = 1
) -> Sites:
    """In how many equal parts a volume is given; ``at_least`` where the prescriber wants more.

    Raises ValueError where more than 20 places would be needed.
    """
    volume = positive(volume_ml, "the volume in mL")
    whole(at_least, "the number of places", 1, MOST_SITES)
    most = site_most_ml(route, label_ml)
    if most is None:
        return Sites(at_least, volume / at_least, f"not injected in muscle or skin ({route})")
    count = max(at_least, (volume / most).__ceil__())
    if count > MOST_SITES:
        raise ValueError(f"{plain(volume)} mL would need {count} places; check every figure")
    return Sites(count, volume / count, f"at most {plain(most)} mL in one place ({route})")


def within_ceiling(
    volume_ml: Amount, weight_kg: Amount, ceiling_mg_per_kg: Amount, strength_mg_per_ml: Amount
) -> Finding:
    """Whether a volume stays under the ceiling the prescriber gave for this weight."""
    ceiling = dose_volume(weight_kg, ceiling_mg_per_kg, strength_mg_per_ml)
    volume = positive(volume_ml, "the volume in mL")
    if volume > ceiling:
        return Finding(
            Advice.STOP,
            f"{plain(volume, 4)} mL is over the ceiling of {plain(ceiling, 4)} mL the prescriber "
            "gave for this weight: do not give it, ask",
        )
    return Finding(
        Advice.OK, f"{plain(volume, 4)} mL is within the ceiling of {plain(ceiling, 4)} mL"
    )


def weight_age(weighed: date, given: date, born: date | None) -> Finding:
    """Whether a weight is fresh enough to dose by: 3 days under 8 weeks of age, else 14."""
    days = days_since(weighed, given, "the weighing")
    is_kid = born is not None and days_since(born, given, "the birth") < KID_UNDER_DAYS
    most = WEIGHT_AGE_KID_DAYS if is_kid else WEIGHT_AGE_ADULT_DAYS
    if days > most:
        return Finding(Advice.LOOK, f"the weight is {days} days old, over {most}: weigh again")
    return Finding(Advice.OK, f"the weight is {days} days old, {most} at the most")


def plausible_weight(
    earlier_kg: Amount, earlier: date, later_kg: Amount, later: date, born: date | None
) -> Finding:
    """Whether a new weight follows from the last by growth, or looks like a slip of scale or keys.

    An animal of unknown birth is judged as grown.
    """
    before = positive(earlier_kg, "the earlier weight in kg")
    now = positive(later_kg, "the later weight in kg")
    days = days_since(earlier, later, "the earlier weighing")
    least, most = before * (1 - ADULT_CHANGE_SHARE), before * (1 + ADULT_CHANGE_SHARE)
    if born is not None and days_since(born, later, "the birth") < GROWN_FROM_DAYS:
        most = max(most, before + KID_SLIP_TIMES * KID_GAIN_MOST_KG_PER_DAY * days)
    if least <= now <= most:
        return Finding(Advice.OK, f"{plain(now)} kg follows from {plain(before)} kg on {earlier}")
    return Finding(
        Advice.LOOK,
        f"{plain(now)} kg after {plain(before)} kg on {earlier} is outside {plain(least)} to "
        f"{plain(most)} kg: weigh again before dosing",
    )


def work_out_dose(
    weight_kg: Amount,
    rate_mg_per_kg: Amount,
    strength_mg_per_ml: Amount,
    step_ml: Amount,
    *,
    rounding: Rounding = "nearest",
    route: Route = "skin",
    label_site_ml: Amount | None = None,
    weight_checks: tuple[Finding, ...] = (),
) -> Dose:
    """Volume, rounding and places for one animal; ``weight_checks`` are passed into the warnings.

    Raises ValueError for any figure that cannot stand.
    """
    volume = dose_volume(weight_kg, rate_mg_per_kg, strength_mg_per_ml)
    shown = round_to_step(volume, step_ml, rounding)
    sites = split_sites(shown.rounded_ml, route, label_site_ml)
    checks = (*weight_checks, Finding(shown.advice, shown.reason))
    return Dose(
        positive(weight_kg, "the weight in kg"),
        volume,
        shown.rounded_ml,
        shown.change_percent,
        sites,
        tuple(check for check in checks if check.advice is not Advice.OK),
        f"{plain(Fraction(weight_kg))} kg x {plain(Fraction(rate_mg_per_kg), 4)} mg/kg / "
        f"{plain(Fraction(strength_mg_per_ml), 4)} mg/mL = {plain(volume, 4)} mL",
    )
