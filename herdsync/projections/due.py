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
from herdsync.projections import spans
from herdsync.projections.chores import Chore, chores, goat_chores
from herdsync.projections.dose_work import dose_pieces
from herdsync.projections.due_lines import Told, hold_words, ordered, pressing, told
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd, Pen
from herdsync.projections.holds import WORDS, holds
from herdsync.projections.kept import Kept
from herdsync.projections.moments import day_begins
from herdsync.projections.offers import Offers
from herdsync.projections.past import Past
from herdsync.projections.piece import Piece, spared_piece
from herdsync.projections.pieces import asked
from herdsync.projections.place_work import farm_pieces, pen_pieces
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
        kept = None if wanted.ahead else self._kept
        if kept is not None:
            self._refresh(kept, wanted)
        pens = self.herd.pens
        by_place = [self._heard(self._kept_pen(pen, wanted, kept)) for pen in pens]
        by_place.append([])
        for goat in self.herd.in_walk_order():
            place = self.herd.places.get(goat.pen, -1) if goat.pen is not None else -1
            found = ordered(self._of_goat(goat, wanted)) if kept is None else kept.told(goat.id)
            by_place[place] += self._heard(found)
        by_place.append(self._heard(ordered(self._of_farm(wanted))))
        return [line for lines in by_place for line in lines]

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
        names = tuple(dict.fromkeys((*item.barred_by, *item.tells_holds)))
        key = (goat.id, names)
        if key not in self._holds:
            self._holds[key] = holds(self.herd, goat, names)
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

    def _refresh(self, kept: Kept, wanted: Wanted) -> None:
        """Bring what is kept up to date with this look."""
        kept.catch_up(self.herd, self.plan)
        for goat in kept.missing(self.herd):
            found = list(self._pieces(goat, wanted)) if goat.of_herd else []
            told = [one for piece in found for one in self._told(piece, goat, wanted)]
            turn = turn_of(self.herd, goat, found)
            kept.keep(goat, ordered(told), turn, self._offers.ask_company(goat))

    def _of_goat(self, goat: Goat, wanted: Wanted) -> Iterator[Told]:
        if goat.of_herd:
            for piece in self._pieces(goat, wanted):
                yield from self._told(piece, goat, wanted)

    def _told(self, piece: Piece, goat: Goat, wanted: Wanted) -> Iterator[Told]:
        state = wanted.state(piece)
        if state is None:
            return
        heeds = (piece.item.barred_by or piece.item.tells_holds) and not piece.spared
        running = self._heeded(goat, piece.item) if heeds else []
        if state != spans.AHEAD and not piece.spared:
            if goat.unreadable:
                state = spans.UNKNOWN
            elif running and _bars(piece.item, running):
                state = spans.BARRED
        yield told(self.herd, piece, goat.record, goat, state, running)

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

    def _kept_pen(self, pen: Pen, wanted: Wanted, kept: Kept | None) -> list[Told]:
        """The work of a pen, as it was kept if it still holds."""
        if kept is None:
            return ordered(self._of_pen(pen, wanted))
        found = kept.told_of_pen(pen, wanted.moment)
        if found is None:
            past = Past(self.herd.look, pen.record)
            pieces = list(self._pen_pieces(pen, past))
            found = ordered(self._told_of_place(pen.record, pieces, wanted))
            look = self.herd.look
            until = look.moment if past.unsettled() else span_turn(look, pieces)
            kept.keep_pen(pen, found, look.moment, until)
        return found

    def _of_pen(self, pen: Pen, wanted: Wanted) -> Iterator[Told]:
        past = Past(self.herd.look, pen.record)
        return self._told_of_place(pen.record, self._pen_pieces(pen, past), wanted)

    def _pen_pieces(self, pen: Pen, past: Past) -> Iterator[Piece]:
        return pen_pieces(self.herd.look, self.plan, pen, past, self._times)

    def _of_farm(self, wanted: Wanted) -> Iterator[Told]:
        found = farm_pieces(self.herd, self.plan, self._times)
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
