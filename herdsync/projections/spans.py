"""From when to when a piece of work may be done, and the state that makes it at a moment.

Days include both ends in the farm's zone. Must not know whose work it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from herdsync.projections import moments
from herdsync.trade.dates import add_days

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


@dataclass(frozen=True, slots=True)
class Span:
    """When a piece of work opens, is best and closes. Instants are UTC; ``ends`` and ``gone`` are
    the first instants after the window and after the last chance; ``closing`` may be None.
    """

    opens: datetime
    best: datetime
    closing: datetime | None
    ends: datetime
    gone: datetime | None
    opens_text: str
    best_text: str
    closes_text: str

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


@lru_cache(maxsize=65_536)
def of_days(
    anchor: date,
    opens: int,
    best: int,
    closes: int,
    lost: int | None,
    zone: ZoneInfo,
    window: bool = True,
) -> Span:
    """The span of days counted from an anchor day, both ends included.

    ``lost``: the last day it can still be done late; None keeps it late. A ``window`` closes with
    a warning: in its last 3 days or its last fifth, whichever is longer.
    """
    first, aim, last = (add_days(anchor, days) for days in (opens, best, closes))
    length = closes - opens + 1
    warned = max(CLOSING_DAYS, length // CLOSING_SHARE)
    closing = max(first, last - timedelta(days=warned - 1)) if window else None
    if closing == first and length > 1:
        closing = first + timedelta(days=1)
    return Span(
        moments.day_begins(first, zone),
        moments.day_begins(aim, zone),
        None if closing is None else moments.day_begins(closing, zone),
        moments.day_begins(add_days(last, 1), zone),
        None if lost is None else moments.day_begins(add_days(anchor, lost + 1), zone),
        first.isoformat(),
        aim.isoformat(),
        last.isoformat(),
    )


def of_instants(
    opens: datetime, best: datetime, closes: datetime, gone: datetime | None, zone: ZoneInfo
) -> Span:
    """The span between instants; it closes with a warning in its last fifth."""
    closing = closes - (closes - opens) / CLOSING_SHARE
    return Span(
        opens,
        best,
        max(best, closing),
        closes,
        gone,
        moments.text(opens, zone),
        moments.text(best, zone),
        moments.text(closes, zone),
    )
