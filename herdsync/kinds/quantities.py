"""Measured amounts: a number and the unit the keeper used, kept exactly as typed.

Stored as ``[mantissa, exponent, unit]``: 44.5 lb is ``[445, -1, "lb"]``. One number has one
stored form (no trailing noughts after the point, no positive exponent), so that two keepers who
mean 44.5 and 44.50 agree. Must not know any kind.
"""

from __future__ import annotations

import functools
import re
from fractions import Fraction
from typing import ClassVar

from herdsync.faults import BadBytes, Refused
from herdsync.kinds.forms import Form, Json, NameOf, Rank, Reading, Value
from herdsync.kinds.texts import foreign
from herdsync.kinds.units import UNITS, converted, unit_spelled, units_of

MANTISSA_LIMIT = 10**15
DECIMALS_LIMIT = 9
ANSWER_DECIMALS = 4
# A score has no unit that anybody says.
POINTS = "pt"

_NUMBER = re.compile(r"([+-]?)(\d{1,15})(?:\.(\d{1,15}))?[ ]*([^\d.,+\-][^\d.,]*)?", re.ASCII)


def amount(value: Value, unit: str) -> Fraction:
    """A stored amount in units of ``unit``, exactly.

    Raises ValueError where the stored unit is unknown or measures something else.
    """
    return _amount(*parts(value), unit)


# Few amounts are told on a farm, and each of them again and again.
@functools.lru_cache(maxsize=8_192)
def _amount(mantissa: int, exponent: int, stored: str, unit: str) -> Fraction:
    return converted(mantissa * Fraction(10) ** exponent, stored, unit)


def parts(value: object) -> tuple[int, int, str]:
    """Mantissa, exponent and unit of a stored amount. Raises BadBytes where it is none."""
    if type(value) is not list or len(value) != 3:
        raise foreign(value, "an amount (number, exponent, unit)")
    mantissa, exponent, unit = value
    if type(mantissa) is not int or type(exponent) is not int or type(unit) is not str:
        raise BadBytes("Expected an amount (number, exponent, unit), found other parts.")
    if abs(mantissa) >= MANTISSA_LIMIT or not -DECIMALS_LIMIT <= exponent <= 0:
        raise BadBytes("The number of an amount is too long.")
    if exponent and mantissa % 10 == 0:
        raise BadBytes("The number of an amount is not in its shortest form.")
    return mantissa, exponent, unit


def written(number: Fraction, unit: str) -> Value:
    """An exact decimal amount in stored form. Raises ValueError where nine decimals do not do."""
    scaled = number * 10**DECIMALS_LIMIT
    if scaled.denominator != 1 or abs(scaled) >= MANTISSA_LIMIT * 10**DECIMALS_LIMIT:
        raise ValueError("more digits than an amount may hold")
    mantissa, exponent = scaled.numerator, -DECIMALS_LIMIT
    while exponent and mantissa % 10 == 0:
        mantissa, exponent = mantissa // 10, exponent + 1
    if abs(mantissa) >= MANTISSA_LIMIT:
        raise ValueError("more digits than an amount may hold")
    return [mantissa, exponent, unit]


def decimal_text(mantissa: int, exponent: int) -> str:
    """``mantissa * 10**exponent`` (exponent at most 0) as plain digits."""
    digits = str(abs(mantissa)).rjust(1 - exponent, "0")
    point = len(digits) + exponent
    sign = "-" if mantissa < 0 else ""
    return sign + digits[:point] + ("." + digits[point:] if exponent else "")


class Quantity(Form, frozen=True):
    """An amount in units of one dimension; ``unit`` is the one a bare number means.

    ``least`` and ``most`` bound what can be true, in ``unit``; they are wide, and part of the
    kind's version, because a value outside makes an entry unreadable.
    """

    word: ClassVar[str] = "amount"
    stored: ClassVar[type] = list
    unit: str
    least: str
    most: str

    @property
    def dimension(self) -> str:
        """What is measured: weight, volume, duration, ..."""
        return UNITS[self.unit].dimension

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        if self.unit == POINTS:
            return f"a {self.dimension}, such as 2.5"
        others = ", ".join(units_of(self.dimension))
        return f"a {self.dimension} in {others}; a bare number is {self.unit}"

    def parse(self, text: str, reading: Reading) -> Value:
        """The amount with the keeper's unit. Raises Refused."""
        del reading
        typed = text.strip()
        found = _NUMBER.fullmatch(typed)
        if not found:
            raise Refused(
                f"{typed[:60]!r} is no {self.dimension}.",
                f"Write one number with a point, such as 12.5, and one unit: {self.takes}.",
            )
        sign, whole, decimals, spelled = found.groups()
        number = Fraction(f"{sign}{whole}.{decimals or '0'}")
        try:
            value = written(number, self._unit_of(spelled))
        except ValueError as fault:
            mend = f"Write at most {DECIMALS_LIMIT} digits after the point."
            raise Refused(f"{typed[:60]!r} has {fault}.", mend) from fault
        if not self._can_be(value):
            raise Refused(f"{typed} cannot be right.", f"Write {self._range()}.")
        return value

    def check(self, value: object) -> None:
        """Raise BadBytes unless an amount of this dimension within bounds."""
        mantissa, exponent, unit = parts(value)
        if unit not in UNITS or UNITS[unit].dimension != self.dimension:
            raise BadBytes(f"Expected a {self.dimension}, found another unit.")
        if not self._can_be([mantissa, exponent, unit]):
            raise BadBytes(f"Expected {self._range()}, found an amount outside.")

    def answer(self, value: Value) -> Json:
        """The amount as a number of the field's own unit, to four decimals."""
        number = round(amount(value, self.unit), ANSWER_DECIMALS)
        return int(number) if number.denominator == 1 else float(number)

    def show(self, value: Value, name_of: NameOf) -> str:
        """The amount in the keeper's own unit, digit for digit."""
        del name_of
        mantissa, exponent, unit = parts(value)
        number = decimal_text(mantissa, exponent)
        return number if unit == POINTS else f"{number} {unit}"

    def rank(self, value: Value, *, late: bool) -> Rank:
        """The exact amount in the field's own unit."""
        del late
        return amount(value, self.unit)

    def _unit_of(self, spelled: str | None) -> str:
        if spelled is None:
            return self.unit
        unit = unit_spelled(spelled)
        units = ", ".join(units_of(self.dimension))
        if unit is None:
            raise Refused(f"{spelled.strip()[:60]!r} is no unit known here.", f"Write {units}.")
        if unit.dimension != self.dimension:
            what = f"{unit.name} measures {unit.dimension}, and this is a {self.dimension}."
            raise Refused(what, f"Write {units}.")
        return unit.name

    def _can_be(self, value: Value) -> bool:
        return Fraction(self.least) <= amount(value, self.unit) <= Fraction(self.most)

    def _range(self) -> str:
        return f"a {self.dimension} from {self.least} to {self.most} {self.unit}"
