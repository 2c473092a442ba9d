"""Ceilings of a goat's diet that harm when passed: copper, selenium and ammonium chloride.

Knows contents and weights; must not know products, doses of boluses or injections, which are for
the veterinarian.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding, gravest
from herdsync.trade.bounds import within
from herdsync.trade.units import Amount, plain, positive

# eXtension, Goat Nutrition Copper (Hart 2008): 10-80 mg/kg in the diet, copper at least 4 times
# molybdenum. Sheep: Oregon State Extension table from NRC Sheep 1985, at most 25 mg/kg.
COPPER_LOWEST_MG_PER_KG = 10
COPPER_HIGHEST_MG_PER_KG = 80
COPPER_TO_MOLYBDENUM_LEAST = 4
SHEEP_COPPER_HIGHEST_MG_PER_KG = 25
# FDA CVM Update 2005-03-08 and 21 CFR 573.920: added selenium in complete feed.
SELENIUM_HIGHEST_MG_PER_KG = Fraction(3, 10)
# California Code of Regulations, title 3, s. 2790: of the total ration.
AMMONIUM_CHLORIDE_HIGHEST_PERCENT = 1

COPPER_CAUTION = "goat minerals may kill sheep; copper boluses only on the veterinarian's advice"
SELENIUM_CAUTION = (
    "the margin between enough and poison is small; injections are the veterinarian's"
)
AMMONIUM_CHLORIDE_CAUTION = "for a short term and on the veterinarian's advice only"


class CeilingAnswer(NamedTuple):
    """The most of a substance in one day's ration, how much is in it, and what that means."""

    ceiling_per_day: Fraction
    unit: str
    advice: Advice
    reason: str
    caution: str


def judge_copper(
    copper_mg_per_kg: Amount,
    molybdenum_mg_per_kg: Amount | None = None,
    *,
    sheep_eat_it: bool,
    at_least: bool = False,
) -> Finding:
    """Judge the copper of a whole diet, also against its molybdenum and for sheep at the trough.

    ``at_least``: of some feeds it is not known, so what is too much can be told, what is too little not.
    Raises ValueError for negative contents.
    """
    copper = within(copper_mg_per_kg, "the copper in mg/kg", 0)
    findings = [_copper_alone(copper, at_least)]
    if molybdenum_mg_per_kg is not None and not at_least:
        findings.append(_copper_beside(copper, molybdenum_mg_per_kg))
    if sheep_eat_it and copper > SHEEP_COPPER_HIGHEST_MG_PER_KG:
        findings.append(
            Finding(
                Advice.STOP,
                f"copper {plain(copper)} mg/kg is over the {SHEEP_COPPER_HIGHEST_MG_PER_KG} mg/kg "
                "that sheep bear",
            )
        )
    worst = gravest(findings)
    return Finding(worst.advice, f"{worst.reason}; {COPPER_CAUTION}")


def selenium_ceiling(dry_matter_kg: Amount, added_mg: Amount = 0) -> CeilingAnswer:
    """The most added selenium (mg) in a day's complete feed, and whether ``added_mg`` keeps to it.

    Raises ValueError for a ration of no weight or a negative addition.
    """
    weight = positive(dry_matter_kg, "the dry matter of the ration in kg")
    ceiling = SELENIUM_HIGHEST_MG_PER_KG * weight
    added = within(added_mg, "the added selenium in mg", 0)
    return _against(ceiling, added, "mg", "added selenium", SELENIUM_CAUTION)


def ammonium_chloride_ceiling(ration_kg: Amount, added_g: Amount = 0) -> CeilingAnswer:
    """The most ammonium chloride (g) in a day's ration, and whether ``added_g`` keeps to it.

    Raises ValueError for a ration of no weight or a negative addition.
    """
    weight_g = positive(ration_kg, "the ration in kg") * 1000
    ceiling = weight_g * AMMONIUM_CHLORIDE_HIGHEST_PERCENT / 100
    added = within(added_g, "the ammonium chloride in g", 0)
    return _against(ceiling, added, "g", "ammonium chloride", AMMONIUM_CHLORIDE_CAUTION)


def _against(
    ceiling: Fraction, found: Fraction, unit: str, what: str, caution: str
) -> CeilingAnswer:
    text = f"{what} {plain(found, 4)} {unit} a day; the most is {plain(ceiling, 4)} {unit}"
    advice = Advice.STOP if found > ceiling else Advice.OK
    return CeilingAnswer(ceiling, unit, advice, text, caution)


def _copper_alone(copper: Fraction, at_least: bool) -> Finding:
    text = (
        f"copper {'at least ' if at_least else ''}{plain(copper)} mg/kg, range {COPPER_LOWEST_MG_PER_KG} to "
        f"{COPPER_HIGHEST_MG_PER_KG}"
    )
    if copper > COPPER_HIGHEST_MG_PER_KG:
        return Finding(Advice.STOP, f"{text}: too much")
    if copper < COPPER_LOWEST_MG_PER_KG and at_least:
        return Finding(Advice.LOOK, f"{text}: whether it is enough cannot be told")
    if copper < COPPER_LOWEST_MG_PER_KG:
        return Finding(Advice.LOOK, f"{text}: too little")
    return Finding(Advice.OK, text)


def _copper_beside(copper: Fraction, molybdenum_mg_per_kg: Amount) -> Finding:
    molybdenum = within(molybdenum_mg_per_kg, "the molybdenum in mg/kg", 0)
    if copper < COPPER_TO_MOLYBDENUM_LEAST * molybdenum:
        return Finding(
            Advice.LOOK,
            f"copper {plain(copper)} mg/kg is under {COPPER_TO_MOLYBDENUM_LEAST} times the "
            f"molybdenum of {plain(molybdenum)} mg/kg, which binds it",
        )
    return Finding(Advice.OK, "copper is at least four times the molybdenum")
