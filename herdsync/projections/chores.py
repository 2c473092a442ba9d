"""Work of each chore time of the day: today's, and last evening's before the morning opens.

A chore opens two hours before its time and ends when the next one of its item opens. Must not know
skips.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise

from msgspec import Struct

from herdsync.kinds import CATALOGUE
from herdsync.merge.records import Record
from herdsync.projections import acts, moments, spans
from herdsync.projections.goat import Goat
from herdsync.projections.look import Look
from herdsync.projections.piece import Chores, Piece
from herdsync.projections.plan_items import EVENING, MIDDAY, MORNING, NIGHT, Item
from herdsync.trade.dates import in_utc

OPENS_BEFORE = timedelta(hours=2)
LATE_AFTER = timedelta(hours=3)
# The last feed of the night; common practice, no published source.
NIGHT_AFTER_EVENING = timedelta(hours=4)


class Chore(Struct, frozen=True):
    """One chore time of one day: which, when it opens and ends (UTC), and its span and words."""

    word: str
    day: date
    opens: datetime
    ends: datetime
    span: spans.Span
    words: str

    def piece(self, item: Item) -> Piece:
        """The work of an item at this time."""
        key = f"{self.day.isoformat()}/{self.word}".encode()
        return Piece(item, f"-{self.word}", (key,), self.span, self.words)


def chores(look: Look, words: Sequence[str]) -> list[Chore]:
    """Today's chores of an item in order; before its first one opens, yesterday's last as well."""
    today = look.today
    days = (today - timedelta(days=1), today, today + timedelta(days=1))
    times = sorted((_at(look, day, word), word, day) for day in days for word in words)
    found = []
    for (at, word, day), (following, _, _) in pairwise(times):
        ends = following - OPENS_BEFORE
        if day == today or (day < today and look.moment < ends):
            span = spans.of_chore(at - OPENS_BEFORE, at, LATE_AFTER, ends, look.zone)
            clock = at.astimezone(look.zone).strftime("%H:%M")
            words = f"each {word} at {clock}"
            found.append(Chore(word, day, at - OPENS_BEFORE, ends, span, words))
    return found


def _at(look: Look, day: date, word: str) -> datetime:
    """The instant of a chore time on a day; midday is half-way from morning to evening."""
    morning = datetime.combine(day, look.settings.morning)
    evening = datetime.combine(day, look.settings.evening)
    clock = {
        MORNING: morning,
        MIDDAY: morning + (evening - morning) / 2,
        EVENING: evening,
        NIGHT: evening + NIGHT_AFTER_EVENING,
    }[word]
    return in_utc(clock.replace(tzinfo=look.zone))


def goat_chores(goat: Goat, item: Item, times: Sequence[Chore]) -> Iterator[Piece]:
    """The chores of an item that fits an animal and that it still waits for."""
    for chore in times:
        if not _goat_done(goat, item, chore):
            yield chore.piece(item)


def place_chores(look: Look, past: Chores, item: Item, times: Sequence[Chore]) -> Iterator[Piece]:
    """The chores of an item that a pen or the whole farm still waits for."""
    for chore in times:
        if not _chore_done(look, past, item, chore):
            yield chore.piece(item)


def _goat_done(goat: Goat, item: Item, chore: Chore) -> bool:
    for met in item.by:
        named = "milking" if "milking" in CATALOGUE[met.kind].fields else ""
        for _, act in goat.past.newest(met.kind, chore.day):
            if not acts.holds_where(act, met.where):
                continue
            told = act.value(named) if named else None
            if told is None and _within(goat.look, act, chore):
                return True
            day = acts.first_day(act, goat.look.zone)
            if told == chore.word and day == chore.day and _to_the_day(act):
                return True
    return _chore_done(goat.look, goat.past, item, chore)


def _chore_done(look: Look, past: Chores, item: Item, chore: Chore) -> bool:
    written = past.chores(item.id, chore.day)
    return any(_within(look, act, chore) for _, act in written)


def _to_the_day(act: Record) -> bool:
    """Whether its time is told to the day at least: a month says nothing of one chore."""
    return all(len(told) > len("2026-05") for told in acts.times(act))


def _within(look: Look, act: Record, chore: Chore) -> bool:
    """Whether an act can have been during a chore; one known by its date can have been any."""
    if not _to_the_day(act):
        return False
    for told in acts.times(act):
        first, last = moments.span(told, look.zone)
        if first < chore.ends and last >= chore.opens and first <= look.moment:
            return True
    return False
