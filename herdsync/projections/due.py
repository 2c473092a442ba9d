"""Due work: what every animal and pen needs at a moment, in the order of a walk, with its reason.

A piece of work is (subject, item, anchor record); its id is their hash and stays the same on every
laptop. Pure: the same records, plan, settings and moment give the same lines.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from itertools import product

from herdsync.answers import DueLine, Hold
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.log import canonical
from herdsync.merge.records import Record
from herdsync.projections import acts, spans
from herdsync.projections.chores import Chore, chores, goat_chores, pen_chores
from herdsync.projections.dose_work import dose_pieces
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd, Pen
from herdsync.projections.holds import WORDS, holds
from herdsync.projections.law_notes import law_note
from herdsync.projections.moments import day_begins
from herdsync.projections.pieces import (
    Piece,
    interval_piece,
    pieces,
    season_pieces,
    with_blocks,
)
from herdsync.projections.plan import Item, Plan
from herdsync.projections.whom import fits

TAG_WORK = b"herdsync/1/due\0"
WORK_ID_BYTES = 16


@dataclass(frozen=True)
class Verdict:
    """What keepers said of one piece of work: not done at all, or put off until a day."""

    skipped: bool = False
    until: date | None = None


@dataclass
class Rounds:
    """Due work of one look at the farm under one plan."""

    herd: Herd
    plan: Plan
    _kept: dict[bytes, list[Hold]] = field(default_factory=dict)

    def lines(self, *, days: int | None = None, everything: bool = False) -> list[DueLine]:
        """All due work in walk order.

        Without ``days`` nothing that is ahead; with it what opens within so many days too.
        ``everything`` adds all that is ahead and what was missed long ago.
        """
        found: list[DueLine] = []
        for pen in self.herd.pens:
            found += self.of_pen(pen, days=days, everything=everything)
        for goat in self.herd.in_walk_order():
            found += self.of_goat(goat, days=days, everything=everything)
        order = {pen.name: place for place, pen in enumerate(self.herd.pens)}
        return sorted(found, key=lambda line: order.get(line.pen, len(order)))

    def of_goat(
        self, goat: Goat, *, days: int | None = None, everything: bool = False
    ) -> list[DueLine]:
        """The due work of one animal, most pressing first; none for one that left or died."""
        if not goat.of_herd:
            return []
        found = []
        for piece in self._goat_pieces(goat):
            line = self._line(piece, goat.record, goat, days, everything)
            if line is not None:
                found.append(line)
        return sorted(found, key=_pressing)

    def of_pen(
        self, pen: Pen, *, days: int | None = None, everything: bool = False
    ) -> list[DueLine]:
        """The due work on a pen itself; none on an empty one."""
        found = []
        for piece in self._pen_pieces(pen):
            line = self._line(piece, pen.record, None, days, everything)
            if line is not None:
                found.append(line)
        return sorted(found, key=_pressing)

    @cached_property
    def today(self) -> list[Chore]:
        """The chores of the day."""
        return chores(self.herd.look)

    @cached_property
    def verdicts(self) -> dict[str, Verdict]:
        """What was skipped or put off, by the id of the work."""
        found: dict[str, Verdict] = {}
        for record in self.herd.records.of_kind("postpone"):
            told = record.value("until")
            if isinstance(told, str):
                found[str(record.value("work"))] = Verdict(until=date.fromisoformat(told))
        for record in self.herd.records.of_kind("skip"):
            if not record.value("lifted"):
                found[str(record.value("work"))] = Verdict(skipped=True)
        return found

    def holds_of(self, goat: Goat) -> list[Hold]:
        """The holds on an animal, worked out once."""
        if goat.id not in self._kept:
            self._kept[goat.id] = holds(self.herd, goat)
        return self._kept[goat.id]

    def _goat_pieces(self, goat: Goat) -> Iterator[Piece]:
        for item in self.plan.items:
            if item.on == "animal" and not item.chore:
                yield from pieces(self.herd, goat, item)
            elif item.on == "animal":
                yield from goat_chores(self.herd, goat, item, self.today)
        if goat.standing == "here":
            yield from dose_pieces(goat)

    def _pen_pieces(self, pen: Pen) -> Iterator[Piece]:
        if not pen.goats:
            return
        done = self.herd.records.naming(pen.id, "chore-done")
        for item in self.plan.items:
            if item.on == "pen" and _for_pen(item, pen):
                yield from self._on_pen(item, pen, done)

    def _on_pen(self, item: Item, pen: Pen, done: Sequence[Record]) -> Iterator[Piece]:
        look = self.herd.look
        if item.chore:
            yield from pen_chores(self.herd, done, item, self.today)
            return
        past = pen_acts(done, item, self.herd)
        if item.season is not None:
            yield from season_pieces(item, past, look.today, look.zone)
        elif item.every is not None and past:
            yield interval_piece(item, item.every, item.every.days, past[-1], look.zone)
        elif item.every is not None:
            yield Piece(item, "", tuple(pen.record.ids), None, "nothing of it is on record")

    def _line(
        self,
        piece: Piece,
        subject: Record,
        goat: Goat | None,
        days: int | None,
        everything: bool,
    ) -> DueLine | None:
        state = self._own_state(piece)
        if state is None or not self._wanted(state, piece, days, everything):
            return None
        ids = work_ids(subject.ids, piece)
        said = next((self.verdicts[id] for id in ids if id in self.verdicts), Verdict())
        if said.skipped:
            return None
        state, due = self._settled(state, piece, goat, said)
        return self._told(ids[0], piece, subject, goat, state, due)

    def _own_state(self, piece: Piece) -> str | None:
        """The state by the span alone; None where the work is over without a trace."""
        moment = self.herd.look.moment
        if piece.span is None:
            return spans.OPEN if piece.waits else spans.DUE
        state = piece.span.state(moment)
        if piece.item.watch and state in (spans.LATE, spans.MISSED):
            return None
        if piece.waits and state in (spans.DUE, spans.CLOSING, spans.LATE):
            return spans.OPEN
        return state

    def _wanted(self, state: str, piece: Piece, days: int | None, everything: bool) -> bool:
        if everything or piece.span is None:
            return True
        look = self.herd.look
        if state == spans.AHEAD:
            within = look.today + timedelta(days=days or 0)
            return days is not None and piece.span.opens < day_begins(
                within + timedelta(days=1), look.zone
            )
        if state == spans.MISSED and piece.span.gone is not None:
            return look.moment < piece.span.gone + timedelta(days=piece.item.missed_days)
        return True

    def _settled(
        self, state: str, piece: Piece, goat: Goat | None, said: Verdict
    ) -> tuple[str, str]:
        """The state with all that bears on it, and the day or moment the work falls to."""
        due = piece.span.best_text if piece.span is not None else ""
        if state == spans.AHEAD:
            return state, due
        if said.until is not None and said.until > self.herd.look.today:
            return spans.PUT_OFF, said.until.isoformat()
        if goat is not None and goat.unreadable:
            return spans.UNKNOWN, due
        if goat is not None and self._barring(piece, goat):
            return spans.BARRED, due
        return state, due

    def _barring(self, piece: Piece, goat: Goat) -> list[str]:
        words = [WORDS[name] for name in piece.item.barred_by]
        return [hold_words(hold) for hold in self.holds_of(goat) if hold.what in words]

    def _told(
        self,
        id: str,
        piece: Piece,
        subject: Record,
        goat: Goat | None,
        state: str,
        due: str,
    ) -> DueLine:
        item, span = piece.item, piece.span
        if goat is not None and (item.barred_by or item.tells_holds):
            words = {WORDS[name] for name in (*item.barred_by, *item.tells_holds)}
            told = [hold_words(hold) for hold in self.holds_of(goat) if hold.what in words]
            piece = with_blocks(piece, told)
        names = self.herd.look.names
        reason = piece.reason + (f"; {item.says}" if item.says else "")
        if state == spans.UNKNOWN:
            reason += "; an entry this program cannot read may bear on it"
        return DueLine(
            id=id,
            animal=text_id(goat.id) if goat is not None else "",
            name=names.of(subject),
            pen=self.herd.pen_name(goat) if goat is not None else names.of(subject),
            item=f"{item.id}{piece.part}",
            work=item.work,
            kind=item.kind,
            state=state,
            opens=span.opens_text if span is not None else "",
            best=span.best_text if span is not None else "",
            closes=span.closes_text if span is not None else "",
            due=due,
            reason=reason,
            caution=item.caution or _kind_caution(item),
            blocks=list(piece.blocks),
            subject=text_id(subject.id),
            law=law_note(item.law, goat, self.herd.look),
            source=item.source,
            preset=preset(piece),
        )


def work_ids(subjects: Sequence[bytes], piece: Piece) -> list[str]:
    """The ids of a piece of work: the current one, then those it had before records were joined."""
    name = f"{piece.item.id}{piece.part}"
    return [
        text_id(
            hashlib.sha256(TAG_WORK + canonical.encode([subject, name, anchor])).digest()[
                :WORK_ID_BYTES
            ]
        )
        for subject, anchor in product(subjects, piece.anchors)
    ]


def preset(piece: Piece) -> dict[str, str]:
    """Field values to fill in beforehand when the work is recorded, as text a keeper could type."""
    item = piece.item
    if not item.by:
        return {"item": item.id}
    found = {}
    for key, wanted in item.by[0].where.items():
        first = wanted[0] if isinstance(wanted, list) else wanted
        if "|" not in key:
            found[key] = ("yes" if first else "no") if isinstance(first, bool) else str(first)
    if item.chore and "milking" in CATALOGUE[item.kind].fields:
        found["milking"] = piece.part.removeprefix("-")
    return found


def pen_acts(done: Sequence[Record], item: Item, herd: Herd) -> list[tuple[date, Record]]:
    """The times an item was done for a pen up to today, oldest first."""
    timed = [
        (day, act)
        for act in done
        if act.value("item") == item.id
        and (day := acts.first_day(act, herd.look.zone)) is not None
        and day <= herd.look.today
    ]
    return sorted(timed, key=lambda one: (one[0], one[1].id))


def hold_words(hold: Hold) -> str:
    """A hold in one line: what, until when."""
    return f"{hold.what} until {hold.until or 'nobody knows when'}: {hold.reason}"


def _for_pen(item: Item, pen: Pen) -> bool:
    if item.pen and not any(text_id(one) == item.pen for one in pen.record.ids):
        return False
    if item.quarantine is not None and item.quarantine != pen.quarantine:
        return False
    return any(fits(goat, item.whom) for goat in pen.goats)


def _kind_caution(item: Item) -> str:
    kind = CATALOGUE.get(item.kind)
    return kind.caution if kind is not None and item.hazard else ""


_URGENCY = {
    spans.UNKNOWN: 0, spans.LATE: 1, spans.CLOSING: 2, spans.DUE: 3, spans.OPEN: 4,
    spans.BARRED: 5, spans.PUT_OFF: 6, spans.MISSED: 7, spans.AHEAD: 8,
}  # fmt: skip


def _pressing(line: DueLine) -> tuple[int, str, str, str]:
    return _URGENCY[line.state], line.due, line.item, line.id
