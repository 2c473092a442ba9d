"""What to look at in a dose or vaccine just written down, against product, course, weight and shelf.

Every figure compared was typed by a keeper from label or prescription; nothing here prescribes.
Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from fractions import Fraction

from herdsync.kinds.medicine import MEDICINES
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.amounts import told
from herdsync.projections.courses import dose_gap
from herdsync.projections.cupboard import expiry_of, lots_of, stock_of
from herdsync.projections.goat import Goat
from herdsync.projections.held import discarded, passed_to
from herdsync.projections.herd import Herd
from herdsync.trade import extra_label
from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dosing import (
    Route,
    dose_volume,
    plausible_weight,
    split_sites,
    weight_age,
)
from herdsync.trade.units import plain
from herdsync.trade.vaccination import first_dose_timing, second_dose_timing
from herdsync.trade.withdrawal import against_floor, cascade_meat_floor, cascade_milk_floor

# Further from the volume that the typed rate gives than this is worth a second look: common
# practice, no published source.
VOLUME_OFF_PERCENT = 10
_INJECTED: dict[str, Route] = {"in-muscle": "muscle", "under-skin": "skin"}


def dose_checks(herd: Herd, goat: Goat, dose: Record) -> Iterator[str]:
    """Sentences on one dose or vaccine of an animal; none where nothing is to be looked at."""
    at = acts.last_instant(dose, herd.look.zone)
    product_id = dose.value("product")
    product = herd.records.get(product_id) if isinstance(product_id, bytes) else None
    if product is None or at is None:
        return
    day = at.astimezone(herd.look.zone).date()
    name = herd.look.names.of(product)
    yield from _timing(goat, dose, product, at, name)
    if dose.kind == "dose":
        yield from _volume(goat, dose, product, day)
    else:
        yield from _vaccine_timing(herd, goat, dose, day)
    yield from _sites(dose, product)
    yield from _shelf(herd, dose, product, day, name)
    yield from _differing(dose, product, name)
    if dose.value("extra_label") or product.value("extra_label"):
        yield from _outside_label(goat, dose, product)
    yield from milk_words(herd, goat)


def timing_words(herd: Herd, goat: Goat, dose: Record) -> Iterator[str]:
    """What is to be looked at in when a dose was given: too soon after another, or written down twice."""
    at = acts.last_instant(dose, herd.look.zone)
    product_id = dose.value("product")
    product = herd.records.get(product_id) if isinstance(product_id, bytes) else None
    if product is not None and at is not None:
        yield from _timing(goat, dose, product, at, herd.look.names.of(product))


def milk_words(herd: Herd, doe: Goat) -> Iterator[str]:
    """Which milkings a hold on a doe discards, and which kids take it over."""
    milkings = discarded(herd, doe)
    if milkings is not None:
        first = moments.said(milkings.first_saleable, herd.look.zone)
        yield (
            f"{doe.name}: {len(milkings.discarded)} milkings after the last dose are discarded; the "
            f"first that may be sold is {first}, by the farm's chore times."
        )
    kids = passed_to(herd, doe)
    if kids:
        yield f"With hers, the meat of those that drink from {doe.name} is held: {', '.join(kids)}."


def product_checks(herd: Herd, product: Record) -> Iterator[str]:
    """Doses that keep another withdrawal than the product's sheet now says."""
    keep: dict[str, int] = {}
    for kind in MEDICINES:
        for dose in herd.records.naming(product.id, kind):
            for words in _differences(dose, product):
                keep[words] = keep.get(words, 0) + 1
    name = herd.look.names.of(product)
    for words, count in sorted(keep.items()):
        yield (
            f"{count} recorded of {name}: {words}. They keep what was written with them; if that "
            "was misread, amend each and say why."
        )
    yield from (f"{name}: {gap}." for gap in _label_gaps(product))


def _timing(
    goat: Goat, dose: Record, product: Record, at: datetime, name: str
) -> Iterator[str]:  # fmt: skip
    gap = dose_gap(goat, product.id, at, dose)
    if gap is not None:
        yield f"{name} for {goat.name}: {gap.reason}."
    for other in goat.acts.get(dose.kind, []):
        same = other.value("product") in product.ids and other.id != dose.id
        when = acts.last_instant(other, goat.look.zone)
        if same and when is not None and abs((when - at).total_seconds()) <= 12 * 3600:
            who = other.first.author.by or other.first.author.keeper
            yield (
                f"{who} recorded {name} for {goat.name} {acts.when_words(other, goat.look.zone)} too:"
                " was it given once or twice? Ask, then say 'same' or 'different'."
            )


