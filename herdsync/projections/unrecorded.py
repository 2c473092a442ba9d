"""Work of which nothing is on record: late by the calendar, or only never written down.

A keeper who enters a grown animal has not neglected it for years. Where its first chance lies more
than one interval back, the work is due and never called late; of an animal born here, whose kidding
its sheet names, every chance was this farm's own and lateness stays exact. No clock decides which.
"""

from __future__ import annotations

from datetime import date, timedelta

from herdsync.merge.records import Record
from herdsync.projections import moments
from herdsync.projections.goat import Goat
from herdsync.projections.look import Look

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
    if "known since" not in goat.kept:
        goat.kept["known since"] = _known_since(goat)
    found: date = goat.kept["known since"]
    return found


def _known_since(goat: Goat) -> date:
    arrived = goat.last("arrival")
    if arrived is not None:
        return arrived[0]
    known = begun_on(goat.record, goat.look)
    return known if goat.born is None else max(known, min(goat.born, goat.look.today))


def begun_on(record: Record, look: Look) -> date:
    """The day a sheet was begun by the clock of the device that wrote it, today at the latest."""
    begun = moments.clock_day(record.begun_by.clock, look.zone)
    return look.today if begun is None else min(begun, look.today)
