"""Temperature, pulse, breathing and rumen of a grown goat: what is outside the usual.

A flag is a reason to look and to call the veterinarian, never a diagnosis. Kids run higher.
"""

from __future__ import annotations

from fractions import Fraction

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.units import Amount, exact, plain, whole

# Langston University, Common Herd Health Procedures: 103-104 F (39-40 C), pulse 70-90, breathing
# 12-20; other texts 38.6-39.7 C and 15-30 breaths, rumen 1-2 a minute (from memory). The flags are
# common practice, no published source; 40.0 itself is within the first text, so no alarm at it.
TEMP_LOW_C = Fraction(38)
TEMP_HIGH_C = Fraction(40)
PULSE_PER_MIN = (70, 90)
BREATHS_PER_MIN = (12, 30)
RUMEN_PER_MIN = (1, 2)
# No living goat reads outside these; ours, so that a slip of unit or keys is refused.
TEMP_LEAST_C = 30
TEMP_MOST_C = 45
RATE_MOST_PER_MIN = 400


def temperature(temp_c: Amount) -> Finding:
    """What a thermometer reading in C says. Raises ValueError outside 30 to 45 C."""
    value = exact(temp_c, "the temperature in C")
    if not TEMP_LEAST_C <= value <= TEMP_MOST_C:
        raise ValueError(
            f"{plain(value)} C is outside {TEMP_LEAST_C} to {TEMP_MOST_C}; take it again, or "
            "name the unit if it is F"
        )
    if value > TEMP_HIGH_C:
        return Finding(
            Advice.LOOK,
            f"{plain(value)} C is a fever (over {TEMP_HIGH_C}): take it again, call the vet",
        )
    if value < TEMP_LOW_C:
        return Finding(
            Advice.LOOK,
            f"{plain(value)} C is low (under {TEMP_LOW_C}): warm the animal, call the vet",
        )
    return Finding(Advice.OK, f"{plain(value)} C lies within {TEMP_LOW_C} to {TEMP_HIGH_C}")


def pulse(per_min: int) -> Finding:
    """What a pulse per minute says."""
    return _rate("pulse", per_min, PULSE_PER_MIN)


def breathing(per_min: int) -> Finding:
    """What breaths per minute say."""
    return _rate("breathing", per_min, BREATHS_PER_MIN)


def rumen(per_min: int) -> Finding:
    """What rumen turns per minute say."""
    return _rate("rumen", per_min, RUMEN_PER_MIN)


def _rate(what: str, per_min: int, usual: tuple[int, int]) -> Finding:
    whole(per_min, f"the {what} per minute", 0, RATE_MOST_PER_MIN)
    words = f"{what} {per_min} a minute, usual is {usual[0]} to {usual[1]} in a grown goat at rest"
    return Finding(Advice.OK if usual[0] <= per_min <= usual[1] else Advice.LOOK, words)
