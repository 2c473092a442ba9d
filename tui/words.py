"""The words of the screens: states with their marks, holds, sexes, and how a moment is said.

A state is a word and a mark before it is a colour. Nothing here reads a clock: now is an argument.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from herdsync.answers import DueLine, HerdLine

# Mark and how pressing it is; every mark is one cell wide and differs in shape, not in colour.
STATES: dict[str, tuple[str, int]] = {
    "closing": ("◆", 0),
    "late": ("▲", 1),
    "due": ("●", 2),
    "unknown": ("?", 3),
    "open": ("○", 4),
    "barred": ("▪", 5),
    "put-off": ("~", 6),
    "missed": ("✕", 7),
    "ahead": ("·", 8),
}
PRESSING = ("closing", "late", "due", "unknown")
HOLD_TAGS = {"milk": "■MILK", "meat": "■MEAT", "bred": "■BREED", "leave": "■STAY"}
UNIT_NAMES = {
    "kg": "kg", "ml": "mL", "mm": "mm", "cm": "cm", "g": "g", "c": "°C", "h": "hours", "d": "days",
    "percent": "%",
}  # fmt: skip
DATE = re.compile(r"\b\d{4}-\d\d-\d\d\b")
MINUTE_S, HOUR_S, DAY_S = 60, 3600, 86_400
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def state_word(state: str) -> str:
    """Mark and word of a state."""
    mark, _ = STATES.get(state, ("?", 3))
    return f"{mark} {state}"


def pressing(state: str) -> int:
    """How pressing a state is; 0 most."""
    return STATES.get(state, ("?", 3))[1]


def hold_tags(holds: list[str]) -> str:
    """The tags of what is held, milk first: unmistakable without colour."""
    found = []
    for word, tag in HOLD_TAGS.items():
        if any(word in hold.casefold() for hold in holds):
            found.append(tag)
    return " ".join(found)


def not_for_sale(holds: list[str]) -> list[str]:
    """The holds on what may be sold: milk and meat."""
    return [one for one in holds if "milk" in one.casefold() or "meat" in one.casefold()]


def named(name: str, holds: list[str]) -> str:
    """An animal's name with the tag of what is held, milk and meat alone."""
    tags = hold_tags(not_for_sale(holds))
    return f"{name} {tags}" if tags else name


def mark_of(animal: HerdLine) -> str:
    """The mark to read on the animal: its left ear, else the right one."""
    return animal.tattoo_left or animal.tattoo_right or "no mark"


def age(days: int | None) -> str:
    """An age in the unit keepers use: days, weeks, months, years."""
    if days is None:
        return "age?"
    if days < 0:
        return "unborn"
    if days < 14:
        return f"{days} d"
    if days < 84:
        return f"{days // 7} wk"
    if days < 730:
        return f"{days * 12 // 365} mo"
    return f"{days // 365} y"


def moment_of(text: str, now: datetime) -> datetime | None:
    """The instant that a date or moment begins, in the zone of ``now``; None for anything else.

    A date and time without an offset is read by the farm's clock.
    """
    try:
        if len(text) == 10:
            day = date.fromisoformat(text)
            return datetime(day.year, day.month, day.day, tzinfo=now.tzinfo)
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    if found.tzinfo is None:
        return found.replace(tzinfo=now.tzinfo) if " " in text else None
    return found.astimezone(now.tzinfo)


def day_word(text: str, now: datetime) -> str:
    """A date or moment as a keeper says it: ``today 18:00``, ``Sat 28 Nov``, ``3 Feb 2025``."""
    moment = moment_of(text, now)
    if moment is None:
        return text
    gap = (moment.date() - now.date()).days
    clock = f" {moment:%H:%M}" if len(text) > 10 else ""
    near = {0: "today", 1: "tomorrow", -1: "yesterday"}.get(gap)
    if near is not None:
        return near + clock
    said = f"{moment.day} {MONTHS[moment.month - 1]}"
    if abs(gap) < 7:
        return f"{WEEKDAYS[moment.weekday()]} {said}{clock}"
    return said if moment.year == now.year else f"{said} {moment.year}"


def stamp(text: str, now: datetime) -> str:
    """A date or moment as short as a column needs: ``today 18:15``, ``24 Nov 18:15``, ``3 Feb 2025``."""
    moment = moment_of(text, now)
    if moment is None:
        return text
    clock = f" {moment:%H:%M}" if len(text) > 10 else ""
    if moment.date() == now.date():
        return f"today{clock}"
    said = f"{moment.day} {MONTHS[moment.month - 1]}"
    return said + clock if abs((moment - now).days) < 300 else f"{said} {moment.year}"


