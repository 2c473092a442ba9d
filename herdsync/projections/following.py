"""Work that follows an act: once within a window after it, or a ladder of looks.

Must not know intervals, ages, due dates or seasons.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from functools import partial

from msgspec import structs

from herdsync.kinds import CATALOGUE
from herdsync.merge.records import Record
from herdsync.projections import acts, spans
from herdsync.projections.goat import Goat
from herdsync.projections.past import Done
from herdsync.projections.piece import Piece, last_doing
from herdsync.projections.plan_items import After, Item
from herdsync.trade.screening import QUARANTINE_DAYS


def after_pieces(goat: Goat, item: Item, after: After, long_gone: bool) -> Iterator[Piece]:
    """What follows an act; not what was over ``long_gone``, unless that is asked for."""
    if item.setting == "quarantine-days":
        after = _shifted(after, goat.look.settings.quarantine_days - QUARANTINE_DAYS)
    since = date.min
    if after.lost is not None and not long_gone:
        since = goat.look.today - timedelta(days=after.lost + item.missed_days)
    for day, anchor in _followed(goat, after, since):
        if _ended(goat, after, day, anchor):
            continue
        if after.unless and acts.holds_where(anchor, after.unless):
            continue
        if after.unless_told and anchor.values(after.unless_told):
            continue
        if after.days:
            yield from _ladder(
                goat, item, after, (day, anchor), last_doing(goat, item, anchor, day)
            )
        elif last_doing(goat, item, anchor, day + timedelta(days=after.opens)) is None:
            best = after.best if after.best is not None else after.opens
            span = spans.of_days(day, after.opens, best, after.closes, after.lost, goat.look.zone)
            yield Piece(item, "", tuple(anchor.ids), span, partial(_follows, goat, anchor, best))


def _shifted(after: After, days: int) -> After:
    """A window after an act that moves with a setting."""
    return structs.replace(
        after,
        opens=max(0, after.opens + days),
        best=None if after.best is None else max(0, after.best + days),
        closes=max(0, after.closes + days),
        lost=None if after.lost is None else max(0, after.lost + days),
    )


def _followed(goat: Goat, after: After, since: date) -> list[Done]:
    """The acts from a day on that an item follows: the latest, the first of all, or each."""
    if after.which == "latest":
        last = goat.past.latest(after.kind, after.where, since=since)
        return [] if last is None else [last]
    found = []
    for one in goat.past.newest(after.kind):
        if one[0] < since and after.which == "each":
            break
        if acts.holds_where(one[1], after.where):
            if one[0] < since:
                # One before came first, so long ago that nothing follows it any more.
                return []
            found.append(one)
    return found[-1:] if after.which == "first" else found


def _ended(goat: Goat, after: After, day: date, anchor: Record) -> bool:
    return any(
        goat.past.latest(met.kind, met.where, anchor, anchor.id, day) is not None
        for met in after.until
    )


def _ladder(
    goat: Goat, item: Item, after: After, followed: Done, looked: Done | None
) -> Iterator[Piece]:
    """The rung to look from now, and those ahead; a later rung takes the place of one left out."""
    day, anchor = followed
    opens = after.rungs_open
    today = (goat.look.today - day).days
    seen = -1 if looked is None else (looked[0] - day).days
    current = max((n for n, first in enumerate(opens) if first <= today), default=0)
    for place, rung in enumerate(after.days):
        if place < current or seen >= opens[place]:
            continue
        last = place + 1 == len(after.days)
        lost = after.lost if last else None
        span = spans.of_days(day, opens[place], rung, rung, lost, goat.look.zone, False)
        left_out = sum(1 for first in opens[:place] if first > seen) if place == current else 0
        reason = partial(_follows, goat, anchor, rung, left_out)
        yield Piece(item, f"-d{rung}", tuple(anchor.ids), span, reason)


def _follows(goat: Goat, anchor: Record, day: int, left_out: int = 0) -> str:
    what = CATALOGUE[anchor.kind].title
    told = f"day {day} after the {what} of {acts.when_words(anchor, goat.look.zone)}"
    if not left_out:
        return told
    looks = "one earlier look is" if left_out == 1 else f"{left_out} earlier looks are"
    return f"{told}; {looks} not on record"
