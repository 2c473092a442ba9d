"""The band a kid's weights usually lie in, against the text it is taken from."""

from __future__ import annotations

from fractions import Fraction

import pytest

from herdsync.trade.gain_band import BAND_DAYS, BAND_WORDS, usual_weight_kg
from herdsync.trade.kids import WEANING_KG
from herdsync.trade.units import KG_PER_LB


def test_ninety_days_add_thirty_to_forty_five_pounds() -> None:
    # Cornell CALS 4-H, Using math to see how well your goat is growing: a third to half a pound a
    # day in the first three months.
    least, most = usual_weight_kg(90, Fraction("3.5"))
    assert (least - Fraction("3.5")) / KG_PER_LB == 30
    assert (most - Fraction("3.5")) / KG_PER_LB == 45
    assert "151 to 227 g" in BAND_WORDS and (KG_PER_LB * 1000 / 3).__round__() == 151
    assert (KG_PER_LB * 1000 / 2).__round__() == 227


def test_a_usual_kid_reaches_its_weaning_weight_within_the_band() -> None:
    # The same text: weaned at 10 to 12 weeks and 30 lb.
    least, most = usual_weight_kg(77)
    assert least < Fraction(WEANING_KG) < most


def test_without_a_weight_at_birth_the_band_begins_at_the_usual_ones() -> None:
    # Amoah et al. 1996, J. Anim. Sci. 74:723-728: mean 3.2 kg, SD 0.64; two spreads each way.
    assert usual_weight_kg(0) == (Fraction("1.92"), Fraction("4.48"))
    assert usual_weight_kg(0, Fraction("3.9")) == (Fraction("3.9"), Fraction("3.9"))


@pytest.mark.parametrize("age", [-1, BAND_DAYS + 1])
def test_no_other_age_has_a_band(age: int) -> None:
    with pytest.raises(ValueError, match="days 0 to 90"):
        usual_weight_kg(age)
