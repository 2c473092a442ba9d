"""Weights, lengths, volumes and temperatures, converted exactly.

Answers are fractions, so nothing is lost between the unit typed and the unit counted in. Knows
nothing of animals or of what is plausible for one.
"""

from __future__ import annotations

from fractions import Fraction

from herdsync.trade.amounts import Exact, amount

# International yard and pound agreement, 1959: exact by definition (from memory).
KG_PER_LB = Fraction("0.45359237")
CM_PER_IN = Fraction("2.54")
# US gallon of 231 cubic inches holds 128 fluid ounces: exact, 29.5735... mL (from memory).
ML_PER_US_FL_OZ = 231 * CM_PER_IN**3 / 128

# For each unit the program counts in: what may be typed, and how much of it one of those is.
FACTORS: dict[str, dict[str, Fraction]] = {
    "kg": {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": KG_PER_LB, "oz": KG_PER_LB / 16},
    "cm": {"cm": Fraction(1), "mm": Fraction(1, 10), "in": CM_PER_IN},
    "ml": {"ml": Fraction(1), "l": Fraction(1000), "fl oz": ML_PER_US_FL_OZ},
}


def lb_to_kg(weight_lb: Exact) -> Fraction:
    """Pounds in kilograms, exactly."""
    return amount(weight_lb, "weight in lb") * KG_PER_LB


def kg_to_lb(weight_kg: Exact) -> Fraction:
    """Kilograms in pounds, exactly."""
    return amount(weight_kg, "weight in kg") / KG_PER_LB


def in_to_cm(length_in: Exact) -> Fraction:
    """Inches in centimetres, exactly."""
    return amount(length_in, "length in inches") * CM_PER_IN


def cm_to_in(length_cm: Exact) -> Fraction:
    """Centimetres in inches, exactly."""
    return amount(length_cm, "length in cm") / CM_PER_IN


def fl_oz_to_ml(volume_fl_oz: Exact) -> Fraction:
    """US fluid ounces in millilitres, exactly."""
    return amount(volume_fl_oz, "volume in fl oz") * ML_PER_US_FL_OZ


def f_to_c(temp_f: Exact) -> Fraction:
    """Degrees Fahrenheit in degrees Celsius, exactly."""
    return (amount(temp_f, "temperature in F") - 32) * Fraction(5, 9)


def c_to_f(temp_c: Exact) -> Fraction:
    """Degrees Celsius in degrees Fahrenheit, exactly."""
    return amount(temp_c, "temperature in C") * Fraction(9, 5) + 32


def convert(value: Exact, unit: str, into: str) -> Fraction:
    """An amount typed in ``unit`` as kg, cm, ml or C, whichever ``into`` names.

    Raises ``ValueError`` where the unit does not fit, naming those that do.
    """
    if into == "C" and unit in ("C", "F"):
        return f_to_c(value) if unit == "F" else amount(value, "temperature in C")
    factors = FACTORS.get(into, {})
    if unit not in factors:
        fitting = ", ".join(factors) or "C, F"
        raise ValueError(f"The unit {unit!r} does not fit here; use one of {fitting}.")
    return amount(value, f"amount in {unit}") * factors[unit]
