"""Due work, windows and timers as a calendar (RFC 5545, IETF 2009), through the library icalendar.

Each event has one identity that stays the same on every laptop and at every export, and a number that
only grows as the farm's log does: taken in again, it replaces what it was. Work falls on a whole day, a
clock on its moment; both ring. Must not know disk or farm.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from herdsync.answers import DueLine, Timer
from herdsync.faults import Refused
from herdsync.reports import KiddingLine
from herdsync.safe_text import safe_text

if TYPE_CHECKING:
    from icalendar import Calendar, Event

MADE_BY = "-//herdsync//calendar 1//EN"
DOMAIN = "herdsync"
# Whole days ring at seven in the morning of the day: common practice, no published source.
RING_AT_HOUR = 7
PRESSING = frozenset({"late", "closing", "due"})


@dataclass(frozen=True, slots=True)
class Issue:
    """Of which farm, at what moment, and how far its log had grown."""

    farm: str
    moment: datetime
    height: int


def calendar_of(
    issue: Issue, due: Iterable[DueLine], timers: Iterable[Timer], kiddings: Iterable[KiddingLine]
) -> tuple[bytes, int]:
    """The calendar's bytes and how many events it holds. Raises Refused without the library."""
    try:
        from icalendar import Calendar
    except ImportError as fault:
        raise Refused(
            "A calendar needs the library icalendar.",
            "Install it: pip install 'herdsync[calendar]'.",
        ) from fault
    calendar: Calendar = Calendar()
    calendar.add("prodid", MADE_BY)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", safe_text(issue.farm))
    events = [*_works(issue, due), *_clocks(issue, timers), *_windows(issue, kiddings)]
    for event in events:
        calendar.add_component(event)
    return calendar.to_ical(), len(events)


def _works(issue: Issue, lines: Iterable[DueLine]) -> Iterator[Event]:
    """Due work on the day it falls to; what is overdue stands on the day of the export."""
    today = issue.moment.date()
    for line in lines:
        told = line.due or line.best
        day = date.fromisoformat(told[:10]) if told else today
        if line.state in PRESSING:
            day = max(day, today)
        until = f"window {line.opens} to {line.closes}. " if line.opens or line.closes else ""
        blocks = f" {'. '.join(line.blocks)}." if line.blocks else ""
        caution = f" Caution: {line.caution}" if line.caution else ""
        says = f"{line.state}: {until}{line.reason}.{blocks}{caution}"
        event = _event(issue, line.id, f"{line.name}: {line.work}", says)
        _whole_day(event, day, day)
        if line.pen:
            event.add("location", safe_text(line.pen))
        yield event


def _clocks(issue: Issue, timers: Iterable[Timer]) -> Iterator[Event]:
    """Running clocks at the moment they end."""
    for timer in timers:
        ends = datetime.fromisoformat(timer.ends)
        doubt = " Check the date: it rests on a doubtful clock." if timer.doubtful else ""
        name = _name_of("clock", timer.animal, timer.what, *timer.records)
        event = _event(issue, name, f"{timer.name}: {timer.what}", f"since {timer.since}.{doubt}")
        event.add("dtstart", ends.astimezone(UTC))
        event.add("duration", timedelta(minutes=15))
        _ring(event, timer.what, timedelta(0))
        yield event


def _windows(issue: Issue, lines: Iterable[KiddingLine]) -> Iterator[Event]:
    """The days a doe may kid on."""
    for line in lines:
        if len(line.window) != 2:
            continue
        name = _name_of("kidding", line.doe, *line.records)
        says = f"due {line.due or 'unknown'}, an estimate: {line.says}."
        event = _event(issue, name, f"{line.name}: may kid", says)
        _whole_day(event, date.fromisoformat(line.window[0]), date.fromisoformat(line.window[1]))
        yield event


def _event(issue: Issue, name: str, summary: str, says: str) -> Event:
    from icalendar import Event

    event: Event = Event()
    event.add("uid", f"{name}@{DOMAIN}")
    event.add("dtstamp", issue.moment.astimezone(UTC).replace(microsecond=0))
    event.add("sequence", issue.height)
    event.add("summary", safe_text(summary))
    event.add("description", safe_text(says))
    event.add("transp", "TRANSPARENT")
    return event


def _whole_day(event: Event, first: date, last: date) -> None:
    """Whole days; the end is the day after the last (RFC 5545, 3.6.1)."""
    event.add("dtstart", first)
    event.add("dtend", last + timedelta(days=1))
    _ring(event, str(event["summary"]), timedelta(hours=RING_AT_HOUR))


def _ring(event: Event, says: str, after: timedelta) -> None:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", safe_text(says))
    alarm.add("trigger", after)
    event.add_component(alarm)


def _name_of(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]
