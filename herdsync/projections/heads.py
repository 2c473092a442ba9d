"""Heads somebody counted in a pen, compared with what the records put there at that time."""

from __future__ import annotations

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.reports import HeadsLine


def counted_heads(herd: Herd) -> list[HeadsLine]:
    """Every count up to now that does not agree with the records, newest first."""
    lines = []
    for count in herd.records.of_kind("counted-heads"):
        line = _compared(herd, count)
        if line is not None:
            lines.append(line)
    return sorted(lines, key=lambda line: (line.on, line.id), reverse=True)


def _compared(herd: Herd, count: Record) -> HeadsLine | None:
    at = acts.last_instant(count, herd.look.zone)
    told, pen = count.value("heads"), count.value("pen")
    if at is None or at > herd.look.moment or not isinstance(pen, bytes):
        return None
    pen = herd.records.canonical(pen)
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
        says=f"{told} were counted in {name}, the records put {len(inside)} there: "
        "count again, or record the move, birth or leaving that is missing",
    )


def _alive(goat: Goat) -> bool:
    return goat.told("born_alive") is not False
