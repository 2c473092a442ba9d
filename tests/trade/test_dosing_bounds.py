"""Dosing at its bounds: each figure, the last value that passes and the first that does not."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from herdsync.trade.dosing import (
    SYRINGE_STEP_ML,
    plausible_weight,
    site_most_ml,
    split_sites,
    syringe_step,
)

BORN = date(2025, 3, 1)
EVERY_STEP = {1: "0.01", 3: "0.1", 5: "0.2", 6: "0.2", 10: "0.2", 12: "0.2", 20: "1", 60: "1"}


def test_every_syringe_there_is() -> None:
    # Common practice, no published source.
    assert SYRINGE_STEP_ML.keys() == EVERY_STEP.keys()
    for size, step in EVERY_STEP.items():
        assert syringe_step(size) == Fraction(step)


def test_at_most_five_ml_in_one_place_under_the_skin_without_a_label() -> None:
    # Common practice, no published source: 5 mL, and what a label allows up to 10.
    assert site_most_ml("skin") == site_most_ml("muscle") == 5
    assert (split_sites(5, "skin").count, split_sites(Decimal("5.01"), "skin").count) == (1, 2)


def test_twenty_places_and_no_more() -> None:
    assert split_sites(100, "muscle").count == 20
    with pytest.raises(ValueError, match="would need 21 places"):
        split_sites(Decimal("100.1"), "muscle")
    assert split_sites(1, "muscle", at_least=20).count == 20
    with pytest.raises(ValueError, match="the number of places"):
        split_sites(1, "muscle", at_least=21)


def advice(before: str, now: str, days: int, age: int | None) -> str:
    later = BORN + timedelta(days=age if age is not None else 400)
    born = BORN if age is not None else None
    earlier = later - timedelta(days=days)
    return plausible_weight(Decimal(before), earlier, Decimal(now), later, born).advice


@pytest.mark.parametrize(
    ("now", "said"), [("54", "ok"), ("53.9", "look"), ("66", "ok"), ("66.1", "look")]
)
def test_grown_goats_a_tenth_either_way(now: str, said: str) -> None:
    # Common practice, no published source.
    assert advice("60", now, 14, None) == said


@pytest.mark.parametrize(("now", "said"), [("14.54", "ok"), ("14.55", "look")])
def test_kids_twice_the_most_they_gain(now: str, said: str) -> None:
    # Solaiman (ed.), Goat Science and Production, 2010: up to 227 g/d. 10 kg + 2 x 0.227 x 10 = 14.54 kg.
    assert advice("10", now, 10, 100) == said


def test_a_kid_is_grown_at_a_year() -> None:
    # Common practice, no published source: 30 kg + 2 x 0.227 x 10 = 34.54 kg, or a tenth: 33 kg.
    assert advice("30", "34", 10, 364) == "ok"
    assert advice("30", "34", 10, 365) == "look"


def test_what_is_not_injected_in_muscle_or_skin_is_parted_as_the_prescriber_wants() -> None:
    # Equal parts of one volume, by hand: 12 mL by mouth in 3 goes are 4 mL each.
    sites = split_sites(12, "mouth", at_least=3)
    assert sites.count == 3 and sites.each_ml == 4
