"""Between which weights a kid usually stands in its first months: a band to hold its own against.

Knows weights and days; must not know records. Of standard breeds only: no published gain of
miniatures was found.
"""

from __future__ import annotations

from fractions import Fraction

from herdsync.trade.kids import (
    BIRTH_MEAN_KG,
    BIRTH_SPREAD_SHARE,
    BIRTH_SPREADS_USUAL,
    GAIN_LEAST_G_PER_DAY,
    GAIN_MOST_G_PER_DAY,
    WEANING_MOST_DAYS,
)
from herdsync.trade.units import Amount, positive

# The first three months that the usual gain is told of (Cornell CALS 4-H, in ``kids``).
BAND_DAYS = WEANING_MOST_DAYS
BAND_WORDS = (
    "the band is 151 to 227 g, a third to half a pound, a day from birth (Cornell CALS 4-H)"
)


def usual_weight_kg(age: int, birth_kg: Amount | None = None) -> tuple[Fraction, Fraction]:
    """The least and most a kid of a standard breed usually weighs at ``age`` days, 0 to 90.

    Without its own weight at birth, from that usual at birth. Raises ValueError for another age.
    """
    if not 0 <= age <= BAND_DAYS:
        raise ValueError(f"the usual gain is told for days 0 to {BAND_DAYS}, not {age}")
    mean = BIRTH_MEAN_KG["standard"]
    spread = mean * BIRTH_SPREAD_SHARE * BIRTH_SPREADS_USUAL
    least, most = mean - spread, mean + spread
    if birth_kg is not None:
        least = most = positive(birth_kg, "the weight at birth in kg")
    return (
        least + GAIN_LEAST_G_PER_DAY * age / 1000,
        most + GAIN_MOST_G_PER_DAY * age / 1000,
    )
