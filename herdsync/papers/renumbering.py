"""How an event of a calendar follows the one it was before: its number grows, or it is cancelled.

RFC 5546 (IETF 2009), sections 2.1.4 and 2.1.5: of two tellings of one event the higher SEQUENCE counts,
and of two with the same number the later DTSTAMP. Must not know what an event is about.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from icalendar import Event

# So long is an event told as cancelled, for whoever takes the calendar in seldom; then it is left out.
TELL_DAYS = 60
# What a change of makes it another telling.
_TELLS = ("dtstart", "dtend", "duration", "summary", "description", "location", "status")


def sound(event: Event) -> bool:
    """Whether an event of an earlier calendar is one this program could have made."""
    return "uid" in event and "dtstart" in event and _number(event) is not None


def number(event: Event, before: Event | None) -> None:
    """Give an event the number it had where nothing changed, else a higher one."""
    if before is None:
        return
    earlier = _number(before) or 0
    if _told(event) == _told(before):
        event["sequence"] = earlier
        return
    event["sequence"] = max(_number(event) or 0, earlier + 1)


def cancelled(before: Event, moment: datetime) -> Event | None:
    """How an event that is no more is told; None where nobody needs to hear of it any longer."""
    if str(before.get("status")) == "CANCELLED":
        since = _moment(_time(before, "dtstamp")) if "dtstamp" in before else moment
        return before if moment - since < timedelta(days=TELL_DAYS) else None
    if _over(before, moment):
        return None
    event = before.copy(recursive=True)
    # A cancelled event rings no more.
    event.subcomponents = [one for one in event.subcomponents if one.name != "VALARM"]
    for name, value in (
        ("status", "CANCELLED"),
        ("sequence", (_number(before) or 0) + 1),
        ("dtstamp", moment.astimezone(UTC).replace(microsecond=0)),
    ):
        event.pop(name, None)
        event.add(name, value)
    return event


def _over(event: Event, moment: datetime) -> bool:
    """Whether an event has passed by itself: a clock that ran out, a day long gone by."""
    begins = _time(event, "dtstart")
    if isinstance(begins, datetime):
        return _moment(begins) <= moment
    ends = _time(event, "dtend") if "dtend" in event else begins
    return moment - _moment(ends) > timedelta(days=TELL_DAYS)


def _told(event: Event) -> list[Any]:
    found = []
    for name in _TELLS:
        value: Any = event.get(name)
        found.append(None if value is None else value.to_ical())
    return found


def _number(event: Event) -> int | None:
    told: Any = event.get("sequence")
    return int(told) if isinstance(told, int) else None


def _time(event: Event, name: str) -> date | datetime:
    told: Any = event[name]
    found: date | datetime = told.dt
    return found


def _moment(told: date | datetime) -> datetime:
    if not isinstance(told, datetime):
        return datetime(told.year, told.month, told.day, tzinfo=UTC)
    return told if told.tzinfo is not None else told.replace(tzinfo=UTC)
