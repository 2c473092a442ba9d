"""Worm eggs per gram from the eggs seen in a counting chamber (the McMaster method).

Knows chambers, volumes and weights; must not know any animal, product or threshold for treatment:
there is no universal one, it is for the farm and its veterinarian to set.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.units import Amount, plain, positive, whole

# One gram of faeces is taken to fill one millilitre: Langston University, Procedure for Counting
# Fecal Eggs (2 g + 28 mL = 30 mL).
FAECES_ML_PER_G = 1
# More eggs than this in one chamber are not counted but guessed: a guard against slips of the
# keys; common practice, no published source.
MOST_EGGS_SEEN = 100_000


class EggCount(NamedTuple):
    """Eggs per gram, the least the method can see, and how it was worked out."""

    eggs_seen: int
    eggs_per_gram: Fraction
    detection_limit_epg: Fraction
    reason: str


def suspension_ml(faeces_g: Amount, fluid_ml: Amount) -> Fraction:
    """The whole volume of faeces and fluid. Raises ValueError unless both are above 0."""
    faeces = positive(faeces_g, "the faeces in g")
    return faeces * FAECES_ML_PER_G + positive(fluid_ml, "the fluid in mL")


def factor_epg(whole_ml: Amount, faeces_g: Amount, counted_ml: Amount) -> Fraction:
    """The eggs per gram one egg seen stands for: whole volume / (faeces x counted volume).

    Source: RVC/FAO Guide to Veterinary Parasitology, McMaster calculation. ``whole_ml`` is faeces
    and fluid together. Raises ValueError unless all are above 0 and fit into each other.
    """
    total = positive(whole_ml, "the whole suspension in mL")
    faeces = positive(faeces_g, "the faeces in g")
    counted = positive(counted_ml, "the counted volume in mL")
    if counted > total:
        raise ValueError(
            f"{plain(counted)} mL cannot be counted out of {plain(total)} mL of suspension; "
            "correct one of the two volumes"
        )
    if faeces * FAECES_ML_PER_G > total:
        raise ValueError(
            f"{plain(faeces)} g of faeces do not fit into {plain(total)} mL of suspension; "
            "give the volume of faeces and fluid together"
        )
    return total / (faeces * counted)


def egg_count(eggs_by_chamber: Sequence[int], one_egg_epg: Amount) -> EggCount:
    """Eggs per gram from the eggs seen in each chamber and the factor of the method.

    Raises ValueError for no chamber, an impossible count, or a factor that is not above 0.
    """
    if not eggs_by_chamber:
        raise ValueError("no chamber was counted; give the eggs seen in each, 0 where none were")
    seen = sum(whole(eggs, "the eggs seen", 0, MOST_EGGS_SEEN) for eggs in eggs_by_chamber)
    factor = positive(one_egg_epg, "the factor in eggs per gram")
    found = seen * factor
    if seen:
        reason = f"{seen} eggs seen x {plain(factor)} = {plain(found)} eggs per gram"
    else:
        reason = f"no egg seen: fewer than about {plain(factor)} eggs per gram, which is not none"
    return EggCount(seen, found, factor, reason)
