"""Bounds on amounts: what lies outside is refused with a sentence, never clamped.

Knows no unit and no rule of the trade; each rule names its own bounds.
"""

from __future__ import annotations

from fractions import Fraction

from herdsync.trade.units import Amount, exact, plain


def within(amount: Amount, what: str, least: Amount, most: Amount | None = None) -> Fraction:
    """``amount`` as a fraction of ``least`` to ``most``, both included; no upper bound if None.

    ``what`` names the amount and its unit in the refusal. Raises ValueError.
    """
    value = exact(amount, what)
    if value < Fraction(least):
        raise ValueError(
            f"{what} must be {plain(Fraction(least))} or more, not {plain(value, 4)}; correct it"
        )
    if most is not None and value > Fraction(most):
        raise ValueError(
            f"{what} must be {plain(Fraction(most))} or less, not {plain(value, 4)}; correct it"
        )
    return value


def percent(amount: Amount, what: str) -> Fraction:
    """``amount`` as a fraction of 0 to 100, still in per cent. Raises ValueError outside."""
    return within(amount, what, 0, 100)


def share(amount: Amount, what: str) -> Fraction:
    """``amount`` as a fraction of 0 to 1. Raises ValueError outside."""
    return within(amount, what, 0, 1)
