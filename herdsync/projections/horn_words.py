"""What a scur just measured says: how fast it grows, and whether it nears skull or eye.

Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from herdsync.merge.records import Record
from herdsync.projections.amounts import told
from herdsync.projections.goat import Goat
from herdsync.trade.advice import Advice
from herdsync.trade.disbudding import scur_growth

SIDES = ("left", "right")
INWARD = ("towards-eye", "towards-skull")
TOUCHING = "touching-skull"


def scur_words(goat: Goat, scurs: Record) -> Iterator[str]:
    """Sentences on both scurs of one record, each beside the last time it was measured."""
    measured = goat.done("scurs")
    on = next((day for day, act in measured if act.id == scurs.id), None)
    before = [one for one in measured if one[1].id != scurs.id and on and one[0] < on]
    for side in SIDES:
        words = "" if on is None else _side_words(side, on, scurs, before)
        if words:
            yield f"{goat.name}, {side} scur: {words}."


def _side_words(side: str, on: date, scurs: Record, before: list[tuple[date, Record]]) -> str:
    direction = scurs.value(f"{side}_direction")
    if direction == TOUCHING:
        return "it touches the skull: call the veterinarian, do not cut it yourself"
    length, gap = _mm(scurs, f"{side}_mm"), _mm(scurs, f"{side}_gap_mm")
    earlier = [
        (day, was)
        for day, act in before
        if not act.value("trimmed") and (was := _mm(act, f"{side}_mm")) is not None
    ]
    inward = direction in INWARD
    where = "eye" if direction == "towards-eye" else "skull"
    if length is None or not earlier:
        return f"it grows towards the {where}: measure the gap, trim in time" if inward else ""
    found = scur_growth(*earlier[-1], on, length, towards_skull=inward, gap_mm=gap)
    return "" if found.advice is Advice.OK else found.reason.replace("the skull", f"the {where}")


def _mm(record: Record, field: str) -> int | None:
    length = told(record, field, "mm")
    return None if length is None else round(length)
