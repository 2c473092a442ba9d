"""What the doses of an animal hold: when milk and meat are clear, counted so that nothing shortens it.

Every claim that counts for safety is a dose of its own here: late, doubled, unvouched and disputed
ones lengthen, and only what a keeper corrected with a reason falls away. Must not know the plan.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Literal

from msgspec import Struct

from herdsync.kinds.medicine import MEDICINES
from herdsync.kinds.quantities import amount
from herdsync.merge.lone import Lone
from herdsync.merge.payloads import RECORD, RESOLVE
from herdsync.merge.records import Claim, Record
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.trade.dates import add_days, day_ends
from herdsync.trade.units import plain
from herdsync.trade.withdrawal import (
    MOST_MEAT_D,
    MOST_MILK_H,
    Clear,
    CountedFrom,
    Given,
    meat_clear,
    milk_clear,
)

What = Literal["milk", "meat"]
FIELDS: dict[What, str] = {"milk": "milk_h", "meat": "meat_d"}
# A medicine for the dry period counts from the kidding it was given before: she kids within a
# gestation of it.
KIDS_WITHIN_DAYS = 155
# No label holds longer: an old dose of which nothing is known is over by then.
UNKNOWN_OVER_DAYS: dict[What, int] = {"milk": MOST_MILK_H // 24, "meat": MOST_MEAT_D}

_COUNTED: dict[str, CountedFrom] = {
    "last-dose": "last-dose",
    "kidding": "kidding",
    "later-of-both": "later",
}


class Held(Struct, frozen=True):
    """One dose's hold on milk or meat: until when, by which records, whether they disagree.

    ``given`` is the last local day it can have been given on.
    """

    what: What
    clear: Clear
    given: date
    records: tuple[bytes, ...]
    words: str
    disputed: bool

    def holds(self, moment: datetime) -> bool:
        """Whether it holds at an instant; an unknown end holds."""
        return self.clear.at is None or moment <= self.clear.at


def given_to(goat: Goat) -> list[Record]:
    """Every dose and vaccine that counts for an animal's safety, retracted without reason or not."""
    if "given" not in goat.kept:
        goat.kept["given"] = _given_to(goat)
    given: list[Record] = goat.kept["given"]
    return given


def _given_to(goat: Goat) -> list[Record]:
    return [
        one
        for kind in MEDICINES
        for one in goat.past.ever(kind)
        if (one.counts or one.counts_for_safety_alone) and _is_about(goat, one)
    ]


def held_by(goat: Goat, what: What) -> list[Held]:
    """What every dose of an animal holds of its milk or meat, those over included."""
    found: list[Held] | None = goat.kept.get(what)
    if found is None:
        doses = [] if _milkless(goat, what) else given_to(goat)
        found = goat.kept[what] = [held for dose in doses for held in _held(goat, dose, what)]
    return found


def still_held_by(goat: Goat, what: What) -> list[Held]:
    """The same without the doses that are surely ``over``."""
    key = f"{what} still"
    found: list[Held] | None = goat.kept.get(key)
    if found is None:
        doses = [] if _milkless(goat, what) else given_to(goat)
        left = [dose for dose in doses if not over(goat, dose, what)]
        found = goat.kept[key] = [held for dose in left for held in _held(goat, dose, what)]
    return found


def _milkless(goat: Goat, what: What) -> bool:
    return what == "milk" and settled(goat.record, "sex", "buck")


def over(goat: Goat, dose: Record, what: What) -> bool:
    """Whether a plain dose of a plain product surely holds nothing any more: most of a long history.

    Plain means that nobody disputes, corrected or left out anything that could make it hold longer.
    """
    told = _told_once(dose)
    times = dose.safety_values("on")
    if told is None or len(times) != 1 or FIELDS[what] in told:
        return False
    product = told.get("product")
    longest = _longest_plain(goat, product, what) if isinstance(product, bytes) else None
    if longest is None:
        return False
    day = moments.last_day(str(times[0]), goat.look.zone)
    return day + timedelta(days=longest) < goat.look.today


def _told_once(dose: Record) -> Mapping[str, object] | None:
    """What a dose tells of its product, and perhaps more; None where it was told more than once."""
    if isinstance(dose, Lone):
        return dose.fields
    claims = safe_claims(dose, "product")
    return claims[0].values if len(claims) == 1 else None


def _longest_plain(goat: Goat, product: bytes, what: What) -> int | None:
    """Whole days after which a product counted from the last dose holds no longer; None if unsure."""
    key = (product, what)
    if key not in goat.look.longest:
        record = goat.look.records.get(product)
        periods = record.safety_values(FIELDS[what]) if record is not None else []
        sure = (
            record is not None
            and bool(record.values(FIELDS[what]))
            and not any(record.safety_values(f"{what}_never"))
            and set(record.safety_values("counted_from")) <= {"last-dose"}
        )
        hours = [amount(one, "h" if what == "milk" else "d") for one in periods]
        days = max((hour / 24 if what == "milk" else hour for hour in hours), default=Fraction(0))
        sure = sure and days <= UNKNOWN_OVER_DAYS[what]
        goat.look.longest[key] = math.ceil(days) + 2 if sure else None
    return goat.look.longest[key]


