"""Work of which nothing is on record: late by the calendar, or only never written down.

A keeper who enters a grown animal has not neglected it for years. Where its first chance lies more
than one interval back, the work is due and never called late; of an animal born here, whose kidding
its sheet names, every chance was this farm's own and lateness stays exact. No clock decides which.
"""

from __future__ import annotations

from datetime import date, timedelta

from herdsync.projections import moments
from herdsync.projections.goat import Goat

UNRECORDED = "nothing of it is on record"


def long_ago(goat: Goat, chance: date, interval: int) -> bool:
    """Whether a first chance lies more than an interval of days back, before anybody here wrote."""
    return not born_here(goat) and chance + timedelta(days=interval) < goat.look.today


def born_here(goat: Goat) -> bool:
    """Whether its sheet names the kidding on this farm that bore it."""
    return goat.told("kidding") is not None


def known_since(goat: Goat) -> date:
    """The day the farm has known an animal from: its arrival, else the day its sheet was begun.

    That day is shown beside the work; the writing device's clock is held within birth and today.
    """
    today, zone = goat.look.today, goat.look.zone
    arrived = goat.last("arrival")
    if arrived is not None:
        return arrived[0]
    begun = moments.clock_day(goat.record.first.author.clock, zone)
    known = today if begun is None else min(begun, today)
    return known if goat.born is None else max(known, min(goat.born, today))
