"""The milkings of the last days one by one: which of the day, how much, sold or held.

Must not know sums or lactations.
"""

from __future__ import annotations

from datetime import date, timedelta

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.amounts import figure, told
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.milk import held_milking
from herdsync.sights import Milking

NOON_H = 12
SLOTS = ("morning", "noon", "evening", "night")


def milkings(herd: Herd, days: int) -> list[Milking]:
    """The milkings of the last ``days`` days, today among them, oldest first."""
    since = herd.look.today - timedelta(days=days - 1)
    found = [
        milking(herd, doe, day, act)
        for doe in herd.in_walk_order()
        if doe.female
        for day, act in doe.done("milk")
        if day >= since
    ]
    return sorted(found, key=lambda one: (one.day, SLOTS.index(one.slot), one.on))


def milking(herd: Herd, doe: Goat, day: date, act: Record) -> Milking:
    """One milking."""
    return Milking(
        text_id(doe.id),
        str(act.value("on") or ""),
        day.isoformat(),
        slot(herd, act),
        figure(told(act, "milk_kg", "kg")),
        bool(act.value("sold")),
        held_milking(herd, doe, act),
        text_id(act.id),
    )


def slot(herd: Herd, act: Record) -> str:
    """Which milking of the day it was: as told, else by the clock of the farm."""
    named = str(act.value("milking") or "")
    if named in SLOTS:
        return named
    at = acts.first_instant(act, herd.look.zone)
    return "morning" if at is None or at.astimezone(herd.look.zone).hour < NOON_H else "evening"
