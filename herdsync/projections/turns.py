"""Until when an animal's work stays as a look found it, if nobody writes anything.

Whole days turn at midnight; chores, doses and holds turn at instants. Must not know what is shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from herdsync.projections.dose_work import NEXT_DOSE
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.holds import running_holds
from herdsync.projections.look import Look
from herdsync.projections.moments import day_begins
from herdsync.projections.piece import Piece
from herdsync.projections.withholding import FIELDS

_INSTANT = timedelta(microseconds=1)


def span_turn(look: Look, found: Iterable[Piece]) -> datetime:
    """The next midnight, or the instant before it at which a piece of work changes its state."""
    turns = [day_begins(look.today + timedelta(days=1), look.zone)]
    for piece in found:
        turn = piece.span.turns_after(look.moment) if piece.span is not None else None
        if turn is not None:
            turns.append(turn)
    return min(turns)


def turn_of(herd: Herd, goat: Goat, found: Sequence[Piece]) -> datetime:
    """The first instant after the look at which the work found may differ.

    It is the look's own moment where that cannot be told: under a course, or with acts to come.
    """
    look = goat.look
    if goat.past.unsettled() or any(piece.item.id == NEXT_DOSE.id for piece in found):
        return look.moment
    turns = [span_turn(look, found)]
    heeded = {name for piece in found for name in piece.item.heeded}
    for what in FIELDS:
        if what in heeded:
            running = running_holds(herd, goat, what)
            turns += [held.clear.at + _INSTANT for held in running if held.clear.at is not None]
    return min(turns)
