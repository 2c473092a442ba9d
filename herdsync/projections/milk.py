"""Milk of the does over some days: produced, sold, and given while it was not for sale.

Held milk was still given. Must not know prices or the tank.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from herdsync.kinds.ids import text_id
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.withholding import held_by
from herdsync.reports import MilkLine
from herdsync.trade.advice import Advice
from herdsync.trade.milk import Milking, first_milk, milk_account, milking_plausible


def milk_lines(herd: Herd, first: date, last: date) -> list[MilkLine]:
    """The milk of every doe that gave any, or is in milk, on the days from first to last."""
    return [
        line
        for goat in herd.in_walk_order()
        if goat.female and (line := milk_line(herd, goat, first, last)).milkings + goat.in_milk
    ]


def milk_line(herd: Herd, goat: Goat, first: date, last: date) -> MilkLine:
    """The milk of one doe on the days from first to last, both included."""
    milkings = [act for day, act in goat.done("milk") if first <= day <= last]
    given = {act.id: amount(act.value("milk_kg"), "kg") for act in milkings if act.value("milk_kg")}
    held = {act.id for act in milkings if held_milking(herd, goat, act)}
    sold = {act.id for act in milkings if act.value("sold") and act.id not in held}
    account = milk_account(
        Milking(kg, bool(act.value("sold")), act.id in held)
        for act in milkings
        if (kg := given.get(act.id)) is not None
    )
    return MilkLine(
        animal=text_id(goat.id),
        name=goat.name,
        first=first.isoformat(),
        last=last.isoformat(),
        milkings=len(milkings),
        milk_kg=_sum(given, set(given)),
        sold_kg=_sum(given, sold),
        held_kg=_sum(given, held),
        in_milk=goat.in_milk,
        days_in_milk=_days_in_milk(goat),
        disputed=any(act.any_disputed for act in milkings),
        kept_kg=float(round(account.kept_kg, 3)),
        sold_while_held_kg=float(round(account.sold_while_held_kg, 3)),
        advice=str(account.advice),
        says=account.reason,
    )


def milking_words(herd: Herd, doe: Goat, milking: Record) -> Iterator[str]:
    """Whether a milking just written down as sold was not for sale, and whether it stands twice."""
    if milking.value("sold") and held_milking(herd, doe, milking):
        fresh = _first_milk(doe, milking)
        why = "" if fresh is None else f" ({fresh})"
        yield (
            f"{doe.name}'s milk was not for sale then{why}, and this was written down as sold: keep it "
            "out of the tank, or tell the buyer at once."
        )
    kg = amount(milking.value("milk_kg"), "kg") if milking.value("milk_kg") else Fraction(0)
    plausible = milking_plausible(kg, doe.age_days)
    if plausible.advice is not Advice.OK:
        yield f"{doe.name}: {plausible.reason}."
    day, turn = acts.first_day(milking, herd.look.zone), milking.value("milking")
    if day is None or not turn:
        return
    # Of that day alone: she may have been milked for years.
    since = list(doe.past.newest("milk", day))
    twice = [act for on, act in since if on == day and act.value("milking") == turn]
    if len(twice) > 1:
        yield (
            f"{doe.name}'s {turn} milking of {day} is written down {len(twice)} times: if it is one "
            "milking, take this back with 'herdsync undo'."
        )


def held_milking(herd: Herd, goat: Goat, milking: Record) -> bool:
    """Whether a milking fell into a time in which her milk was not for sale: a hold, or colostrum.

    A milking known by its day counts as held where any of that day was.
    """
    begins = acts.first_instant(milking, herd.look.zone)
    ends = acts.last_instant(milking, herd.look.zone)
    if begins is None or ends is None:
        return False
    for held in held_by(goat, "milk"):
        dose = herd.records.get(held.records[0])
        since = acts.first_instant(dose, herd.look.zone) if dose is not None else None
        if (since is None or ends >= since) and held.holds(begins):
            return True
    return _first_milk(goat, milking) is not None


def _first_milk(doe: Goat, milking: Record) -> str | None:
    """Why a milking was of the days of colostrum; None where it was not."""
    day = acts.first_day(milking, doe.look.zone)
    if day is None:
        return None
    kidded = max((on for on, _ in doe.done("kidding") if on <= day), default=None)
    fresh = None if kidded is None else first_milk(kidded, day)
    return fresh.reason if fresh is not None and fresh.advice is not Advice.OK else None


def _sum(given: dict[bytes, Fraction], of: set[bytes]) -> float:
    total = sum((kg for id, kg in given.items() if id in of), Fraction(0))
    return float(round(total, 3))


def _days_in_milk(goat: Goat) -> int | None:
    if not goat.in_milk or goat.last_kidding is None:
        return None
    return (goat.look.today - goat.last_kidding[0]).days
