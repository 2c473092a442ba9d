"""Withdrawal: from which instant milk and meat of a treated goat may be sold.

The periods are typed from the label or the veterinarian's written instruction; none is ours. A
milking is saleable only strictly after the clear instant. Nothing here ever shortens a hold: of
several doses the latest clear instant counts, and what is not known stays held.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, tzinfo
from fractions import Fraction
from typing import Literal, NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import add_days, add_hours, day_begins, day_ends, in_utc, local_day
from herdsync.trade.units import Amount, exact, plain

CountedFrom = Literal["last-dose", "kidding", "later"]
Given = datetime | date

HOURS_PER_DAY = 24
# Longer than any label; ours, so that hours typed as days are refused.
MOST_MILK_H = 24 * 366
MOST_MEAT_D = 366 * 3
MOST_MILKINGS_A_DAY = 6

# Veterinary Medicines Regulations 2013 (UK), Schedule 4 para 2 as amended: milk. Meat: from
# memory. Multiples of the longest label period of any species, or a floor.
CASCADE_TIMES = Fraction(3, 2)
CASCADE_MILK_NOT_AUTHORISED_H = 7 * HOURS_PER_DAY
CASCADE_MEAT_NOT_AUTHORISED_D = 28
CASCADE_ZERO_D = 1

CAUTION = (
    "The label or the veterinarian sets the withdrawal; outside the label only the veterinarian "
    "may. Mark the doe, milk her last and into a separate pail: her milk reaches neither the tank "
    "nor other kids."
)


class Clear(NamedTuple):
    """The instant (UTC) up to and including which a product is held; None while it is unknown.

    Where a time of day was missing the safer end was taken, and ``reason`` says so.
    """

    at: datetime | None
    reason: str

    def saleable(self, milked_at: datetime) -> bool:
        """Whether milk of a milking at an instant may be sold: only strictly after the clear."""
        return self.at is not None and in_utc(milked_at) > self.at


class HeldMilkings(NamedTuple):
    """The milkings after the last dose that are discarded, and the first that may be sold."""

    discarded: tuple[datetime, ...]
    first_saleable: datetime
    reason: str


class CascadeFloor(NamedTuple):
    """The least period the UK cascade allows: a check on what was written, no substitute."""

    milk_h: Fraction | None
    meat_d: Fraction | None
    reason: str


def milk_clear(
    last: Given,
    milk_h: Amount,
    zone: tzinfo,
    *,
    counted_from: CountedFrom = "last-dose",
    kidded: Given | None = None,
) -> Clear:
    """When milk is clear after the last dose, after kidding, or after the later of the two.

    A bare date counts from the end of that day in ``zone``. Counted from a kidding that is not
    recorded the instant is None: held. Raises ValueError for hours below 0 or over a year.
    """
    hours = _period(milk_h, "the milk withdrawal in hours", MOST_MILK_H)
    return _counted("milk", hours, last, zone, counted_from, kidded)


def meat_clear(last: Given, meat_d: Amount, zone: tzinfo) -> Clear:
    """When meat is clear after the last dose: days of 24 hours from its instant.

    From a bare date the meat is held until the day ``meat_d`` after it is over. Raises ValueError
    for days below 0 or over three years.
    """
    days = _period(meat_d, "the meat withdrawal in days", MOST_MEAT_D)
    words = f"meat held {plain(days)} days from the last dose"
    if isinstance(last, datetime):
        at = add_hours(last, days * HOURS_PER_DAY)
        return Clear(at, f"{words} at {_clock(last, zone)}")
    # By the calendar date + days + 1, and never before the full hours from the end of that day:
    # where the clocks go forward in between, those end an hour into the first free day.
    free_from = first_meat_day(last, meat_d)
    at = max(day_begins(free_from, zone), add_hours(day_ends(last, zone), days * HOURS_PER_DAY))
    return Clear(at, f"{words} on {last}, time unknown: not before {free_from}")


def first_meat_day(last: date, meat_d: Amount) -> date:
    """The first day on which meat may go when only the date of the last dose is known."""
    days = _period(meat_d, "the meat withdrawal in days", MOST_MEAT_D)
    return add_days(last, days.__ceil__() + 1)


def suckling_kid_hold(dam_meat: Clear) -> Clear:
    """The meat hold a kid takes over from the treated dam it sucks."""
    return Clear(dam_meat.at, f"it sucks a treated dam: {dam_meat.reason}")


def held_milkings(
    last: Given, clear: Clear, milked_at: Sequence[time], zone: tzinfo
) -> HeldMilkings:
    """Which milkings after the last dose are discarded, and the first one that may be sold.

    ``milked_at`` are the farm's milking times of a day. Raises ValueError where the clear instant
    is unknown, or no or more than six times are given.
    """
    if clear.at is None:
        raise ValueError(f"the end of this hold is not known: {clear.reason}")
    if not 1 <= len(milked_at) <= MOST_MILKINGS_A_DAY:
        raise ValueError(f"give 1 to {MOST_MILKINGS_A_DAY} milking times, not {len(milked_at)}")
    # Of a bare date every milking of the day counts as after the dose.
    begins = in_utc(last) if isinstance(last, datetime) else day_begins(last, zone)
    first_included = not isinstance(last, datetime)
    discarded: list[datetime] = []
    day = local_day(begins, zone)
    while True:
        for clock in sorted(milked_at):
            milking = in_utc(datetime.combine(day, clock, zone))
            if milking < begins or (milking == begins and not first_included):
                continue
            if clear.saleable(milking):
                words = f"{len(discarded)} milkings discarded, {clear.reason}"
                return HeldMilkings(tuple(discarded), milking, words)
            discarded.append(milking)
        day = add_days(day, 1)


def cascade_milk_floor(longest_label_h: Amount | None) -> CascadeFloor:
    """The UK cascade's least milk period; None where the product is for no milk animal."""
    if longest_label_h is None:
        return CascadeFloor(
            Fraction(CASCADE_MILK_NOT_AUTHORISED_H), None, "not authorised for milk animals: 7 days"
        )
    hours = _period(longest_label_h, "the longest label period in hours", MOST_MILK_H)
    if hours == 0:
        return CascadeFloor(
            Fraction(CASCADE_ZERO_D * HOURS_PER_DAY), None, "the label says zero: 1 day"
        )
    return CascadeFloor(hours * CASCADE_TIMES, None, f"1.5 times {plain(hours)} hours")


