"""Amounts read off records as exact numbers of one unit, and shown as plain figures.

Must not know what the amounts mean.
"""

from __future__ import annotations

from fractions import Fraction

from herdsync.kinds import Value
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record


def told(record: Record | None, field: str, unit: str) -> Fraction | None:
    """A field's provisional amount in ``unit``; None where nobody told it."""
    value = record.value(field) if record is not None else None
    return None if value is None else amount(value, unit)


def longest_told(record: Record | None, field: str, unit: str) -> Value | None:
    """The greatest amount that counts for safety, as it is stored; None where nobody told one."""
    values = record.safety_values(field) if record is not None else []
    return max(values, key=lambda value: amount(value, unit), default=None)


def figure(number: Fraction | None, places: int = 3) -> float | None:
    """A number for an answer, to some decimals."""
    return None if number is None else float(round(number, places))