def _volume(goat: Goat, dose: Record, product: Record, day: date) -> Iterator[str]:
    """The volume given beside the one that weight and typed rate make."""
    rate = told(product, "rate_mg_per_kg", "mg/kg")
    strength = told(product, "strength_mg_per_ml", "mg/mL")
    by_volume = told(product, "rate_ml_per_kg", "mL/kg")
    given = told(dose, "amount_ml", "mL")
    by_weight = (rate and strength) or by_volume
    if not by_weight:
        return
    weighings = [
        (on, act) for on, act in goat.done("weighing") if act.value("weight_kg") and on <= day
    ]
    if not weighings:
        yield f"{goat.name} has no weight on record, and the rate is by weight: weigh, do not guess."
        return
    on, newest = weighings[-1]
    weight = told(newest, "weight_kg", "kg")
    assert weight is not None
    for finding in weight_findings(goat, weighings, day):
        yield f"Weight of {goat.name}: {finding.reason}."
    if given is None:
        return
    wanted = weight * by_volume if by_volume else dose_volume(weight, rate or 1, strength or 1)
    off = (given - wanted) / wanted * 100 if wanted else Fraction(0)
    if abs(off) > VOLUME_OFF_PERCENT:
        yield (
            f"{plain(given)} mL is {plain(abs(off), 0)} % {'over' if off > 0 else 'under'} the "
            f"{plain(wanted, 2)} mL that the rate written down gives for {plain(weight)} kg of "
            f"{on}: read label or instruction again."
        )


def weight_findings(
    goat: Goat, weighings: list[tuple[date, Record]], day: date
) -> Iterator[Finding]:
    """Whether the newest of some weights is fresh and follows from the one before."""
    on, newest = weighings[-1]
    born = goat.born if goat.born is not None and goat.born <= on else None
    age = weight_age(on, day, born)
    if age.advice is not Advice.OK:
        yield age
    weight = told(newest, "weight_kg", "kg")
    earlier = [one for one in weighings[:-1] if one[0] < on]
    before = told(earlier[-1][1], "weight_kg", "kg") if earlier else None
    if weight and before:
        follows = plausible_weight(before, earlier[-1][0], weight, on, born)
        if follows.advice is not Advice.OK:
            yield follows
    how = newest.value("how")
    if how == "by-eye":
        yield Finding(Advice.LOOK, "the newest is a guess by eye: weigh or tape before dosing")


def _vaccine_timing(herd: Herd, goat: Goat, dose: Record, day: date) -> Iterator[str]:
    if goat.born is None or day < goat.born or (day - goat.born).days > 240:
        return
    product = dose.value("product")
    before = [
        on
        for on, act in goat.done("vaccination")
        if act.value("product") == product and act.id != dose.id and on <= day
    ]
    if before:
        finding = second_dose_timing(before[-1], day)
    else:
        dam_id = goat.told("dam")
        dam = herd.goat(dam_id) if isinstance(dam_id, bytes) else None
        boosted = dam is not None and any(
            14 <= (goat.born - on).days <= 42 for on, _ in dam.done("vaccination")
        )
        finding = first_dose_timing(goat.born, day, cover_from_dam=boosted)
    if finding.advice is not Advice.OK:
        yield f"Vaccine of {goat.name}: {finding.reason}."


def _sites(dose: Record, product: Record) -> Iterator[str]:
    route = str(dose.value("route") or product.value("route") or "")
    given = told(dose, "amount_ml", "mL")
    if route not in _INJECTED or not given:
        return
    try:
        sites = split_sites(given, _INJECTED[route], told(product, "max_per_site_ml", "mL"))
    except ValueError as fault:
        yield f"Injection sites: {fault}."
        return
    if sites.count > 1:
        yield (
            f"{plain(given)} mL {route} goes in {sites.count} places of {plain(sites.each_ml)} mL: "
            f"{sites.reason}."
        )


