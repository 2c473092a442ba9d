"""Conversions against published definitions and printed figures."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.kinds.units import converted
from herdsync.trade.units import (
    cm_to_in,
    exact,
    lb_to_kg,
    plain,
    positive,
    rounded,
    whole,
)

AMOUNTS = st.decimals(0, 10_000, places=3)


def test_80_pounds() -> None:
    # Breeding weight of doelings: Extension Goat Handbook, NAL 1992 (80 lb).
    assert abs(lb_to_kg(80) - Fraction("36.29")) < Fraction("0.01")


def test_pound_and_inch_are_exact() -> None:
    # International yard and pound agreement, 1959 (from memory).
    assert lb_to_kg(1) == Fraction(45359237, 100_000_000)
    assert converted(Fraction(1), "in", "cm") == Fraction(254, 100)


def test_two_fluid_ounces() -> None:
    # First colostrum feed: Dawson, Langston Field Day proceedings, about 2001 (2 oz).
    assert abs(converted(Fraction(2), "fl oz", "mL") - Fraction("59.1")) < Fraction("0.1")
    assert round(converted(Fraction(1), "fl oz", "mL"), 4) == Fraction("29.5735")


@pytest.mark.parametrize(("temp_f", "temp_c"), [("103", "39.44"), ("104", "40.00")])
def test_fahrenheit(temp_f: str, temp_c: str) -> None:
    # Adult temperature: Langston University, Common Herd Health Procedures (103-104 F).
    assert abs(converted(Fraction(temp_f), "F", "C") - Fraction(temp_c)) < Fraction("0.01")


def test_104_fahrenheit_is_exactly_40() -> None:
    assert converted(Fraction(104), "F", "C") == 40


@given(AMOUNTS)
def test_conversions_lose_nothing_either_way(value: Decimal) -> None:
    amount = Fraction(value)
    assert lb_to_kg(value) == converted(amount, "lb", "kg")
    assert cm_to_in(value) == converted(amount, "cm", "in")
    for here, there in (("lb", "kg"), ("in", "cm"), ("F", "C"), ("fl oz", "mL"), ("wk", "h")):
        assert converted(converted(amount, here, there), there, here) == amount


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        (Decimal("NaN"), "must be a number, not NaN"),
        (Decimal("Infinity"), "must be a number, not Infinity"),
        (Decimal("1E+999999"), "more digits than any scale shows"),
        (Decimal("1E-999999"), "more digits than any scale shows"),
        (0.5, "must be a whole number, decimal or fraction, not 0.5"),
        (True, "must be a whole number, decimal or fraction, not True"),
    ],
)
def test_what_is_no_exact_number_is_refused(value: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        exact(value, "the weight in kg")  # type: ignore[arg-type]


def test_zero_and_less_are_refused_where_an_amount_must_be_there() -> None:
    assert positive(Decimal("0.001"), "the weight in kg") == Fraction(1, 1000)
    for value in (0, -1):
        with pytest.raises(
            ValueError, match=f"the weight in kg must be more than zero, not {value}"
        ):
            positive(value, "the weight in kg")


def test_a_count_out_of_range_is_refused_and_not_clamped() -> None:
    assert whole(28, "the interval in days", 28, 90) == 28
    with pytest.raises(ValueError, match="the interval in days must be 28 to 90, not 27"):
        whole(27, "the interval in days", 28, 90)
    with pytest.raises(ValueError, match="must be a whole number"):
        whole(True, "the interval in days", 0, 90)


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [("0.125", 2, "0.13"), ("-0.125", 2, "-0.13"), ("2", 2, "2.00"), ("1234.5", 0, "1235")],
)
def test_halves_are_rounded_away_from_zero(value: str, places: int, expected: str) -> None:
    assert str(rounded(Fraction(value), places)) == expected


def test_a_sentence_shows_no_trailing_zeros() -> None:
    assert [plain(Fraction(n)) for n in ("2.50", "100", "0.333")] == ["2.5", "100", "0.33"]
    assert [plain(Fraction(n)) for n in ("0.31", "1.010")] == ["0.31", "1.01"]
