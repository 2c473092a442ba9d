"""The farm in the words of ICAR-ADE JSON v1.3: animals, weights, treatments, withdrawals, services and more.

Each resource carries its record's id, who told it, and when it last changed; what was taken back is told
as deleted. Times are UTC with Z; a day is told as its first instant in the farm's zone. Must not know disk.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from herdsync.kinds.ids import text_id
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.papers import standard as words
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.withholding import FIELDS, held_by
from herdsync.reports import LactationLine

Resource = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Telling:
    """The herd told, and the scheme its ids are told under."""

    herd: Herd
    scheme: str

    def identifier(self, id: bytes) -> dict[str, str]:
        """A record's identity."""
        canonical = self.herd.records.canonical(id)
        return {"id": text_id(canonical), "scheme": self.scheme}


def collection(resources: Iterable[Resource]) -> Iterator[bytes]:
    """A collection as JSON, one member a line."""
    yield b'{"member":[\n'
    count = 0
    for resource in resources:
        lead = b",\n" if count else b""
        yield lead + json.dumps(resource, sort_keys=True, ensure_ascii=False).encode("utf-8")
        count += 1
    yield f'\n],"view":{{"totalItems":{count},"totalPages":1,"currentPage":1}}}}\n'.encode()


def resources(telling: Telling, lactations: Iterable[LactationLine]) -> Iterator[Resource]:
    """Every resource of the farm, animals first, each kind in the order it was begun."""
    herd = telling.herd
    for goat in herd.every:
        yield _animal(telling, goat)
    for kind, tell in _EVENTS.items():
        for record in herd.records.of_kind(kind):
            resource = _event(telling, record, *tell)
            if resource is not None:
                yield resource
    for goat in herd.every:
        yield from _withdrawals(telling, goat)
    for line in lactations:
        yield _lactation(telling, line)


def deleted(telling: Telling, record: Record) -> Resource | None:
    """A record that was taken back, as the standard tells a deletion."""
    tell = _EVENTS.get(record.kind)
    told = _event(telling, record, *tell) if tell is not None else None
    if told is not None:
        told["meta"]["isDeleted"] = True
    return told


def _animal(telling: Telling, goat: Goat) -> Resource:
    told = goat.told
    marks = [
        (f"{telling.scheme}.tattoo-{ear}", told(f"tattoo_{ear}"))
        for ear in ("right", "left", "tail")
    ]
    marks += [(f"{telling.scheme}.herd-book", told("registry_no")), ("std.iso.11785", told("chip"))]
    resource: Resource = {
        "resourceType": words.ANIMAL,
        "identifier": telling.identifier(goat.id),
        "alternativeIdentifiers": [{"id": str(id), "scheme": name} for name, id in marks if id],
        "specie": words.SPECIE,
        "gender": _gender(goat),
        "birthDate": _instant(goat.record, telling, "born"),
        "name": told("name"),
        "officialName": told("registry_name"),
        "managementTag": told("tag"),
        "coatColor": told("colour"),
        "primaryBreed": _breed(telling, goat),
        "status": _status(goat),
        "parentage": list(_parents(telling, goat)),
        "meta": _meta(telling, goat.record),
    }  # fmt: skip
    return _told(resource)


def _breed(telling: Telling, goat: Goat) -> Resource | None:
    told = goat.told("breed")
    return {"id": str(told), "scheme": f"{telling.scheme}.breed"} if told else None


def _gender(goat: Goat) -> str:
    if goat.wether:
        return "MaleNeuter"
    return {"doe": "Female", "buck": "Male"}.get(goat.sex, "Unknown")


def _status(goat: Goat) -> str:
    if goat.standing == "dead":
        return "Dead"
    return "Alive" if goat.of_herd else "OffFarm"


def _parents(telling: Telling, goat: Goat) -> Iterator[Resource]:
    for role, gender in (("dam", "Female"), ("sire", "Male")):
        id = goat.told(role)
        if isinstance(id, bytes):
            yield {
                "parentOf": telling.identifier(goat.id),
                "gender": gender,
                "relation": "Genetic",
                "identifier": telling.identifier(id),
            }


def _event(
    telling: Telling, record: Record, resource: str, subject: str,
    tell: Callable[[Telling, Record], Mapping[str, Any]],
) -> Resource | None:  # fmt: skip
    animal = record.value(subject)
    at = _instant(record, telling)
    if not isinstance(animal, bytes) or at is None:
        return None
    return _told(
        {
            "resourceType": resource,
            "id": text_id(record.id),
            "eventDateTime": at,
            "animal": telling.identifier(animal),
            "responsible": record.first.author.by,
            "remark": record.value("note"),
            "meta": _meta(telling, record),
            **tell(telling, record),
        }
    )


