"""Work of each morning and evening chore: today's, and last evening's before the morning opens.

A chore opens two hours before its time and ends when the next one opens. Must not know skips.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from herdsync.kinds import CATALOGUE
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.look import Look
from herdsync.projections.pieces import Piece
from herdsync.projections.plan import Item
from herdsync.projections.spans import Span
from herdsync.projections.whom import fits
from herdsync.trade.dates import in_utc

OPENS_BEFORE = timedelta(hours=2)
LATE_AFTER = timedelta(hours=3)
# A month told for a milking begins at most so long before the chore it may be.
LOOKED_BACK = timedelta(days=31)


@dataclass(frozen=True, slots=True)
class Chore:
    """One chore time of one day: which, when it opens, is due, is late and ends (UTC)."""

    word: str
    day: date
    opens: datetime
    at: datetime
    ends: datetime


def chores(look: Look) -> list[Chore]:
    """The chores of today, in order; before the morning opens, last evening's as well."""
    today = look.today
    yesterday, tomorrow = today - timedelta(days=1), today + timedelta(days=1)
    times = [
        (word, day, _at(look, day, word))
        for day in (yesterday, today, tomorrow)
        for word in ("morning", "evening")
    ]
    times.sort(key=lambda one: one[2])
    found = []
    for (word, day, at), (_, _, following) in pairwise(times):
        ends = following - OPENS_BEFORE
        if day == today or (day == yesterday and look.moment < ends):
            found.append(Chore(word, day, at - OPENS_BEFORE, at, ends))
    return found


def _at(look: Look, day: date, word: str) -> datetime:
    clock = look.settings.morning if word == "morning" else look.settings.evening
    return in_utc(datetime.combine(day, clock, look.zone))


def goat_chores(herd: Herd, goat: Goat, item: Item, today: Sequence[Chore]) -> Iterator[Piece]:
    """The chores of an item that an animal still waits for."""
    if fits(goat, item.whom):
        for chore in today:
            if chore.word in item.chore and not _goat_done(goat, item, chore):
                yield _piece(herd.look, item, chore)


def pen_chores(
    herd: Herd, done: Sequence[Record], item: Item, today: Sequence[Chore]
) -> Iterator[Piece]:
    """The chores of an item that a pen still waits for; ``done`` are its chores on record."""
    for chore in today:
        if chore.word in item.chore and not _any_done(herd.look, item, chore, done):
            yield _piece(herd.look, item, chore)


def _goat_done(goat: Goat, item: Item, chore: Chore) -> bool:
    for met in item.by:
        named = "milking" if "milking" in CATALOGUE[met.kind].fields else ""
        for act in reversed(goat.acts.get(met.kind, [])):
            day = acts.first_day(act, goat.look.zone)
            if day is None or day < chore.day - LOOKED_BACK:
                break
            if not acts.holds_where(act, met.where):
                continue
            told = act.value(named) if named else None
            if told == chore.word and day == chore.day:
                return True
            if told is None and _within(goat.look, act, chore):
                return True
    return _any_done(goat.look, item, chore, goat.acts.get("chore-done", []))


def _any_done(look: Look, item: Item, chore: Chore, done: Sequence[Record]) -> bool:
    return any(act.value("item") == item.id and _within(look, act, chore) for act in done)


def _within(look: Look, act: Record, chore: Chore) -> bool:
    """Whether an act can have been during a chore; one known by its date can have been any."""
    for told in acts.times(act):
        first, last = moments.span(told, look.zone)
        if first < chore.ends and last >= chore.opens and first <= look.moment:
            return True
    return False


def _piece(look: Look, item: Item, chore: Chore) -> Piece:
    span = Span(
        chore.opens,
        chore.at,
        None,
        min(chore.at + LATE_AFTER, chore.ends),
        chore.ends,
        moments.text(chore.opens, look.zone),
        moments.text(chore.at, look.zone),
        moments.text(chore.ends, look.zone),
    )
    key = f"{chore.day.isoformat()}/{chore.word}".encode()
    return Piece(item, f"-{chore.word}", (key,), span, f"each {chore.word} chore")
