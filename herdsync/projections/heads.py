"""Heads somebody counted in a pen, compared with what the records put there at that time."""

from __future__ import annotations

from datetime import datetime

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.reports import HeadsLine


def counted_heads(herd: Herd) -> list[HeadsLine]:
    """The newest count of each pen that does not agree with the records, newest first.

    A later count of a pen ends what an earlier one asked.
    """
    newest: dict[bytes, tuple[datetime, bytes, Record]] = {}
    for count in herd.records.of_kind("counted-heads"):
        at, pen = acts.last_instant(count, herd.look.zone), count.value("pen")
        if at is None or at > herd.look.moment or not isinstance(pen, bytes):
            continue
        place = herd.records.canonical(pen)
        if place not in newest or newest[place][:2] < (at, count.id):
            newest[place] = (at, count.id, count)
    found = (_compared(herd, pen, at, count) for pen, (at, _, count) in newest.items())
    lines = [line for line in found if line is not None]
    return sorted(lines, key=lambda line: (line.on, line.id), reverse=True)


def _compared(herd: Herd, pen: bytes, at: datetime, count: Record) -> HeadsLine | None:
    told = count.value("heads")
    inside = [goat for goat in herd.every if goat.pen_at(at) == pen and _alive(goat)]
    if len(inside) == told:
        return None
    name = herd.look.names(pen)
    return HeadsLine(
        id=text_id(count.id),
        pen=name,
        on=str(count.value("on")),
        counted=int(told),
        recorded=len(inside),
        names=sorted(goat.name for goat in inside),
        says=f"{_several(told)} counted in {name} {_when(herd, at, count)}, the records put "
        f"{len(inside)} there ({', '.join(sorted(goat.name for goat in inside)) or 'nobody'}): count "
        "again, or record the move, birth or leaving that is missing",
    )


def _several(heads: int) -> str:
    return f"{heads} head was" if heads == 1 else f"{heads} heads were"


def _when(herd: Herd, at: datetime, count: Record) -> str:
    told = str(count.value("on"))
    return f"at {moments.said(at, herd.look.zone)}" if moments.exact(told) else f"on {told}"


def _alive(goat: Goat) -> bool:
    return goat.told("born_alive") is not False
