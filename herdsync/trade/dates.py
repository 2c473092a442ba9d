"""Days of the farm: calendar arithmetic on dates, elapsed time on instants.

Day 0 is the day of the event; windows include both ends. Days are added to dates and hours to
instants, never one through the other, so that daylight saving cannot shift a day. Knows no clock
(the day is always given) and no rule of the trade.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.units import Amount, exact

_MICROSECONDS_PER_HOUR = 3_600_000_000


@dataclass(frozen=True, slots=True)
class Window:
    """The days on which something may be done: ``opens`` to ``closes``, both included.

    ``best`` is the day aimed at, or None where no single day is known.
    """

    opens: date
    best: date | None
    closes: date
    reason: str

    def __post_init__(self) -> None:
        if self.closes < self.opens:
            raise ValueError(f"a window cannot close on {self.closes}, before {self.opens}")
        if self.best is not None and not self.opens <= self.best <= self.closes:
            raise ValueError(f"{self.best} lies outside the window {self.opens} to {self.closes}")

    def __contains__(self, day: date) -> bool:
        return self.opens <= day <= self.closes


class Due(NamedTuple):
    """One day on which something falls, and why."""

    on: date
    reason: str


def add_days(day: date, days: int) -> date:
    """The date ``days`` after ``day`` (before it, where negative).

    Raises ``ValueError`` where the calendar does not reach that far.
    """
    try:
        return day + timedelta(days=days)
    except OverflowError:
        raise ValueError(f"{days} days from {day} is off the calendar; check the date") from None


def add_months(day: date, months: int) -> date:
    """The same day of the month ``months`` later; where that month lacks it, the first after.

    Rolling forward means a waiting time is never cut short. Raises ``ValueError`` off the calendar.
    """
    years, month0 = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month0 + 1
    if not 1 <= year < date.max.year:
        raise ValueError(f"{months} months from {day} is off the calendar; check the date")
    last = calendar.monthrange(year, month)[1]
    if day.day > last:
        return date(year, month, last) + timedelta(days=1)
    return date(year, month, day.day)


def add_years(day: date, years: int) -> date:
    """The same day ``years`` later; 29 February rolls to 1 March where there is none."""
    return add_months(day, 12 * years)


def days_since(earlier: date, later: date, what: str) -> int:
    """Whole days from ``what`` on one day to another; refused where they stand the wrong way."""
    if later < earlier:
        raise ValueError(f"{later} lies before {what} on {earlier}; correct one of the two dates")
    return (later - earlier).days


def age_days(born: date, on: date) -> int:
    """Whole days of age on a day; the birth day is 0. Raises ``ValueError`` before birth."""
    return days_since(born, on, "the birth")


def window(anchor: date, first: int, best: int | None, last: int, reason: str) -> Window:
    """The window from ``first`` to ``last`` days after ``anchor``, aimed at day ``best``."""
    best_day = None if best is None else add_days(anchor, best)
    return Window(add_days(anchor, first), best_day, add_days(anchor, last), reason)


def in_utc(moment: datetime) -> datetime:
    """The instant in UTC. Raises ``ValueError`` where the offset is missing."""
    if moment.utcoffset() is None:
        raise ValueError(f"{_said(moment)} has no offset; give the farm's zone with the time")
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise ValueError(f"{_said(moment)} is off the calendar; check the date") from None


def local_day(moment: datetime, zone: tzinfo) -> date:
    """The farm's calendar day at an instant."""
    return in_utc(moment).astimezone(zone).date()


def add_hours(moment: datetime, hours: Amount) -> datetime:
    """The instant ``hours`` of elapsed time later, in UTC; a part of a microsecond counts whole."""
    microseconds = -(-exact(hours, "the number of hours") * _MICROSECONDS_PER_HOUR // 1)
    try:
        return in_utc(moment) + timedelta(microseconds=int(microseconds))
    except OverflowError:
        raise ValueError(
            f"{hours} hours from {_said(moment)} is off the calendar; check it"
        ) from None


def hours_between(earlier: datetime, later: datetime) -> Fraction:
    """Elapsed hours between two instants, exactly; negative where they stand the other way."""
    microseconds = (in_utc(later) - in_utc(earlier)) // timedelta(microseconds=1)
    return Fraction(microseconds, _MICROSECONDS_PER_HOUR)


def day_begins(day: date, zone: tzinfo) -> datetime:
    """The first instant of a local day, in UTC."""
    return in_utc(datetime.combine(day, time(0), zone))


def day_ends(day: date, zone: tzinfo) -> datetime:
    """The instant at which a local day is surely over, in UTC.

    Where the clock repeats midnight the later one is meant: a hold must not end early.
    """
    midnight = datetime.combine(add_days(day, 1), time(0), zone)
    return max(in_utc(midnight), in_utc(midnight.replace(fold=1)))


def _said(moment: datetime) -> str:
    return moment.isoformat(" ", "minutes")[:16]
