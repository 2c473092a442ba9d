"""Body condition score on the scale of five, and its change over time.

Knows scores and dates; must not know feed, worms or which animal it is.
Scale and healthy range: Langston University and eXtension, Body Condition Score.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.advice import Advice
from herdsync.trade.bounds import within
from herdsync.trade.dates import add_days
from herdsync.trade.units import Amount, plain

SCORE_LOWEST = 1
SCORE_HIGHEST = 5
SCORE_STEP = Fraction(1, 2)
HEALTHY_HIGHEST = Decimal("4.0")
# At or below this a management or health problem is to be looked for (same source).
THIN_AT_MOST = Decimal("2.0")
# common practice, no published source
DROP_ALERT = Decimal("1.0")
DROP_ALERT_DAYS = 30


class ConditionReading(NamedTuple):
    """One condition score on one day."""

    on: date
    score: Amount


class ConditionAnswer(NamedTuple):
    """The newest score, the most it has lost within the alert period, and what to make of it."""

    score: Fraction
    drop: Fraction
    advice: Advice
    reason: str


def condition_score(score: Amount) -> Fraction:
    """A score checked to be 1.0 to 5.0 in half steps; raises ValueError otherwise."""
    value = within(score, "the condition score", SCORE_LOWEST, SCORE_HIGHEST)
    if value % SCORE_STEP:
        raise ValueError(
            f"the condition score goes in half steps, {plain(value)} is none; feel again"
        )
    return value


def condition_change(readings: Sequence[ConditionReading]) -> ConditionAnswer:
    """Judge the newest of some scores, and the drop from the best of the 30 days before it.

    Readings may come in any order. ``stop`` is never answered: a score is a reason to look, not
    a diagnosis. Raises ValueError without a reading or with two different ones on one day.
    """
    if not readings:
        raise ValueError("no condition score is recorded; feel the loin and write one down")
    by_day: dict[date, Fraction] = {}
    for reading in readings:
        score = condition_score(reading.score)
        if by_day.setdefault(reading.on, score) != score:
            raise ValueError(f"two different condition scores stand on {reading.on}; mend one")
    newest = max(by_day)
    now = by_day[newest]
    since = add_days(newest, -DROP_ALERT_DAYS)
    drop = max(score for on, score in by_day.items() if on >= since) - now
    return ConditionAnswer(now, drop, *_judged(now, drop))


def _judged(now: Fraction, drop: Fraction) -> tuple[Advice, str]:
    text = plain(now)
    if drop >= DROP_ALERT:
        return Advice.LOOK, (
            f"condition fell by {plain(drop)} to {text} within {DROP_ALERT_DAYS} days: "
            "look for teeth, worms, feed or illness"
        )
    if now <= THIN_AT_MOST:
        return Advice.LOOK, f"condition {text} is thin: look for a management or health problem"
    if now > HEALTHY_HIGHEST:
        return Advice.LOOK, f"condition {text} is over the healthy range of 2.5 to 4.0"
    return Advice.OK, f"condition {text} lies in the healthy range of 2.5 to 4.0"
