"""The decision about a buckling: law, stones, a place apart, cover, and what each method asks.

There is no default age: the decision opens at day 3 and lays out the law first, then the risk of
stones by what he is kept as, then by when he must be apart. Knows no pens and writes no record.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal, NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import Window, add_days, age_days
from herdsync.trade.law import CastrationLaw, LegalNote, Method, castration_law
from herdsync.trade.maturity import MALE_ABLE_DAYS, separation
from herdsync.trade.tetanus import TetanusHistory, tetanus_cover

KeptAs = Literal["sire", "wether", "meat", "undecided"]

METHODS: tuple[Method, ...] = ("ring", "clamp", "surgical")
# Langston University goat training, Castration: rings from 3 d.
DECISION_OPENS_DAYS = 3
# Usual ages: ring 3 d to 3 weeks, Langston University goat training, Castration; clamp 4 weeks
# to 4 months, from memory. The knife has none.
USUAL_AGE_DAYS: dict[Method, tuple[int, int]] = {"ring": (3, 21), "clamp": (28, 122)}
# Common practice, no published source: a male kept for long is castrated at 8 weeks at the
# earliest, better at 16, so that the urethra grows wide enough to pass stones.
STONES_EARLIEST_DAYS = 56
STONES_BETTER_DAYS = 112

CAUTION = (
    "Pain relief is for the veterinarian to advise: an overdose of local anaesthetic kills kids. "
    "Make sure of tetanus cover, and that both testes are below the ring. Ask what the law of the "
    "place allows."
)


class CastrationDecision(NamedTuple):
    """All that bears on one buckling on one day, in the order in which it is weighed."""

    opens: date
    law: tuple[tuple[Method, LegalNote], ...]
    usual: tuple[tuple[Method, Finding], ...]
    stones: Finding
    apart: Window
    apart_advice: Finding
    tetanus: Finding
    reason: str


def usual_age(method: Method, age: int) -> Finding:
    """Whether a method is usual at an age in days, whatever law and stones say."""
    if method not in USUAL_AGE_DAYS:
        return Finding(Advice.OK, f"{method} at any age, by the veterinarian")
    first, last = USUAL_AGE_DAYS[method]
    if first <= age <= last:
        return Finding(Advice.OK, f"{method} is usual from {first} to {last} days")
    return Finding(Advice.LOOK, f"{method} is usual from {first} to {last} days, not at {age}")


def stone_risk(age: int, kept_as: KeptAs) -> Finding:
    """What castrating at an age in days costs in risk of urinary stones."""
    if kept_as == "sire":
        return Finding(Advice.OK, "kept entire; bucks get stones too, so mind the ration")
    if kept_as == "meat":
        return Finding(Advice.OK, "a short life leaves little time for stones; mind the ration")
    if age < STONES_EARLIEST_DAYS:
        return Finding(
            Advice.STOP,
            f"at {age} days the urethra is narrow: 8 weeks at the earliest, better 16; earlier is "
            "a trade-off forced by having nowhere to keep him apart",
        )
    if age < STONES_BETTER_DAYS:
        return Finding(
            Advice.LOOK, f"at {age} days he is past 8 weeks; 16 weeks is better against stones"
        )
    return Finding(Advice.OK, f"at {age} days he is past 16 weeks")


def decision(
    born: date,
    on: date,
    kept_as: KeptAs,
    country: str,
    places_apart: Sequence[str],
    cover: TetanusHistory,
    own_law: CastrationLaw | None = None,
) -> CastrationDecision:
    """Lay out the decision about a buckling as it stands on a day.

    ``places_apart`` names the pens that hold no females. Raises ValueError before his birth.
    """
    age = age_days(born, on)
    apart = separation(born)
    return CastrationDecision(
        add_days(born, DECISION_OPENS_DAYS),
        tuple((method, castration_law(country, method, born, on, own_law)) for method in METHODS),
        tuple((method, usual_age(method, age)) for method in METHODS),
        stone_risk(age, kept_as),
        apart,
        _apart(age, apart, places_apart),
        tetanus_cover(born, on, cover),
        f"{age} days old, {_kept_words(kept_as)}: the law first, then stones, then where he can be",
    )


def both_testes(below_the_ring: int) -> Finding:
    """Whether a ring may stay on, by the number of testes felt below it.

    Raises ValueError for a count other than 0, 1 or 2.
    """
    if below_the_ring not in (0, 1, 2):
        raise ValueError(f"{below_the_ring} testes below the ring is not 0, 1 or 2; feel again")
    if below_the_ring < 2:
        return Finding(
            Advice.STOP,
            f"{below_the_ring} of 2 testes below the ring: take it off at once, try later or "
            "call the veterinarian; he stays able to sire",
        )
    return Finding(Advice.OK, "both testes are below the ring")


def _apart(age: int, apart: Window, places_apart: Sequence[str]) -> Finding:
    left = MALE_ABLE_DAYS - age
    places = ", ".join(places_apart) or "no pen"
    where = f"{places} {'hold' if len(places_apart) > 1 else 'holds'} no females"
    if not places_apart and left <= 0:
        return Finding(Advice.STOP, f"able to sire since {apart.opens} and nowhere apart: act now")
    if not places_apart:
        return Finding(Advice.LOOK, f"able to sire from {apart.opens}, in {left} days, and {where}")
    if left <= 0:
        return Finding(Advice.LOOK, f"able to sire since {apart.opens}: he must be in {places}")
    return Finding(Advice.OK, f"able to sire from {apart.opens}, in {left} days; {where}")


def _kept_words(kept_as: KeptAs) -> str:
    return "what he is kept as not decided" if kept_as == "undecided" else f"kept as {kept_as}"