def settled(record: Record, field: str, value: object) -> bool:
    """Whether a field surely holds a value: told so at the beginning, or since with a reason.

    Freeing an animal from a hold needs this much; a bare late claim frees nothing.
    """
    if isinstance(record, Lone):
        return record.fields.get(field) == value
    claims = safe_claims(record, field)
    told = [claim for claim in claims if field in claim.values]
    return bool(told) and all(
        claim.values[field] == value
        and claim.vouched
        and (claim.verb in (RECORD, RESOLVE) or bool(claim.because))
        for claim in told
    )


def safe_claims(record: Record, field: str) -> list[Claim]:
    """The claims on a field's register that count for safety."""
    register = record.registers.get(record.register_of(field))
    return register.safety() if register is not None else []


def _is_about(goat: Goat, dose: Record) -> bool:
    return any(told in goat.record.ids for told in dose.safety_values("animal"))


def _held(goat: Goat, dose: Record, what: What) -> Iterator[Held]:
    times = [str(told) for told in dose.safety_values("on")]
    register = dose.registers.get(dose.register_of("product"))
    ended = {claim.entry for claim in register.ended} if register is not None else set()
    for claim in safe_claims(dose, "product"):
        for product in _products(goat, dose, claim):
            disputed = dose.any_disputed or (product is not None and product.any_disputed)
            named = (dose.id,) if product is None else (dose.id, product.id)
            name = "a product not on record" if product is None else goat.look.names.of(product)
            words = f"{name} given {acts.when_words(dose, goat.look.zone)}"
            for told in times:
                given = moments.last_day(told, goat.look.zone)
                if _untold(claim, product, what) and claim.entry not in ended:
                    unknown = _unknown(goat, told, what)
                    yield Held(what, unknown, given, named, words, disputed)
                for clear in _clears(goat, told, claim, product, what):
                    yield Held(what, clear, given, named, words, disputed)


def _products(goat: Goat, dose: Record, claim: Claim) -> list[Record | None]:
    """The product a claim names; where it names none, all that count for the dose."""
    told = [claim.values["product"]] if "product" in claim.values else dose.safety_values("product")
    found = [goat.look.records.get(one) for one in told if isinstance(one, bytes)]
    return list(found) or [None]


def _clears(
    goat: Goat, told: str, claim: Claim, product: Record | None, what: What
) -> Iterator[Clear]:
    """Every instant of clearing that claim, product and time of the dose allow."""
    if product is not None and any(product.safety_values(f"{what}_never")):
        yield Clear(None, f"{what} may never be sold after it")
        return
    field = FIELDS[what]
    periods = [claim.values[field]] if field in claim.values else []
    if not periods and product is not None:
        periods = product.safety_values(field)
    counted = product.safety_values("counted_from") if product is not None else []
    for period in periods:
        number = amount(period, "h" if what == "milk" else "d")
        for base in counted or ["last-dose"]:
            yield _clear(goat, told, number, _COUNTED.get(str(base), "later"), what)


def _untold(claim: Claim, product: Record | None, what: What) -> bool:
    """Whether neither the dose nor its product says how long it holds."""
    field = FIELDS[what]
    return field not in claim.values and (product is None or not product.values(field))


def _clear(goat: Goat, told: str, number: Fraction, base: CountedFrom, what: What) -> Clear:
    zone = goat.look.zone
    given = _given(goat, told)
    try:
        if what == "meat":
            return meat_clear(given, number, zone)
        kidded = None if base == "last-dose" else _kidding_after(goat, told)
        return milk_clear(given, number, zone, counted_from=base, kidded=kidded)
    except ValueError:
        unit = "hours" if what == "milk" else "days"
        reason = f"a {what} withdrawal of {plain(number)} {unit} cannot be right: read the label"
        return Clear(None, reason)


def _unknown(goat: Goat, told: str, what: What) -> Clear:
    """Held while no period is written down, until no label could hold any longer."""
    last = moments.last_day(told, goat.look.zone)
    over = day_ends(add_days(last, UNKNOWN_OVER_DAYS[what]), goat.look.zone)
    reason = f"no {what} withdrawal is written down: ask label or veterinarian"
    return Clear(over if goat.look.moment > over else None, reason)


def _given(goat: Goat, told: str) -> Given:
    """A moment as such; of a date or month the last day, so that a hold counts from its end."""
    if moments.exact(told):
        return moments.span(told, goat.look.zone)[1].astimezone(goat.look.zone)
    return moments.last_day(told, goat.look.zone)


def _kidding_after(goat: Goat, told: str) -> Given | None:
    """The kidding a dose was given before: the latest within a gestation, else the next one."""
    first = moments.span(told, goat.look.zone)[0]
    within = first + timedelta(days=KIDS_WITHIN_DAYS)
    after = []
    for act in goat.acts.get("kidding", []):
        for text in acts.times(act):
            latest = moments.span(text, goat.look.zone)[1]
            if latest >= first:
                after.append((latest, text))
    near = [one for one in after if one[0] <= within]
    chosen = max(near, default=None) or min(after, default=None)
    return None if chosen is None else _given(goat, chosen[1])