def _shelf(herd: Herd, dose: Record, product: Record, day: date, name: str) -> Iterator[str]:
    lot = str(dose.value("lot") or "")
    lots = lots_of(herd, product)
    expiry = expiry_of(herd, product, lot)
    if expiry and day.isoformat() > expiry:
        yield f"{name} had expired on {expiry}: tell the veterinarian, and check every bottle."
    if lot and lots and lot not in lots:
        yield f"Lot {lot} of {name} is not on record; known are {', '.join(sorted(lots))}."
    if not lot and lots:
        yield f"No lot of {name} was written down: read it off the bottle (lot=...)."
    stock = stock_of(herd, product)
    if stock.short or (stock.left_ml is not None and stock.left_ml < 0):
        yield f"{name}: {stock.says}."


def _differing(dose: Record, product: Record, name: str) -> Iterator[str]:
    yield from (f"{name}: {words}." for words in _differences(dose, product))
    for field, what in (("milk_h", "milk"), ("meat_d", "meat")):
        if dose.value(field) is None and not product.value(f"{what}_never"):
            yield (
                f"No {what} withdrawal is written down for {name}: {what} stays held until label or "
                "veterinarian is asked and the dose amended."
            )


def _differences(dose: Record, product: Record) -> Iterator[str]:
    for field, unit, what in (("milk_h", "h", "milk"), ("meat_d", "d", "meat")):
        here, there = told(dose, field, unit), told(product, field, unit)
        if here is not None and there is not None and here != there:
            yield (
                f"the dose says {plain(here)} {unit} for {what}, the product {plain(there)} {unit}"
            )


def _outside_label(goat: Goat, dose: Record, product: Record) -> Iterator[str]:
    told_of = _extra_label_fields(goat, dose, product)
    gaps = extra_label.record_gaps(told_of)
    if gaps.missing:
        yield _capital(f"{gaps.finding.reason}.")
    if goat.look.settings.country.startswith("GB"):
        yield from _cascade(dose, product)


def _extra_label_fields(goat: Goat, dose: Record, product: Record) -> dict[str, str]:
    course_id = dose.value("course")
    course = goat.look.records.get(course_id) if isinstance(course_id, bytes) else None
    because = dose.value("because") or (course.value("because") if course is not None else "")
    doses = (course.value("doses") if course is not None else None) or product.value("course_doses")
    meat = dose.value("meat_d") is not None or product.value("meat_never")
    milk = dose.value("milk_h") is not None or product.value("milk_never") or not goat.female
    return {
        "animals": goat.name,
        "species": "goat",
        "number_treated": "1",
        "condition": str(because or ""),
        "drug": str(product.value("name") or product.value("substance") or ""),
        "active_ingredient": str(product.value("substance") or ""),
        "dosage": "told" if dose.value("amount_ml") is not None else "",
        "duration": f"{doses} doses" if doses else "",
        "withdrawal": "told" if meat and milk else "",
    }


def _label_gaps(product: Record) -> Iterator[str]:
    """What the veterinarian's label of a product for use outside its own label lacks."""
    if not product.value("extra_label"):
        return
    gaps = extra_label.label_gaps(
        {
            "veterinarian": str(product.value("said_by") or ""),
            "veterinarian_address": str(product.value("vet_address") or ""),
            "drug": str(product.value("name") or product.value("substance") or ""),
            "for_whom": "goat",
            "frequency": "told" if product.value("interval_h") is not None else "",
            "route": str(product.value("route") or ""),
            "duration": "told" if product.value("course_doses") is not None else "",
            "cautions": str(product.value("note") or ""),
            "withdrawal": "told"
            if product.value("milk_h") is not None and product.value("meat_d") is not None
            else "",
        }
    )
    if gaps.missing:
        yield gaps.finding.reason


def _cascade(dose: Record, product: Record) -> Iterator[str]:
    """The UK cascade's floor beside what the veterinarian wrote: a check, no substitute."""
    for field, unit, floor_of in (
        ("milk_h", "h", cascade_milk_floor),
        ("meat_d", "d", cascade_meat_floor),
    ):
        floor = floor_of(told(product, f"label_{field}", unit))
        finding = against_floor(floor, **{field: told(dose, field, unit)})
        if finding.advice is not Advice.OK:
            yield f"UK cascade: {finding.reason}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
