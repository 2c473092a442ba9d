"""The units a keeper may write, and exact conversion between them.

Must not know any kind or field. The factors of pound, inch and fluid ounce are the trade's own.
"""

from __future__ import annotations

from fractions import Fraction

from msgspec import Struct

from herdsync.trade.units import CM_PER_IN, KG_PER_LB, ML_PER_US_FL_OZ


class Unit(Struct, frozen=True):
    """One unit: its base amount is ``amount * factor + offset``."""

    name: str
    dimension: str
    factor: Fraction
    offset: Fraction = Fraction(0)


_TABLE = (
    Unit("kg", "weight", Fraction(1)),
    Unit("g", "weight", Fraction(1, 1000)),
    Unit("mg", "weight", Fraction(1, 1_000_000)),
    Unit("lb", "weight", KG_PER_LB),
    Unit("oz", "weight", KG_PER_LB / 16),
    Unit("mL", "volume", Fraction(1)),
    Unit("L", "volume", Fraction(1000)),
    Unit("fl oz", "volume", ML_PER_US_FL_OZ),
    Unit("mm", "length", Fraction(1)),
    Unit("cm", "length", Fraction(10)),
    Unit("in", "length", CM_PER_IN * 10),
    Unit("C", "temperature", Fraction(1)),
    Unit("F", "temperature", Fraction(5, 9), Fraction(-160, 9)),
    Unit("s", "duration", Fraction(1)),
    Unit("min", "duration", Fraction(60)),
    Unit("h", "duration", Fraction(3600)),
    Unit("d", "duration", Fraction(86400)),
    Unit("wk", "duration", Fraction(7 * 86400)),
    Unit("mg/mL", "strength", Fraction(1)),
    Unit("g/L", "strength", Fraction(1)),
    Unit("ug/mL", "strength", Fraction(1, 1000)),
    Unit("mg/kg", "rate by weight", Fraction(1)),
    Unit("ug/kg", "rate by weight", Fraction(1, 1000)),
    Unit("mg/lb", "rate by weight", 1 / KG_PER_LB),
    Unit("mL/kg", "volume by weight", Fraction(1)),
    Unit("mL/lb", "volume by weight", 1 / KG_PER_LB),
    Unit("ppm", "share by weight", Fraction(1)),
    Unit("%", "share", Fraction(1)),
    Unit("pt", "score", Fraction(1)),
)
UNITS = {unit.name: unit for unit in _TABLE}

_SPELLINGS = {
    "kg": "kgs kilo kilos kilogram kilograms",
    "g": "gr gram grams",
    "mg": "milligram milligrams",
    "lb": "lbs pound pounds",
    "oz": "ounce ounces",
    "mL": "cc millilitre millilitres milliliter milliliters",
    "L": "litre litres liter liters",
    "fl oz": "floz fl.oz",
    "in": 'inch inches "',
    "C": "°c celsius",
    "F": "°f fahrenheit",
    "s": "sec second seconds",
    "min": "minute minutes",
    "h": "hr hrs hour hours",
    "d": "day days",
    "wk": "w week weeks",
    "ug/mL": "mcg/ml µg/ml",
    "ug/kg": "mcg/kg µg/kg",
    "%": "percent",
    "pt": "pts point points",
}
_BY_SPELLING = {name.lower(): name for name in UNITS} | {
    spelling: name for name, spellings in _SPELLINGS.items() for spelling in spellings.split()
}


def unit_spelled(text: str) -> Unit | None:
    """The unit a keeper's spelling means, or None; case does not matter."""
    name = _BY_SPELLING.get(" ".join(text.lower().split()))
    return None if name is None else UNITS[name]


def units_of(dimension: str) -> list[str]:
    """The units of one dimension, as this program writes them."""
    return [unit.name for unit in _TABLE if unit.dimension == dimension]


def converted(amount: Fraction, unit: str, into: str) -> Fraction:
    """``amount`` of ``unit`` in units of ``into``, exactly.

    Raises ValueError where a unit is unknown or measures something else.
    """
    if unit not in UNITS or into not in UNITS or UNITS[unit].dimension != UNITS[into].dimension:
        raise ValueError("these units do not measure one thing")
    here, there = UNITS[unit], UNITS[into]
    return (amount * here.factor + here.offset - there.offset) / there.factor