def _weight(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    weight = amount(record.value("weight_kg"), "kg")
    # Left out, a method would mean a scale.
    method = words.WEIGHT_METHOD.get(str(record.value("how")), "Assessed")
    return {"weight": {"measurement": float(round(weight, 4)), "units": "KGM", "method": method}}


def _treatment(telling: Telling, record: Record) -> Mapping[str, Any]:
    look = telling.herd.look
    product = record.value("product")
    animal = record.value("animal")
    goat = telling.herd.goat(animal) if isinstance(animal, bytes) else None
    volume = record.value("amount_ml")
    lot = record.value("lot")
    return {
        "medicine": {"name": look.names(product), "family": words.FAMILY}
        if isinstance(product, bytes)
        else None,
        "dose": None
        if volume is None
        else {"doseQuantity": float(round(amount(volume, "mL"), 4)), "doseUnits": "MLT"},
        "site": record.value("site"),
        "batches": [{"identifier": str(lot)}] if lot else [],
        "withdrawals": [] if goat is None else list(_ends(goat, record)),
        "comment": record.value("because") if record.kind == "dose" else "vaccination",
    }


def _ends(goat: Goat, record: Record) -> Iterator[Resource]:
    for what in FIELDS:
        ends = [held.clear.at for held in held_by(goat, what) if record.id in held.records]
        known = [end for end in ends if end is not None]
        if known and len(known) == len(ends):
            yield {"productType": words.PRODUCT[what], "endDate": _utc(max(known))}


def _procedure(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    return {"procedure": record.kind}


def _service(telling: Telling, record: Record) -> Mapping[str, Any]:
    buck = record.value("buck")
    until = record.value("until")
    ends = moments.span(until, telling.herd.look.zone)[1] if isinstance(until, str) else None
    return {
        "inseminationType": words.SERVICE_TYPE.get(str(record.value("how")), "NaturalService"),
        "sireIdentifiers": [telling.identifier(buck)] if isinstance(buck, bytes) else [],
        "eventEndDateTime": _utc(ends) if ends is not None else None,
    }


def _pregnancy(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    kids = record.value("kids")
    result = words.CHECK_RESULT.get(str(record.value("result")), "Unknown")
    how = record.value("how")
    return {
        "result": "Multiple"
        if result == "Pregnant" and isinstance(kids, int) and kids > 1
        else result,
        "method": words.CHECK_METHOD.get(str(how), "Other") if how else None,
        "foetusCount": kids,
    }


def _kidding(telling: Telling, record: Record) -> Mapping[str, Any]:
    alive, dead = record.value("born_alive"), record.value("born_dead")
    named = telling.herd.records.naming(record.id, "animal")
    kids = [kid for one in named if (kid := telling.herd.goat(one.id)) is not None]
    details = [
        _told({"resourceType": "icarProgenyDetailsResource", "identifier": telling.identifier(kid.id),
               "specie": words.SPECIE, "gender": _gender(kid), "name": kid.told("name"),
               "birthStatus": "Stillborn" if kid.told("born_alive") is False else "Alive"})
        for kid in kids
    ]  # fmt: skip
    total = None if alive is None and dead is None else (alive or 0) + (dead or 0)
    return {
        "liveProgeny": alive,
        "totalProgeny": total,
        "calvingEase": words.EASE.get(str(record.value("ease"))),
        "progenyDetails": details,
    }


def _arrival(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    how = record.value("how")
    return {"arrivalReason": words.ARRIVAL_REASON.get(str(how), "Other") if how else None}


def _departure(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    return {"departureKind": words.DEPARTURE_KIND.get(str(record.value("how")), "Other")}


def _death(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    how = str(record.value("how") or "")
    return {
        "deathMethod": words.DEATH_METHOD.get(how, "Perished"),
        "explanation": record.value("cause"),
    }


def _test_day(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling
    milk, cells = record.value("milk_kg"), record.value("cells_per_ml")
    found = [
        {
            "characteristic": code,
            "value": f"{float(amount(record.value(field), '%')):g}",
            "unit": unit,
        }
        for field, (code, unit) in words.CHARACTERISTIC.items()
        if record.value(field) is not None
    ]
    if isinstance(cells, int):
        code, unit = words.CELLS
        found.append({"characteristic": code, "value": f"{cells / 1000:g}", "unit": unit})
    weight = (
        None if milk is None else {"unitCode": "KGM", "value": float(round(amount(milk, "kg"), 4))}
    )
    return {"milkWeight24Hours": weight, "milkCharacteristics": found}


def _bare(telling: Telling, record: Record) -> Mapping[str, Any]:
    del telling, record
    return {}


def _withdrawals(telling: Telling, goat: Goat) -> Iterator[Resource]:
    """What a dose holds, as events of their own; without an end where nobody knows it."""
    for what in FIELDS:
        for held in held_by(goat, what):
            dose = telling.herd.records.get(held.records[0])
            at = _instant(dose, telling) if dose is not None else None
            if dose is None or at is None or not held.holds(telling.herd.look.moment):
                continue
            end = held.clear.at
            yield _told(
                {
                    "resourceType": words.WITHDRAWAL,
                    "id": f"{text_id(dose.id)}-{what}",
                    "eventDateTime": at,
                    "animal": telling.identifier(goat.id),
                    "productType": words.PRODUCT[what],
                    "endDateTime": _utc(end) if end is not None else None,
                    "remark": held.words,
                    "meta": _meta(telling, dose),
                }
            )


def _lactation(telling: Telling, line: LactationLine) -> Resource:
    zone = telling.herd.look.zone

    def kilos(value: float | None) -> Resource | None:
        return None if value is None else {"unitCode": "KGM", "value": value}

    begins, ends = (_utc(moments.span(told, zone)[0]) for told in (line.start, line.end))
    return _told(
        {
            "resourceType": words.LACTATION,
            "id": f"{line.animal}-{line.start}",
            "animal": {"id": line.animal, "scheme": telling.scheme},
            "beginDate": begins,
            "endDate": None if line.running else ends,
            "lactationLength": line.days,
            "milkAmount": kilos(line.milk_kg),
            "fatAmount": kilos(line.fat_kg),
            "proteinAmount": kilos(line.protein_kg),
            "lactationType": "Normal",
            "meta": {
                "source": telling.scheme,
                "sourceId": f"{line.animal}-{line.start}",
                "modified": ends,
            },
        }
    )


def _meta(telling: Telling, record: Record) -> Resource:
    changed = max(claim.author.clock for claim in record.claims())
    begun = record.first.author
    return {
        "source": telling.scheme,
        "sourceId": text_id(record.id),
        "modified": _clock(changed),
        "created": _clock(begun.clock),
        "creator": begun.by,
        "isDeleted": not record.stands,
    }


def _instant(record: Record, telling: Telling, field: str = "") -> str | None:
    first = acts.first_instant(record, telling.herd.look.zone, field)
    return None if first is None else _utc(first)


def _clock(clock_ms: int) -> str:
    """What a device's clock read; a reading no calendar holds is told as the beginning of 1970."""
    begins = datetime(1970, 1, 1, tzinfo=UTC)
    try:
        return _utc(begins + timedelta(milliseconds=clock_ms))
    except (OverflowError, ValueError):
        return _utc(begins)


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).replace(microsecond=0).isoformat().replace("+00:00", "Z")


def _told(resource: Resource) -> Resource:
    """Without what nobody told."""
    return {name: value for name, value in resource.items() if value is not None and value != []}


_EVENTS: dict[str, tuple[str, str, Callable[[Telling, Record], Mapping[str, Any]]]] = {
    "weighing": (words.WEIGHT, "animal", _weight),
    "dose": (words.TREATMENT, "animal", _treatment),
    "vaccination": (words.TREATMENT, "animal", _treatment),
    "hoof-trim": (words.TREATMENT, "animal", _procedure),
    "disbudding": (words.TREATMENT, "animal", _procedure),
    "castration": (words.TREATMENT, "animal", _procedure),
    "heat": (words.HEAT, "doe", _bare),
    "mating": (words.SERVICE, "doe", _service),
    "pregnancy-check": (words.PREGNANCY, "doe", _pregnancy),
    "kidding": (words.KIDDING, "doe", _kidding),
    "abortion": (words.ABORTION, "doe", _bare),
    "dry-off": (words.DRY_OFF, "doe", _bare),
    "arrival": (words.ARRIVAL, "animal", _arrival),
    "leaving": (words.DEPARTURE, "animal", _departure),
    "death": (words.DEATH, "animal", _death),
    "test-day": (words.TEST_DAY, "doe", _test_day),
}