def cascade_meat_floor(longest_label_d: Amount | None) -> CascadeFloor:
    """The UK cascade's least meat period; None where the product is for no food animal."""
    if longest_label_d is None:
        return CascadeFloor(
            None,
            Fraction(CASCADE_MEAT_NOT_AUTHORISED_D),
            "not authorised for food animals: 28 days",
        )
    days = _period(longest_label_d, "the longest label period in days", MOST_MEAT_D)
    if days == 0:
        return CascadeFloor(None, Fraction(CASCADE_ZERO_D), "the label says zero: 1 day")
    return CascadeFloor(None, days * CASCADE_TIMES, f"1.5 times {plain(days)} days")


def against_floor(
    floor: CascadeFloor, milk_h: Amount | None = None, meat_d: Amount | None = None
) -> Finding:
    """Whether the periods the veterinarian wrote reach the floor; a check, never a substitute."""
    short = []
    for written, least, unit in ((milk_h, floor.milk_h, "hours"), (meat_d, floor.meat_d, "days")):
        if least is None:
            continue
        if written is None:
            short.append(f"nothing is written, at least {plain(least)} {unit} is expected")
        elif exact(written, "the written period") < least:
            short.append(f"{plain(written)} {unit} is written, under {plain(least)}")
    if short:
        return Finding(
            Advice.STOP, f"{'; '.join(short)} ({floor.reason}): ask the veterinarian, keep holding"
        )
    return Finding(Advice.OK, f"what is written reaches the floor ({floor.reason})")


def _counted(
    product: str,
    hours: Fraction,
    last: Given,
    zone: tzinfo,
    counted_from: CountedFrom,
    kidded: Given | None,
) -> Clear:
    words = f"{product} held {plain(hours)} hours from"
    if counted_from == "last-dose":
        starts = [("the last dose", last)]
    elif kidded is None:
        return Clear(None, f"{words} kidding, which is not recorded: held until then")
    elif counted_from == "later":
        starts = [("the last dose", last), ("kidding", kidded)]
    elif _safe_instant(kidded, zone) < _safe_instant(last, zone):
        # That kidding cannot be the one the label means; counting from it would free treated milk.
        return Clear(None, f"{words} kidding, but she was dosed after it: held, ask the vet")
    else:
        starts = [("kidding", kidded)]
    name, start = max(starts, key=lambda pair: _safe_instant(pair[1], zone))
    note = "" if isinstance(start, datetime) else ", the end of that day as its time is unknown"
    at = add_hours(_safe_instant(start, zone), hours)
    return Clear(at, f"{words} {name} at {_clock(start, zone)}{note}")


def _clock(given: Given, zone: tzinfo) -> str:
    """When it was given, as the clock on the farm's wall showed it."""
    if isinstance(given, datetime):
        return given.astimezone(zone).isoformat(" ", "minutes")[:16]
    return given.isoformat()


def _safe_instant(given: Given, zone: tzinfo) -> datetime:
    return in_utc(given) if isinstance(given, datetime) else day_ends(given, zone)


def _period(period: Amount, what: str, most: int) -> Fraction:
    value = exact(period, what)
    if not 0 <= value <= most:
        raise ValueError(f"{what} must be 0 to {most}, not {plain(value)}; read the label again")
    return value
