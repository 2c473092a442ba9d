"""Due work: what every animal and pen needs at a moment, in the order of a walk, with its reason.

A piece of work is (subject, item, anchor record); its id is their hash and stays the same on every
laptop. Pure: the same records, plan, settings and moment give the same lines, whatever was kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import timedelta
from functools import cached_property

from herdsync.answers import DueLine, Hold
from herdsync.merge.records import Record
from herdsync.merge.shelf import WHOLE_FARM
from herdsync.projections import spans
from herdsync.projections.chores import Chore, chores, goat_chores
from herdsync.projections.dose_work import dose_pieces
from herdsync.projections.due_lines import Told, hold_words, ordered, pressing, told
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd, Pen
from herdsync.projections.holds import WORDS, holds
from herdsync.projections.kept import Kept, Work
from herdsync.projections.moments import day_begins
from herdsync.projections.offers import Offers
from herdsync.projections.past import Past
from herdsync.projections.piece import Piece, spared_piece
from herdsync.projections.pieces import asked
from herdsync.projections.place_work import WholeFarm, farm_pieces, pen_pieces
from herdsync.projections.plan_items import Item, Plan
from herdsync.projections.turns import span_turn, turn_of
from herdsync.projections.verdicts import Verdict, exemptions, judged, verdicts_of

__all__ = ["Rounds", "hold_words"]

# Who asks for everything is told what was missed within a year: older chances help nobody.
MISSED_DAYS = 366
_DOSED = {"dose", "course"}


class Wanted:
    """Which work is asked for: by default all but what is ahead or was missed long ago."""

    def __init__(self, herd: Herd, days: int | None, everything: bool) -> None:
        self.everything = everything
        self.moment = herd.look.moment
        self.ahead = everything or days is not None
        self._until = None
        if days is not None:
            within = herd.look.today + timedelta(days=days + 1)
            self._until = day_begins(within, herd.look.zone)

    def state(self, piece: Piece) -> str | None:
        """The state of a piece by its span alone; None where it is not asked for or over."""
        if piece.spared:
            return spans.PUT_OFF if self.everything else None
        if piece.span is None:
            return spans.OPEN if piece.waits else spans.DUE
        state = piece.span.state(self.moment)
        if state == spans.AHEAD:
            return state if self._opens_soon(piece.span) else None
        if piece.item.watch and state in (spans.LATE, spans.MISSED):
            return None
        if state == spans.MISSED:
            told = MISSED_DAYS if self.everything else piece.item.missed_days
            return state if piece.span.over_for(self.moment) < told else None
        if piece.waits and state in (spans.DUE, spans.CLOSING, spans.LATE):
            return spans.OPEN
        return state

    def _opens_soon(self, span: spans.Span) -> bool:
        return self.everything or (self._until is not None and span.opens < self._until)


class Rounds:
    """Due work of one look at the farm under one plan. ``kept`` outlives looks (see `Kept`)."""

    def __init__(self, herd: Herd, plan: Plan, kept: Kept | None = None) -> None:
        self.herd = herd
        self.plan = plan
        self._kept = kept
        self._offers = Offers(plan) if kept is None else kept.offers(plan)
        self._holds: dict[tuple[bytes, tuple[str, ...]], list[Hold]] = {}
        self._chores: dict[tuple[str, ...], list[Chore]] = {}

    def lines(self, *, days: int | None = None, everything: bool = False) -> list[DueLine]:
        """All due work in walk order.

        Without ``days`` nothing that is ahead; with it what opens within so many days too.
        ``everything`` adds all that is ahead, what was missed within a year and what animals are spared.
        """
        wanted = Wanted(self.herd, days, everything)
        if self._kept is not None and not wanted.ahead:
            return self._kept_lines(self._kept, wanted)
        pens = self.herd.pens
        by_place = [self._heard(ordered(self._of_pen(pen, wanted))) for pen in pens]
        by_place.append([])
        for goat in self.herd.in_walk_order():
            place = self.herd.places.get(goat.pen, -1) if goat.pen is not None else -1
            by_place[place] += self._heard(ordered(self._of_goat(goat, wanted)))
        by_place.append(self._heard(ordered(self._of_farm(wanted))))
        return [line for lines in by_place for line in lines]

    def _kept_lines(self, kept: Kept, wanted: Wanted) -> list[DueLine]:
        """The same, with what earlier looks found."""
        self._refresh(kept, wanted)
        lines: list[DueLine] = []
        for place, stop in enumerate(kept.stops(self.herd, self.verdicts)):
            if stop.pen is not None:
                lines += self._heard_of(self._kept_pen(stop.pen, stop.inside, wanted, kept))
            heard = kept.heard(place)
            if heard is None:
                heard = [line for id in stop.animals for line in self._heard_of(kept.work(id))]
                kept.keep_heard(place, heard)
            lines += heard
        lines += self._heard_of(self._kept_farm(wanted, kept))
        kept.looked()
        return lines

    def of_goat(
        self, goat: Goat, *, days: int | None = None, everything: bool = False
    ) -> list[DueLine]:
        """The due work of one animal, most pressing first; none for one that left or died."""
        return self._heard(ordered(self._of_goat(goat, Wanted(self.herd, days, everything))))

    def holds_of(self, goat: Goat) -> list[Hold]:
        """The holds on an animal, worked out once."""
        key = (goat.id, tuple(WORDS))
        if key not in self._holds:
            self._holds[key] = holds(self.herd, goat)
        return self._holds[key]

    def _heeded(self, goat: Goat, item: Item) -> list[Hold]:
        """The holds that an item names, worked out once each."""
        key = (goat.id, item.heeded)
        if key not in self._holds:
            self._holds[key] = holds(self.herd, goat, item.heeded)
        return self._holds[key]

    @cached_property
    def verdicts(self) -> Mapping[str, Verdict]:
        """What was skipped or put off, by the id of the work."""
        return verdicts_of(self.herd.records)

    def _heard(self, found: list[Told]) -> list[DueLine]:
        """Lines as keepers' words leave them, most pressing first; ``found`` is in that order."""
        said, today = self.verdicts, self.herd.look.today
        if not any(id in said for one in found for id in one.ids):
            return [one.line for one in found]
        lines = [judged(one.line, one.ids, said, today) for one in found]
        return sorted((line for line in lines if line is not None), key=pressing)

    def _heard_of(self, work: Work) -> list[DueLine]:
        """The same of work that was kept."""
        said = self.verdicts
        unsaid = not said or said.keys().isdisjoint(work.ids)
        return work.lines if unsaid else self._heard(work.told)

    def _refresh(self, kept: Kept, wanted: Wanted) -> None:
        """Bring what is kept up to date with this look."""
        kept.catch_up(self.herd, self.plan)
        for goat in kept.missing(self.herd):
            found = list(self._pieces(goat, wanted)) if goat.of_herd else []
            told = [one for piece in found if (one := self._told(piece, goat, wanted)) is not None]
            turn = turn_of(self.herd, goat, found)
            place_work = self._offers.place_work(goat) if goat.of_herd else []
            kept.keep(goat, ordered(told), turn, self._offers.ask_company(goat), place_work)

    def _of_goat(self, goat: Goat, wanted: Wanted) -> Iterator[Told]:
        if goat.of_herd:
            for piece in self._pieces(goat, wanted):
                one = self._told(piece, goat, wanted)
                if one is not None:
                    yield one

    def _told(self, piece: Piece, goat: Goat, wanted: Wanted) -> Told | None:
        """The line of a piece of an animal's work; None where it is not asked for."""
        state = wanted.state(piece)
        if state is None:
            return None
        heeds = piece.item.heeded and not piece.spared
        running = self._heeded(goat, piece.item) if heeds else []
        if state != spans.AHEAD and not piece.spared:
            if goat.unreadable:
                state = spans.UNKNOWN
            elif running and _bars(piece.item, running):
                state = spans.BARRED
        return told(self.herd, piece, goat.record, goat, state, running)

    def _pieces(self, goat: Goat, wanted: Wanted) -> Iterator[Piece]:
        spared = exemptions(goat)
        for item in self._offers.to(goat, wanted.everything):
            if item.id in spared:
                yield spared_piece(item, spared[item.id])
            elif item.chore:
                yield from goat_chores(goat, item, self._times(item))
            else:
                yield from asked(self.herd, goat, item, wanted.everything)
        if goat.standing == "here" and goat.past.kinds & _DOSED:
            yield from dose_pieces(goat)

    def _times(self, item: Item) -> list[Chore]:
        words = tuple(item.chore)
        if words not in self._chores:
            self._chores[words] = chores(self.herd.look, words)
        return self._chores[words]

    def _kept_pen(self, record: Record, inside: list[bytes], wanted: Wanted, kept: Kept) -> Work:
        """The work of a pen, as it was kept if it still holds."""
        found = kept.work_of_place(record.id, inside, wanted.moment)
        if found is None:
            look, past = self.herd.look, Past(self.herd.look, record)
            pen = self.herd.pen_with(record, filter(None, map(self.herd.goat, inside)))
            pieces = list(self._pen_pieces(pen, past))
            told = ordered(self._told_of_place(record, pieces, wanted))
            until = look.moment if past.unsettled() else span_turn(look, pieces)
            found = kept.keep_place(record.id, inside, told, look.moment, until)
        return found

    def _kept_farm(self, wanted: Wanted, kept: Kept) -> Work:
        """The work of the whole farm, as it was kept if it still holds."""
        found = kept.work_of_place(WHOLE_FARM, None, wanted.moment)
        if found is None:
            look, farm = self.herd.look, WholeFarm(self.herd.look)
            pieces = list(farm_pieces(self.herd, self.plan, farm, self._times))
            told = ordered(self._told_of_place(None, pieces, wanted))
            until = look.moment if farm.unsettled else span_turn(look, pieces)
            found = kept.keep_place(WHOLE_FARM, None, told, look.moment, until)
        return found

    def _of_pen(self, pen: Pen, wanted: Wanted) -> Iterator[Told]:
        past = Past(self.herd.look, pen.record)
        return self._told_of_place(pen.record, self._pen_pieces(pen, past), wanted)

    def _pen_pieces(self, pen: Pen, past: Past) -> Iterator[Piece]:
        return pen_pieces(self.herd.look, self.plan, pen, past, self._times)

    def _of_farm(self, wanted: Wanted) -> Iterator[Told]:
        found = farm_pieces(self.herd, self.plan, WholeFarm(self.herd.look), self._times)
        return self._told_of_place(None, found, wanted)

    def _told_of_place(
        self, place: Record | None, found: Iterable[Piece], wanted: Wanted
    ) -> Iterator[Told]:
        for piece in found:
            state = wanted.state(piece)
            if state is not None:
                yield told(self.herd, piece, place, None, state, ())


def _bars(item: Item, running: Sequence[Hold]) -> bool:
    bars = [WORDS[name] for name in item.barred_by]
    return any(hold.what in bars for hold in running)
