"""From when to when a piece of work may be done, and the state that makes it at a moment.

Days include both ends in the farm's zone. Must not know whose work it is.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from msgspec import Struct

from herdsync.projections import moments

AHEAD = "ahead"
OPEN = "open"
DUE = "due"
CLOSING = "closing"
LATE = "late"
MISSED = "missed"
PUT_OFF = "put-off"
BARRED = "barred"
UNKNOWN = "unknown"
STATES = (AHEAD, OPEN, DUE, CLOSING, LATE, MISSED, PUT_OFF, BARRED, UNKNOWN)

CLOSING_DAYS = 3
CLOSING_SHARE = 5
_NEVER = date.max.toordinal()


class Days(Struct, frozen=True, gc=False):
    """A span of whole days in a zone, as day numbers (``date.toordinal``); ``last`` is its last day.

    ``closing`` and ``gone`` (the first day after the last chance) may be None. A span without a
    ``last`` day never closes.
    """

    zone: ZoneInfo
    first: int
    aim: int
    closing: int | None
    last: int | None
    gone: int | None

    def state(self, moment: datetime) -> str:
        """The state at an instant, nothing else considered."""
        today = moments.day_number(moment, self.zone)
        if today < self.first:
            return AHEAD
        if self.gone is not None and today >= self.gone:
            return MISSED
        if self.last is not None and today > self.last:
            return LATE
        if self.closing is not None and today >= self.closing:
            return CLOSING
        return DUE if today >= self.aim else OPEN

    def turns_after(self, moment: datetime) -> datetime | None:
        """None: nothing changes within a day."""
        del moment
        return None

    def over_for(self, moment: datetime) -> int:
        """How many whole days its last chance lies back; negative while there is one."""
        return moments.day_number(moment, self.zone) - (_NEVER if self.gone is None else self.gone)

    @property
    def opens(self) -> datetime:
        """The instant it opens."""
        return moments.day_begins(date.fromordinal(self.first), self.zone)

    @property
    def opens_text(self) -> str:
        """The day it opens."""
        return moments.day_text(self.first)

    @property
    def best_text(self) -> str:
        """The day it is best done."""
        return moments.day_text(self.aim)

    @property
    def closes_text(self) -> str:
        """The last day of it; empty where it never closes."""
        return "" if self.last is None else moments.day_text(self.last)


# In UTC equal moments are one; elsewhere an hour that comes twice makes two of them look alike.
@lru_cache(maxsize=4_096)
def _text(moment: datetime, zone: ZoneInfo) -> str:
    return moments.text(moment, zone)


class Instants(Struct, frozen=True, gc=False):
    """A span between instants (UTC); ``ends`` and ``gone`` are the first after it and after the last
    chance. ``closing`` and ``gone`` may be None.
    """

    zone: ZoneInfo
    opens: datetime
    best: datetime
    closing: datetime | None
    ends: datetime
    closes: datetime
    gone: datetime | None

    def state(self, moment: datetime) -> str:
        """The state at an instant, nothing else considered."""
        if moment < self.opens:
            return AHEAD
        if self.gone is not None and moment >= self.gone:
            return MISSED
        if moment >= self.ends:
            return LATE
        if self.closing is not None and moment >= self.closing:
            return CLOSING
        return DUE if moment >= self.best else OPEN

    def turns_after(self, moment: datetime) -> datetime | None:
        """The next instant at which the state, or for how long it is over, may change."""
        turns = [self.opens, self.best, self.closing, self.ends, self.gone]
        if self.gone is not None and moment >= self.gone:
            turns.append(self.gone + timedelta(days=self.over_for(moment) + 1))
        return min((turn for turn in turns if turn is not None and turn > moment), default=None)

    def over_for(self, moment: datetime) -> int:
        """How many whole days its last chance lies back; negative while there is one."""
        return -1 if self.gone is None else (moment - self.gone).days

    @property
    def opens_text(self) -> str:
        """The moment it opens."""
        return _text(self.opens, self.zone)

    @property
    def best_text(self) -> str:
        """The moment it is best done."""
        return _text(self.best, self.zone)

    @property
    def closes_text(self) -> str:
        """The moment it closes."""
        return _text(self.closes, self.zone)


Span = Days | Instants


def of_days(
    anchor: date,
    opens: int,
    best: int,
    closes: int,
    lost: int | None,
    zone: ZoneInfo,
    window: bool = True,
) -> Days:
    """The span of days counted from an anchor day, both ends included.

    ``lost``: the last day it can still be done late; None keeps it late. A ``window`` closes with
    a warning: in its last 3 days or its last fifth, whichever is longer.
    """
    day = anchor.toordinal()
    first, last = day + opens, day + closes
    closing = None
    if window:
        length = closes - opens + 1
        closing = max(first, last + 1 - max(CLOSING_DAYS, length // CLOSING_SHARE))
        if closing == first and length > 1:
            closing = first + 1
    return Days(zone, first, day + best, closing, last, None if lost is None else day + lost + 1)


def since(day: date, zone: ZoneInfo) -> Days:
    """The span of work that is due from a day on and never called late."""
    number = day.toordinal()
    return Days(zone, number, number, None, None, None)


def of_instants(
    opens: datetime, best: datetime, closes: datetime, gone: datetime | None, zone: ZoneInfo
) -> Instants:
    """The span between instants; it closes with a warning in its last fifth."""
    closing = closes - (closes - opens) / CLOSING_SHARE
    return Instants(zone, opens, best, max(best, closing), closes, closes, gone)


def of_chore(
    opens: datetime, at: datetime, late: timedelta, ends: datetime, zone: ZoneInfo
) -> Span:
    """The span of a chore: due at its time, late so long after it, gone when the next one opens."""
    return Instants(zone, opens, at, None, min(at + late, ends), ends, ends)
