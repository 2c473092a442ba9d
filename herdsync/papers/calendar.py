"""Due work, windows and timers as a calendar (RFC 5545, IETF 2009), through the library icalendar.

Each event has one identity that stays the same on every laptop and at every export, and a number that
only grows: taken in again, it replaces what it was. What an earlier calendar held and is done or gone
since is told as cancelled. The whole is a posting as RFC 5546 (IETF 2009, section 3.2.1) has it: method
PUBLISH, an organizer, nobody invited. Work falls on its moment where it has one that is to come, else
on a whole day; a clock on its moment; all ring. Must not know disk or farm.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, cast

from herdsync.answers import DueLine, Timer
from herdsync.faults import Refused
from herdsync.papers.renumbering import cancelled, number, sound
from herdsync.projections.moments import moment_words
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
    farm_id: str
    moment: datetime
    height: int


@dataclass(frozen=True, slots=True)
class Written:
    """A calendar: its bytes, how many events stand in it, and how many it tells as cancelled."""

    content: bytes
    events: int
    cancelled: int


def calendar_of(
    issue: Issue, due: Iterable[DueLine], timers: Iterable[Timer], kiddings: Iterable[KiddingLine],
    earlier: Mapping[str, Event] | None = None,
) -> Written:  # fmt: skip
    """The calendar; ``earlier``: the events of the one before it, by identity, see `events_in`.

    Raises Refused without the library, or where there is nothing to tell.
    """
    calendar = _library()()
    calendar.add("prodid", MADE_BY)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", safe_text(issue.farm))
    before = dict(earlier or {})
    events = [*_works(issue, due), *_clocks(issue, timers), *_windows(issue, kiddings)]
    for event in events:
        number(event, before.pop(str(event["uid"]), None))
        calendar.add_component(event)
    gone = [one for event in before.values() if (one := cancelled(event, issue.moment)) is not None]
    for event in gone:
        calendar.add_component(event)
    if not events and not gone:
        # A calendar holds at least one event (RFC 5545, 3.6).
        raise Refused("Nothing is due in these days; no calendar was written.", "Ask more --days.")
    return Written(calendar.to_ical(), len(events), len(gone))


def work_of(uid: str) -> str:
    """The id of the piece of work an identity belongs to, if it is one of work."""
    return uid.removesuffix(f"@{DOMAIN}")


def events_in(raw: bytes) -> dict[str, Event]:
    """The events of a calendar this program made, by identity. Raises Refused."""
    library = _library()
    try:
        calendar = library.from_ical(raw)
        events = cast("list[Event]", calendar.walk("VEVENT"))
        return {str(one["uid"]): one for one in events if not one.errors and sound(one)}
    except (ValueError, KeyError, AttributeError, TypeError) as fault:
        raise Refused(
            "The earlier calendar cannot be read.", "Choose another name for the new one."
        ) from fault


def _library() -> type[Calendar]:
    try:
        from icalendar import Calendar
    except ImportError as fault:
        raise Refused(
            "A calendar needs the library icalendar.",
            "Install it: pip install 'herdsync[calendar]'.",
        ) from fault
    return Calendar


def _works(issue: Issue, lines: Iterable[DueLine]) -> Iterator[Event]:
    """Due work on the day it falls to; what is overdue stands on the day of the export."""
    today = issue.moment.date()
    for line in lines:
        told = line.due or line.best
        day = date.fromisoformat(told[:10]) if told else today
        if line.state in PRESSING:
            day = max(day, today)
        until = _window(line.opens, line.closes)
        blocks = f" {'. '.join(line.blocks)}." if line.blocks else ""
        caution = f" Caution: {line.caution}" if line.caution else ""
        says = f"{_begun(line.state)}: {until}{_begun(line.reason)}.{blocks}{caution}"
        event = _event(issue, line.id, f"{line.name}: {line.work}", says)
        if "T" in told and datetime.fromisoformat(told) > issue.moment:
            _at_moment(event, datetime.fromisoformat(told))
        else:
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
        since = f"Since {moment_words(timer.since)}.{doubt}"
        event = _event(issue, name, f"{timer.name}: {timer.what}", since)
        _at_moment(event, ends)
        yield event


def _windows(issue: Issue, lines: Iterable[KiddingLine]) -> Iterator[Event]:
    """The days a doe may kid on."""
    for line in lines:
        if len(line.window) != 2:
            continue
        name = _name_of("kidding", line.doe, *line.records)
        says = f"Due {line.due or 'unknown'}, an estimate: {line.says}."
        event = _event(issue, name, f"{line.name}: may kid", says)
        _whole_day(event, date.fromisoformat(line.window[0]), date.fromisoformat(line.window[1]))
        yield event


def _event(issue: Issue, name: str, summary: str, says: str) -> Event:
    from icalendar import Event, vCalAddress

    event: Event = Event()
    organizer = vCalAddress(_urn(issue.farm_id))
    organizer.params["CN"] = safe_text(issue.farm)
    event.add("organizer", organizer)
    event.add("status", "CONFIRMED")
    event.add("uid", f"{name}@{DOMAIN}")
    event.add("dtstamp", issue.moment.astimezone(UTC).replace(microsecond=0))
    event.add("sequence", issue.height)
    event.add("summary", safe_text(summary))
    event.add("description", safe_text(says))
    event.add("transp", "TRANSPARENT")
    return event


def _begun(sentence: str) -> str:
    return f"{sentence[:1].upper()}{sentence[1:]}"


def _window(opens: str, closes: str) -> str:
    """The days or moments between which work is done, as far as they are known."""
    begins = f"from {moment_words(opens)} " if opens else ""
    ends = f"until {moment_words(closes)}" if closes else ""
    told = f"{begins}{ends}".strip()
    return f"to be done {told}. " if told else ""


def _at_moment(event: Event, moment: datetime) -> None:
    event.add("dtstart", moment.astimezone(UTC))
    event.add("duration", timedelta(minutes=15))
    _ring(event, str(event["summary"]), timedelta(0))


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


def _urn(farm_id: str) -> str:
    """A farm's address, as an address must be a URI: a UUID of its id (RFC 9562, version 8)."""
    raw = bytearray(hashlib.sha256(farm_id.encode()).digest()[:16])
    raw[6] = 0x80 | raw[6] & 0x0F
    raw[8] = 0x80 | raw[8] & 0x3F
    told = raw.hex()
    parts = (told[:8], told[8:12], told[12:16], told[16:20], told[20:])
    return f"urn:uuid:{'-'.join(parts)}"


def _name_of(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]