def typed_again(text: str, now: datetime) -> str:
    """A moment as a keeper would type it; as it stands where that would be read as another minute."""
    moment = moment_of(text, now)
    if moment is None or len(text) == 10:
        return text
    short = f"{moment:%Y-%m-%d %H:%M}"
    again = moment_of(short, now)
    same = again is not None and again.astimezone(UTC) == moment.astimezone(UTC).replace(
        second=0, microsecond=0
    )
    return short if same else text


def spoken(text: str, now: datetime) -> str:
    """A shown value; a date or moment among them as a keeper says it."""
    moment = moment_of(text, now) if text[:2] in ("19", "20", "21") else None
    return stamp(text, now) if moment is not None else text


def dated(text: str, now: datetime) -> str:
    """A sentence with each date in it as short as a column needs."""
    return DATE.sub(lambda found: stamp(found[0], now), text)


def countdown(seconds: int) -> str:
    """Seconds left as a clock: ``4 d 06 h``, ``5 h 12 min``, ``42:10``; once past, for how long."""
    if seconds <= 0:
        past = -seconds
        return f"{past // DAY_S} d past" if past >= DAY_S else f"{past // HOUR_S} h past"
    if seconds >= 2 * DAY_S:
        return f"{seconds // DAY_S} d {seconds % DAY_S // HOUR_S:02} h"
    if seconds >= HOUR_S:
        return f"{seconds // HOUR_S} h {seconds % HOUR_S // MINUTE_S:02} min"
    return f"{seconds // MINUTE_S:02}:{seconds % MINUTE_S:02}"


def seconds_left(ends: str, now: datetime) -> int:
    """Seconds from ``now`` to a moment or to the end of a date; negative once it is past."""
    moment = moment_of(ends, now)
    if moment is None:
        return 0
    if len(ends) == 10:
        moment += timedelta(days=1)
    # In UTC: two moments of one zone would be told apart by its clock, which jumps twice a year.
    return int((moment.astimezone(UTC) - now.astimezone(UTC)).total_seconds())


def until(line: DueLine, now: datetime) -> str:
    """Until when the work can wait, short: ``3 d late``, ``by 18:00``, ``in 5 d``, ``from 12 Dec``.

    ``no record`` where it is asked for because nothing of it was ever written down; of what was
    missed it says when it would have been: ``was 06:30``, ``was 27 Nov``.
    """
    if line.state == "ahead":
        return f"from {_short(line.opens, now)}"
    if line.state == "put-off":
        return f"to {_short(line.due or line.opens, now)}"
    if line.state == "missed":
        return _missed(line, now)
    last = line.closes or line.due
    moment = moment_of(last, now)
    if moment is None:
        return ""
    if len(last) > 10 and now <= moment < now + timedelta(days=1):
        return f"by {moment:%H:%M}"
    gap = (moment.date() - now.date()).days
    if gap < 0:
        # Work that is due and not late though its day is past has never been written down.
        return f"{span(-gap)} late" if line.state == "late" else "no record"
    return "today" if gap == 0 else f"in {span(gap)}"


def _missed(line: DueLine, now: datetime) -> str:
    """When it would have been: the hour of a chore of today, else the last day it could be done."""
    text = line.due if len(line.due) > 10 else line.closes or line.due
    moment = moment_of(text, now)
    if moment is None:
        return ""
    today = len(text) > 10 and moment.date() == now.date()
    return f"was {moment:%H:%M}" if today else f"was {_short(text, now)}"


def span(days: int) -> str:
    """Days in the unit a keeper would say: days, weeks, months, years."""
    if days < 21:
        return f"{days} d"
    if days < 84:
        return f"{days // 7} wk"
    return f"{days * 12 // 365} mo" if days < 730 else f"{days // 365} y"


def _short(text: str, now: datetime) -> str:
    moment = moment_of(text, now)
    if moment is None:
        return "?"
    said = f"{moment.day} {MONTHS[moment.month - 1]}"
    return said if moment.year == now.year else f"{said} {moment.year}"


def label(field: str) -> str:
    """A field's name as a form shows it: words, with the unit of a bare number in brackets."""
    if field == "on":
        return "when"
    name, _, unit = field.rpartition("_")
    if name and unit in UNIT_NAMES:
        return f"{name.replace('_', ' ')} ({UNIT_NAMES[unit]})"
    return field.replace("_", " ")


def with_warnings(said: str, warnings: Iterable[str]) -> str:
    """What came of an act, then what a keeper should look at, each behind a mark of its own."""
    return " ".join([said, *(f"! {one}" for one in warnings)])


def count(number: int, one: str, many: str = "") -> str:
    """``1 animal``, ``3 animals``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def kin(path: str) -> str:
    """Who an ancestor is, by the way to it: ``s`` a sire, ``d`` a dam."""
    last = "sire" if path.endswith("s") else "dam"
    before = {"": "", "s": "sire's ", "d": "dam's "}
    return before.get(path[:-1], "".join(before[step] for step in path[:-1])) + last
