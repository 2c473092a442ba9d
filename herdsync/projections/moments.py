"""Times as the farm's clock on the wall shows them; spans of what keepers wrote, kept at hand.

Must not know any record. Pure: the same text in the same zone is always the same span.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from herdsync.kinds import on
from herdsync.trade.dates import day_begins as _day_begins

_KEPT = 65_536


@lru_cache(maxsize=_KEPT)
def span(told: str, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The earliest and the latest instant (UTC) a stored time allows."""
    return on.span(told, zone)


@lru_cache(maxsize=_KEPT)
def first_day(told: str, zone: ZoneInfo) -> date:
    """The local day of the earliest instant a stored time allows: what care counts from."""
    return on.day(told, zone)


@lru_cache(maxsize=_KEPT)
def last_day(told: str, zone: ZoneInfo) -> date:
    """The local day of the latest instant a stored time allows."""
    return span(told, zone)[1].astimezone(zone).date()


@lru_cache(maxsize=_KEPT)
def day_begins(day: date, zone: ZoneInfo) -> datetime:
    """The first instant of a local day, in UTC."""
    return _day_begins(day, zone)


@lru_cache(maxsize=64)
def day_number(moment: datetime, zone: ZoneInfo) -> int:
    """The local day of an instant, as ``date.toordinal`` counts days."""
    return moment.astimezone(zone).toordinal()


@lru_cache(maxsize=_KEPT)
def day_text(number: int) -> str:
    """A day by its number, as ``date.toordinal`` counts days."""
    return date.fromordinal(number).isoformat()


def exact(told: str) -> bool:
    """Whether a stored time is a moment, not a date or a month."""
    return "T" in told


def text(moment: datetime, zone: ZoneInfo) -> str:
    """A moment as RFC 3339 text with the farm's offset."""
    return on.moment_text(moment, zone)


def words(told: str, zone: ZoneInfo) -> str:
    """A stored time as a keeper reads and types it: by the farm's clock, ``2026-02-22 06:30``.

    A month or date stays as it is; so does a moment that the clock on the wall showed twice, which
    only its offset tells from the other.
    """
    if not exact(told):
        return told
    local = span(told, zone)[0].astimezone(zone)
    if local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset():
        return text(local, zone)
    return local.replace(tzinfo=None).isoformat(" ", "minutes" if not local.second else "seconds")


def said(moment: datetime, zone: ZoneInfo) -> str:
    """A moment for a sentence, by the farm's clock: ``2026-02-22 06:30``."""
    return moment_words(text(moment, zone))


def moment_words(told: str) -> str:
    """A day or moment of an answer as a keeper reads it, to the minute of the farm's clock."""
    return told[:16].replace("T", " ")


def clock_text(clock_ms: int, zone: ZoneInfo) -> str:
    """What a device's clock read (milliseconds since 1970) as the farm writes moments.

    A reading no calendar holds is shown as the number it was: clocks are claims.
    """
    try:
        return text(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=clock_ms), zone)
    except (OverflowError, ValueError):
        return str(clock_ms)


def clock_day(clock_ms: int, zone: ZoneInfo) -> date | None:
    """The local day of a device clock's reading; None where no calendar holds it."""
    try:
        return (
            (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=clock_ms))
            .astimezone(zone)
            .date()
        )
    except (OverflowError, ValueError):
        return None
