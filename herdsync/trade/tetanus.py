"""Whether a kid is covered against tetanus on the day of a wound such as a ring.

A warning, never a refusal. Knows days of doses only; which product was given is the keeper's
record, and what is given next is the veterinarian's word.
"""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import age_days

# Common practice, no published source: cover comes from antitoxin on the day, from a full series,
# or from a dam boosted 2 to 6 weeks before kidding while the kid is 6 weeks old at most.
DAM_BOOSTED_DAYS = (14, 42)
DAM_COVER_DAYS = 42
# Goat Vaccination Program, NC State-origin extension text: the second dose at least 21 d after
# the first. At least 14 d before the wound: from memory.
SERIES_APART_DAYS = 21
SERIES_BEFORE_DAYS = 14


class TetanusHistory(NamedTuple):
    """What is recorded: antitoxin and toxoid days of the kid, booster days of the dam."""

    antitoxin: tuple[date, ...] = ()
    toxoid: tuple[date, ...] = ()
    dam_boosted: tuple[date, ...] = ()


def tetanus_cover(born: date, on: date, history: TetanusHistory) -> Finding:
    """Whether and by what a kid is covered on a day. Raises ValueError before its birth."""
    age = age_days(born, on)
    if on in history.antitoxin:
        return Finding(Advice.OK, f"antitoxin is recorded on {on}")
    if _series_complete(on, history.toxoid):
        return Finding(Advice.OK, "a full toxoid series is recorded, two weeks old or more")
    least, most = DAM_BOOSTED_DAYS
    boosted = [day for day in history.dam_boosted if least <= (born - day).days <= most]
    if boosted and age <= DAM_COVER_DAYS:
        return Finding(Advice.OK, f"the dam was boosted {max(boosted)}, the kid is {age} days old")
    return Finding(
        Advice.STOP,
        f"no tetanus cover is recorded for {on}: neither antitoxin that day, nor a full series, "
        "nor a dam boosted 2 to 6 weeks before kidding; ask the veterinarian first",
    )


def _series_complete(on: date, toxoid: tuple[date, ...]) -> bool:
    old_enough = [day for day in toxoid if (on - day).days >= SERIES_BEFORE_DAYS]
    if not old_enough:
        return False
    return (max(old_enough) - min(old_enough)).days >= SERIES_APART_DAYS
