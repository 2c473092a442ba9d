"""Amounts: exact conversion, one stored form, and sentences for what cannot be."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.faults import BadBytes, Refused
from herdsync.kinds.forms import Value
from herdsync.kinds.lines import DAYS, HOURS, SMALL_LENGTH, VOLUME, WEIGHT
from herdsync.kinds.quantities import Quantity, amount
from herdsync.kinds.units import UNITS, converted, unit_spelled, units_of
from tests.kinds.reading import Barn

CELSIUS = Quantity("C", "20", "45")
RATE = Quantity("mg/kg", "0", "10000")


def parse(form: Quantity, text: str) -> Value:
    value = form.parse(text, Barn())
    form.check(value)
    return value


@pytest.mark.parametrize(
    ("form", "typed", "stored", "answer", "shown"),
    [
        (WEIGHT, "44lb", [44, 0, "lb"], 19.9581, "44 lb"),
        (WEIGHT, "44.50 lbs", [445, -1, "lb"], 20.1849, "44.5 lb"),
        (WEIGHT, "20.1", [201, -1, "kg"], 20.1, "20.1 kg"),
        (WEIGHT, "20.1kg", [201, -1, "kg"], 20.1, "20.1 kg"),
        (WEIGHT, "3200 g", [3200, 0, "g"], 3.2, "3200 g"),
        (WEIGHT, "60", [60, 0, "kg"], 60, "60 kg"),
        # 80 lb is 36.29 kg: dairy-goat handbook on first breeding, US National Agricultural
        # Library collection, 1992; the factor is that of the agreement of 1959.
        (WEIGHT, "80 lb", [80, 0, "lb"], 36.2874, "80 lb"),
        # 103 F is 39.44 C and 104 F is 40.00 C: common herd health procedures, Langston
        # University, usual temperature of an adult goat.
        (CELSIUS, "103F", [103, 0, "F"], 39.4444, "103 F"),
        (CELSIUS, "104 °F", [104, 0, "F"], 40, "104 F"),
        (CELSIUS, "39.5", [395, -1, "C"], 39.5, "39.5 C"),
        (VOLUME, "0.05", [5, -2, "mL"], 0.05, "0.05 mL"),
        (VOLUME, "7cc", [7, 0, "mL"], 7, "7 mL"),
        # 2 US fluid ounces are 59.1 mL, as first feed of colostrum: herd health for goats,
        # Langston field day proceedings.
        (VOLUME, "2 fl oz", [2, 0, "fl oz"], 59.1471, "2 fl oz"),
        (HOURS, "4d", [4, 0, "d"], 96, "4 d"),
        (HOURS, "96", [96, 0, "h"], 96, "96 h"),
        (DAYS, "36 hours", [36, 0, "h"], 1.5, "36 h"),
        (SMALL_LENGTH, "1 in", [1, 0, "in"], 25.4, "1 in"),
        (SMALL_LENGTH, "0", [0, 0, "mm"], 0, "0 mm"),
        (RATE, "5 mg/lb", [5, 0, "mg/lb"], 11.0231, "5 mg/lb"),
    ],
)
def test_typed_stored_answered_shown(
    form: Quantity, typed: str, stored: Value, answer: float, shown: str
) -> None:
    value = parse(form, typed)
    assert value == stored
    assert form.answer(value) == answer
    assert form.show(value, str) == shown


def test_conversion_loses_nothing() -> None:
    assert amount([44, 0, "lb"], "kg") == Fraction("19.95806428")
    assert amount([103, 0, "F"], "C") == Fraction(355, 9)


@pytest.mark.parametrize(
    ("form", "typed"),
    [
        (WEIGHT, "-4"),
        (WEIGHT, "0"),
        (WEIGHT, "2000 kg"),
        (WEIGHT, "44 lb 8 oz"),
        (WEIGHT, "44,5"),
        (WEIGHT, "1,500"),
        (WEIGHT, "1e3"),
        (WEIGHT, "nan"),
        (WEIGHT, "inf"),
        (WEIGHT, "44 stone"),
        (WEIGHT, "44 mL"),
        (WEIGHT, ".5"),
        (WEIGHT, "5."),
        (WEIGHT, ""),
        (WEIGHT, "٤٤"),
        (WEIGHT, "9" * 900),
        (WEIGHT, "1." + "1" * 12),
        (WEIGHT, "999999999999.999999999"),
        (CELSIUS, "103"),
        (VOLUME, "-0.5 mL"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(form: Quantity, typed: str) -> None:
    with pytest.raises(Refused) as refused:
        form.parse(typed, Barn())
    assert refused.value.what.endswith(".")
    assert refused.value.mend.endswith(".")
    assert len(str(refused.value)) < 400


@pytest.mark.parametrize(
    "stored",
    [
        [440, -1, "lb"],
        [4, 1, "kg"],
        [0, -1, "kg"],
        [44, -10, "kg"],
        [10**15, 0, "g"],
        [10**5000, 0, "g"],
        [44, 0, "stone"],
        [44, 0, "mL"],
        [44.0, 0, "kg"],
        [True, 0, "kg"],
        [44, False, "kg"],
        [44, 0, b"kg"],
        [44, 0],
        (44, 0, "kg"),
        [-4, 0, "kg"],
        "44 kg",
        44,
        44.0,
        None,
    ],
)
def test_other_stored_forms_are_set_aside(stored: object) -> None:
    with pytest.raises(BadBytes):
        WEIGHT.check(stored)


@given(st.integers(1, 10**9), st.integers(0, 9), st.sampled_from(units_of("weight")))
def test_what_is_shown_can_be_typed_again(mantissa: int, decimals: int, unit: str) -> None:
    form = Quantity("kg", "0", "1000000000000")
    digits = str(mantissa).rjust(decimals + 1, "0")
    typed = digits[: len(digits) - decimals] + "." + digits[len(digits) - decimals :]
    value = form.parse(f"{typed.rstrip('.')} {unit}", Barn())
    form.check(value)
    assert form.parse(form.show(value, str), Barn()) == value
    assert amount(value, unit) == Fraction(mantissa, 10**decimals)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.fractions())
def test_there_and_back(one: str, other: str, number: Fraction) -> None:
    if UNITS[one].dimension == UNITS[other].dimension:
        assert converted(converted(number, one, other), other, one) == number
    else:
        with pytest.raises(ValueError, match="one thing"):
            converted(number, one, other)


def test_every_unit_is_spelled_as_it_is_shown() -> None:
    for name in UNITS:
        found = unit_spelled(name)
        assert found is not None and found.name == name


def test_a_score_is_said_without_a_unit() -> None:
    score = Quantity("pt", "1", "5")
    assert score.show([25, -1, "pt"], bytes.hex) == "2.5"
    assert score.takes == "a score, such as 2.5"
