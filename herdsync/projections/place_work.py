"""Work that is no animal's: on a pen, or once for the whole farm. Must not know states or skips."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from functools import partial

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.merge.shelf import CHORE, WHOLE_FARM, work_key
from herdsync.projections import acts, moments, spans
from herdsync.projections.chores import Chore, place_chores
from herdsync.projections.herd import Herd, Pen
from herdsync.projections.look import Look
from herdsync.projections.past import AS_ASKED, Done, Level, Past, by_day, no_later_than, walk
from herdsync.projections.piece import Chores, Piece, done_within
from herdsync.projections.pieces import in_months, interval_piece
from herdsync.projections.plan_items import Item, Plan
from herdsync.projections.season_work import season_pieces
from herdsync.projections.spans import Span
from herdsync.projections.unrecorded import UNRECORDED, begun_on
from herdsync.projections.whom import fits

Times = Callable[[Item], list[Chore]]


class WholeFarm:
    """The chores that were written down for no animal and no pen.

    ``unsettled``: whether the moment of one that was read, by anyone's account, is to come.
    """

    def __init__(self, look: Look) -> None:
        self._look = look
        self.unsettled = False

    def chores(self, item: str, since: date = date.min) -> Iterator[Done]:
        """As `Past.chores`."""
        return walk(self._levels(item), date.max, since)

    def newest(self, kind: str, since: date = date.min) -> Iterator[Done]:
        """None: what is about no animal and no pen is a chore."""
        del kind, since
        return iter(())

    def _levels(self, item: str) -> Iterator[Level]:
        key, zone = work_key(WHOLE_FARM, item), self._look.zone
        for most in AS_ASKED:
            read = self._look.records.newest(key, CHORE, most)
            told = [one for act in read.records if (one := self._told(act)) is not None]
            floor = None if read.floor is None else no_later_than(read.floor, zone)
            yield sorted(told, key=by_day), floor

    def _told(self, act: Record) -> Done | None:
        """An act with the day it counts from; None where that is to come."""
        zone, times = self._look.zone, acts.times(act)
        self.unsettled |= any(moments.span(one, zone)[0] > self._look.moment for one in times)
        day = min((moments.first_day(one, zone) for one in times), default=None)
        return None if day is None or day > self._look.today else (day, act)


def pen_pieces(look: Look, plan: Plan, pen: Pen, past: Past, times: Times) -> Iterator[Piece]:
    """What the plan asks of a pen that animals stand in."""
    if not pen.goats:
        return
    begun = spans.since(begun_on(pen.record, look), look.zone)
    for item in plan.items:
        if item.on == "pen" and _for_pen(item, pen):
            yield from _asked(look, item, past, times, tuple(pen.record.ids), begun)


def farm_pieces(herd: Herd, plan: Plan, farm: WholeFarm, times: Times) -> Iterator[Piece]:
    """What the plan asks once for the whole farm, as long as it is for any animal there."""
    for item in plan.items:
        if item.on == "farm" and any(fits(goat, item.whom) for goat in herd.in_walk_order()):
            yield from _asked(herd.look, item, farm, times, (b"whole farm",), None)


def _asked(
    look: Look,
    item: Item,
    place: Chores,
    times: Times,
    anchors: tuple[bytes, ...],
    begun: Span | None,
) -> Iterable[Piece]:
    """What an item asks of a place; ``begun``: since when it is known, for what was never done."""
    if item.chore:
        return place_chores(look, place, item, times(item))
    if item.season is not None:
        return season_pieces(item, item.season, partial(done_within, place, item), look)
    assert item.every is not None, "work on a place comes every so often, by chore or season"
    if not in_months(item.every, look.today):
        return ()
    last = next(place.chores(item.id), None)
    if last is not None:
        return (interval_piece(item, item.every, item.every.days, last, look.zone),)
    return (Piece(item, "", anchors, begun, UNRECORDED),)


def _for_pen(item: Item, pen: Pen) -> bool:
    if item.pen and not any(text_id(one) == item.pen for one in pen.record.ids):
        return False
    if item.quarantine is not None and item.quarantine != pen.quarantine:
        return False
    return any(fits(goat, item.whom) for goat in pen.goats)
