"""Heads somebody counted in a pen, compared with what the records put there, and keeper with keeper."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.sights import HeadsLine

# Two keepers who count a pen within half a day, with no move between, counted the same animals.
# Common practice, no published source: a herd is counted at the morning and the evening chores.
ONE_TIME = timedelta(hours=12)


class _Count(NamedTuple):
    at: datetime
    id: bytes
    record: Record

    @property
    def heads(self) -> int:
        """How many were there."""
        return int(self.record.value("heads"))

    @property
    def by(self) -> str:
        """Who counted."""
        author = self.record.begun_by
        return author.by or author.keeper


def counted_heads(herd: Herd) -> list[HeadsLine]:
    """The newest count of each pen where it differs from the records or another keeper's; newest first.

    A later count of a pen ends what an earlier one asked; what another keeper counted at one time
    with it (`ONE_TIME`) stands beside it.
    """
    by_pen: dict[bytes, list[_Count]] = {}
    for count in herd.records.of_kind("counted-heads"):
        at, pen = acts.last_instant(count, herd.look.zone), count.value("pen")
        if at is not None and at <= herd.look.moment and isinstance(pen, bytes):
            by_pen.setdefault(herd.records.canonical(pen), []).append(_Count(at, count.id, count))
    found = (_compared(herd, pen, sorted(every)[::-1]) for pen, every in by_pen.items())
    lines = [line for line in found if line is not None]
    return sorted(lines, key=lambda line: (line.on, line.id), reverse=True)


def _compared(herd: Herd, pen: bytes, counts: Sequence[_Count]) -> HeadsLine | None:
    newest = counts[0]
    inside = _inside(herd, pen, newest.at)
    beside = _beside(herd, pen, counts, inside)
    if len(inside) == newest.heads and not beside:
        return None
    name = herd.look.names(pen)
    names = sorted(goat.name for goat in inside)
    who = f" by {newest.by}" if beside else ""
    others = "".join(f", {one.heads} {_when(herd, one)} by {one.by}" for one in beside)
    return HeadsLine(
        id=text_id(newest.id),
        pen=name,
        on=str(newest.record.value("on")),
        counted=newest.heads,
        recorded=len(inside),
        names=names,
        says=f"{_several(newest.heads)} counted in {name} {_when(herd, newest)}{who}{others}, the "
        f"records put {len(inside)} there ({', '.join(names) or 'nobody'}): count again, or record "
        "the move, birth or leaving that is missing",
        work=_work(newest, beside, len(inside)),
    )


def _beside(
    herd: Herd, pen: bytes, counts: Sequence[_Count], inside: Sequence[Goat]
) -> list[_Count]:
    """What other keepers counted otherwise at one time with the newest, while the same were there."""
    newest = counts[0]
    heard, found = {newest.by}, []
    for count in counts[1:]:
        if newest.at - count.at <= ONE_TIME and count.by not in heard:
            heard.add(count.by)
            if count.heads != newest.heads and _inside(herd, pen, count.at) == inside:
                found.append(count)
    return found


def _inside(herd: Herd, pen: bytes, at: datetime) -> list[Goat]:
    """The animals that the records put into a pen at an instant: each was moved there once."""
    moved = {
        herd.records.canonical(animal)
        for move in herd.records.naming(pen, "pen-move")
        for animal in move.values("animal")
        if isinstance(animal, bytes)
    }
    there = (goat for goat in herd.every if goat.id in moved and goat.pen_at(at) == pen)
    return [goat for goat in there if goat.told("born_alive") is not False]


def _work(newest: _Count, beside: Sequence[_Count], recorded: int) -> str:
    """What is to be done about it, short enough for a line of work."""
    if beside:
        told = ", ".join(f"{one.by} counted {one.heads}" for one in (newest, *beside))
        return f"{told}; {recorded} on record: count again"
    look = "look who is missing" if newest.heads < recorded else "look who is not written down"
    return f"{newest.heads} counted, {recorded} on record: {look}"


def _several(heads: int) -> str:
    return f"{heads} head was" if heads == 1 else f"{heads} heads were"


def _when(herd: Herd, count: _Count) -> str:
    told = str(count.record.value("on"))
    return f"at {moments.said(count.at, herd.look.zone)}" if moments.exact(told) else f"on {told}"
