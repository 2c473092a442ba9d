"""Weights, lengths, volumes and temperatures, converted exactly.

Answers are fractions, so nothing is lost between the unit typed and the unit counted in. Knows
nothing of animals or of what is plausible for one.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

Amount = int | Decimal | Fraction

# International yard and pound agreement, 1959: exact by definition (from memory).
KG_PER_LB = Fraction("0.45359237")
CM_PER_IN = Fraction("2.54")
# US gallon of 231 cubic inches holds 128 fluid ounces: exact, 29.5735... mL (from memory).
ML_PER_US_FL_OZ = 231 * CM_PER_IN**3 / 128

# A Decimal such as 1E+999999999 would fill the memory before its size could be looked at.
LARGEST_EXPONENT = 30


def exact(amount: Amount, what: str = "the amount") -> Fraction:
    """``amount`` as a fraction; floats, flags, infinities and absurd exponents are refused.

    ``what`` names the amount and its unit in the refusal. Raises ValueError.
    """
    if isinstance(amount, bool) or not isinstance(amount, int | Decimal | Fraction):
        raise ValueError(f"{what} must be a whole number, decimal or fraction, not {amount!r}")
    if isinstance(amount, Decimal):
        if not amount.is_finite():
            raise ValueError(f"{what} must be a number, not {amount}; type its digits")
        exponent = amount.as_tuple().exponent
        too_fine = isinstance(exponent, int) and exponent < -LARGEST_EXPONENT
        if too_fine or amount.adjusted() > LARGEST_EXPONENT:
            raise ValueError(f"{what} has more digits than any scale shows; type it shorter")
    return Fraction(amount)


def positive(amount: Amount, what: str) -> Fraction:
    """``amount`` as a fraction above zero; anything else is refused by the name ``what``."""
    value = exact(amount, what)
    if value <= 0:
        raise ValueError(f"{what} must be more than zero, not {plain(value)}; type it again")
    return value


def whole(count: int, what: str, least: int, most: int) -> int:
    """``count`` where it is a whole number of ``least`` to ``most``; else refused by name."""
    if isinstance(count, bool) or not isinstance(count, int):
        raise ValueError(f"{what} must be a whole number, not {count!r}")
    if not least <= count <= most:
        raise ValueError(f"{what} must be {least} to {most}, not {count}; correct the figure")
    return count


def rounded(amount: Fraction, places: int) -> Decimal:
    """``amount`` to ``places`` decimal places, halves away from zero, as a keeper rounds."""
    scaled = abs(amount) * 10**places
    units = (scaled + Fraction(1, 2)).__floor__()
    return Decimal(f"{units if amount >= 0 else -units}e-{places}")


def plain(amount: Amount, places: int = 2) -> str:
    """``amount`` for a sentence: at most ``places`` decimals and no trailing zeros."""
    text = f"{rounded(Fraction(amount), places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def lb_to_kg(weight_lb: Amount) -> Fraction:
    """Pounds in kilograms, exactly."""
    return exact(weight_lb, "the weight in lb") * KG_PER_LB


def cm_to_in(length_cm: Amount) -> Fraction:
    """Centimetres in inches, exactly."""
    return exact(length_cm, "the length in cm") / CM_PER_IN
