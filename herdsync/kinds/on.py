"""The time of an act: a month, a date, or a moment with an offset; its form is its precision.

Knows the calendar and a zone; must not know the clock (the moment is an argument) or any kind.
Moments follow RFC 3339 (IETF, 2002) section 5.6; leap seconds and hour 24 are not taken.
"""

from __future__ import annotations

import functools
import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from herdsync.faults import Refused

FIRST_YEAR = 1970
LAST_YEAR = 2200

_DAY = r"(\d{4})-(\d{2})-(\d{2})"
_CLOCK = r"(?:[01]\d|2[0-3]):[0-5]\d(?::[0-5]\d)?"
_MONTH_FORM = re.compile(r"(\d{4})-(\d{2})", re.ASCII)
_DATE_FORM = re.compile(_DAY, re.ASCII)
_MOMENT_FORM = re.compile(
    _DAY + r"T(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d(?:\.\d{1,3})?(?:Z|[+-](?:[01]\d|2[0-3]):[0-5]\d)",
    re.ASCII,
)
_CLOCK_FORM = re.compile(_CLOCK, re.ASCII)
_LOCAL_FORM = re.compile(rf"({_DAY})[ T]({_CLOCK})", re.ASCII)
_WORDS = {"today": 0, "yesterday": -1, "tomorrow": 1}
_HOW = "Write 2026-02-22, 2026-02, 06:30, 2026-02-22 06:30, today, yesterday or now."


# Many acts are told on few days, each read many times.
@functools.lru_cache(maxsize=8_192)
def check_on(on: str) -> None:
    """Raise ValueError, with the reason as a sentence, unless ``on`` is a month, date or moment."""
    if found := _MONTH_FORM.fullmatch(on):
        _calendar_day(found[1], found[2], "01")
    elif found := _DATE_FORM.fullmatch(on) or _MOMENT_FORM.fullmatch(on):
        _calendar_day(found[1], found[2], found[3])
    else:
        raise ValueError("It is no month, date or moment with an offset.")


def check_date(text: str) -> None:
    """Raise ValueError, with the reason as a sentence, unless ``text`` is ``YYYY-MM-DD``."""
    found = _DATE_FORM.fullmatch(text)
    if not found:
        raise ValueError("It is no date such as 2026-02-22.")
    _calendar_day(found[1], found[2], found[3])


@functools.lru_cache(maxsize=8_192)
def span(on: str, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The earliest and the latest instant (UTC) that ``on`` allows.

    A month or date runs to one millisecond before the next begins in ``zone``; a moment is itself.
    Raises ValueError for anything else.
    """
    check_on(on)
    if _MOMENT_FORM.fullmatch(on):
        instant = datetime.fromisoformat(on).astimezone(UTC)
        return instant, instant
    if _DATE_FORM.fullmatch(on):
        first = date.fromisoformat(on)
        after = first + timedelta(days=1)
    else:
        first = date.fromisoformat(f"{on}-01")
        after = (first + timedelta(days=31)).replace(day=1)
    earliest = _midnight(first, zone)
    # A zone that moved across the date line skipped a whole day; that date still spans forwards.
    return earliest, max(earliest, _midnight(after, zone) - timedelta(milliseconds=1))


def day(on: str, zone: ZoneInfo) -> date:
    """The local date of the earliest instant ``on`` allows. Raises ValueError."""
    check_on(on)
    if _MOMENT_FORM.fullmatch(on):
        return datetime.fromisoformat(on).astimezone(zone).date()
    return date.fromisoformat(on if _DATE_FORM.fullmatch(on) else f"{on}-01")


def moment_text(moment: datetime, zone: ZoneInfo) -> str:
    """A moment as it is written down: the farm's offset, whole seconds."""
    return moment.astimezone(zone).replace(microsecond=0).isoformat()


def parse_on(text: str, now: datetime, zone: ZoneInfo) -> str:
    """What the keeper typed for the time of an act, as it is written down.

    Takes months, dates, moments, ``now``, ``today``, ``yesterday``, ``tomorrow``, a clock time
    (of today) and a date with a clock time; the last two are read in ``zone``. Raises Refused.
    """
    typed = text.strip()
    word = typed.lower()
    local_day = now.astimezone(zone).date()
    if word == "now":
        return moment_text(now, zone)
    if word in _WORDS:
        return (local_day + timedelta(days=_WORDS[word])).isoformat()
    if _CLOCK_FORM.fullmatch(typed):
        return _local_moment(local_day, typed, zone)
    try:
        if found := _LOCAL_FORM.fullmatch(typed):
            return _local_moment(_calendar_day(*found.group(2, 3, 4)), found[5], zone)
        written = typed.upper()
        check_on(written)
        if _MOMENT_FORM.fullmatch(written):
            written = moment_text(datetime.fromisoformat(written), zone)
            check_on(written)
    except ValueError as fault:
        raise Refused(f"{_quoted(typed)} cannot be when it happened. {fault}", _HOW) from fault
    return written


def parse_date(text: str, now: datetime, zone: ZoneInfo) -> str:
    """What the keeper typed for a calendar date, as ``YYYY-MM-DD``. Raises Refused."""
    typed = text.strip()
    word = typed.lower()
    if word in _WORDS:
        return (now.astimezone(zone).date() + timedelta(days=_WORDS[word])).isoformat()
    try:
        check_date(typed)
    except ValueError as fault:
        mend = "Write a date as 2026-02-22, or today."
        raise Refused(f"{_quoted(typed)} cannot be a date. {fault}", mend) from fault
    return typed


def _calendar_day(year: str, month: str, day_of_month: str) -> date:
    try:
        found = date(int(year), int(month), int(day_of_month))
    except ValueError as fault:
        raise ValueError("The calendar has no such day.") from fault
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise ValueError(f"The year must be from {FIRST_YEAR} to {LAST_YEAR}.")
    return found


def _midnight(local: date, zone: ZoneInfo) -> datetime:
    return datetime(local.year, local.month, local.day, tzinfo=zone).astimezone(UTC)


def _local_moment(local: date, clock: str, zone: ZoneInfo) -> str:
    """A clock time of a local day, refused where the clocks were changed over it.

    Choosing one of two readings quietly could end a withdrawal an hour early.
    """
    bare = datetime.fromisoformat(f"{local.isoformat()}T{clock}")
    first, second = bare.replace(tzinfo=zone), bare.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return moment_text(first, zone)
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != bare:
        what = f"{clock} on {local.isoformat()} was skipped when the clocks went forward."
        raise Refused(what, "Write a time that was on the clock.")
    raise Refused(
        f"{clock} on {local.isoformat()} came twice, as the clocks went back.",
        f"Write {first.isoformat()} or {second.isoformat()}.",
    )


def _quoted(typed: str) -> str:
    return repr(typed if len(typed) <= 60 else typed[:57] + "...")
