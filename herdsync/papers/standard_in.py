"""Resources of ICAR-ADE JSON v1.3 as lines a keeper would type: read, checked, turned.

A resource becomes the same record wherever and how often it is taken in: its key is its source and the id
it has there. What this program has no record for is told so. Must not know disk or farm.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.faults import Refused
from herdsync.kinds.on import moment_text, span
from herdsync.papers import standard as words
from herdsync.papers.lines import Line

FILE_BYTES = 64 * 1024 * 1024
MEMBERS_MOST = 200_000
# On whose word a withdrawal counts that came with a treatment.
SAID_BY = "told with the imported treatment"
_SEX = {
    "Female": "doe", "FemaleNeuter": "doe", "Male": "buck", "MaleCryptorchid": "buck",
    "MaleNeuter": "buck",
}  # fmt: skip
Resource = Mapping[str, Any]
# Whom an identifier means, as a keeper would type it.
Whom = Callable[[str, str], str]


class _Unfit(Exception):
    """Why one resource cannot be taken."""


def members_of(raw: bytes) -> list[Any]:
    """The resources of a file: a collection, a list, or one alone. Raises Refused."""
    if len(raw) > FILE_BYTES:
        raise Refused(f"The file is larger than {FILE_BYTES // 1024**2} MiB.", "Cut it into parts.")
    try:
        told = json.loads(raw.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as fault:
        why = str(fault) if isinstance(fault, ValueError) else "it nests too deep"
        raise Refused(f"The file is no JSON in UTF-8 ({why[:120]}).", "Export it again.") from fault
    if isinstance(told, dict) and "member" in told:
        told = told["member"]
    elif isinstance(told, dict):
        told = [told]
    if not isinstance(told, list) or len(told) > MEMBERS_MOST:
        raise Refused("The file holds no collection of resources.", "Export it again.")
    return told


def identities(members: list[Any]) -> dict[tuple[str, str], tuple[str, ...]]:
    """The key of the line of each animal a file brings, by its scheme and id."""
    found = {}
    for member in members:
        if isinstance(member, dict) and _short(member.get("resourceType")) == words.ANIMAL:
            try:
                scheme, id = _identifier(member.get("identifier"))
            except _Unfit:
                continue
            found[scheme, id] = animal_key(scheme, id)
    return found


def animal_key(scheme: str, id: str) -> tuple[str, ...]:
    """The key of an animal's line."""
    return ("animal", "ade", scheme, id)


def standard_lines(members: list[Any], whom: Whom, zone: ZoneInfo, own: str) -> Iterator[Line]:
    """A line for each resource, numbered from 1; ``own``: the scheme of this farm's own ids."""
    for number, member in enumerate(members, 1):
        try:
            line = _line(number, member, whom, zone, own)
        except _Unfit as fault:
            yield Line(number, why=f"{fault}.")
            continue
        if line is not None:
            yield line


def _line(number: int, member: Any, whom: Whom, zone: ZoneInfo, own: str) -> Line | None:
    if not isinstance(member, dict):
        raise _Unfit("it is no resource")
    name = _short(member.get("resourceType"))
    for needed in words.REQUIRED.get(name, ()):
        if needed not in member:
            raise _Unfit(f"{name} lacks {needed}, which the standard requires")
    meta = member.get("meta")
    meta = meta if isinstance(meta, dict) else {}
    if meta.get("isDeleted"):
        raise _Unfit("it is told as deleted; retract the record here by hand")
    source, source_id = (
        str(meta.get("source") or ""),
        str(meta.get("sourceId") or member.get("id") or ""),
    )
    record = source_id if source == own else ""
    if name == words.ANIMAL:
        scheme, id = _identifier(member["identifier"])
        return Line(number, "animal", _animal(member, whom, zone), animal_key(scheme, id), record)
    if name in (words.WITHDRAWAL, words.LACTATION):
        if record:
            return None
        raise _Unfit(f"{name} follows from other records here and is not taken")
    reading = _READERS.get(name)
    if reading is None:
        raise _Unfit(f"{str(member.get('resourceType'))[:60]!r} has no record here")
    kind, subject, read = reading
    pairs = {subject: whom(*_identifier(member["animal"]))}
    if "eventDateTime" not in member:
        raise _Unfit("it says no eventDateTime, and today's would be a guess")
    pairs["on"] = _on(member["eventDateTime"], zone)
    told = read(member, whom, zone)
    kind = told.pop("kind", kind)
    pairs |= {field: text for field, text in told.items() if text}
    if member.get("remark"):
        pairs["note"] = str(member["remark"])
    key = source_id and ("ade", source, name, source_id)
    return Line(number, kind, pairs, (kind, *(key or ("ade", _canonical(member)))), record)


def _animal(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    if member["specie"] != words.SPECIE:
        raise _Unfit(f"it is a {str(member['specie'])[:20]}, and this farm keeps goats")
    gender = member["gender"]
    if gender not in words.GENDER:
        raise _Unfit(f"{str(gender)[:20]!r} is no gender of the standard")
    pairs = {
        "name": member.get("name") or member.get("officialName"),
        "registry_name": member.get("officialName"),
        "tag": member.get("managementTag"),
        "colour": member.get("coatColor"),
        "sex": _SEX.get(str(gender), "unknown"),
        "born": _on(member["birthDate"], zone) if member.get("birthDate") else "",
        "standing": "" if member.get("status", "Alive") == "Alive" else "outside",
        "breed": _breed(member.get("primaryBreed")),
    }  # fmt: skip
    identifiers = [member["identifier"], *_list(member, "alternativeIdentifiers")]
    for scheme, id in (_identifier(one) for one in identifiers):
        if scheme in words.CHIP_SCHEMES:
            pairs["chip"] = id
        for place in ("right", "left", "tail"):
            if scheme.endswith(f".tattoo-{place}"):
                pairs[f"tattoo_{place}"] = id
        if scheme.endswith(".herd-book"):
            pairs["registry_no"] = id
    for parent in _list(member, "parentage"):
        if not isinstance(parent, dict) or "identifier" not in parent:
            raise _Unfit("its parentage is not of the standard's form")
        role = {"Female": "dam", "Male": "sire"}.get(str(parent.get("gender")))
        if role:
            pairs[role] = whom(*_identifier(parent["identifier"]))
    return {field: str(text) for field, text in pairs.items() if text}


def _breed(told: Any) -> str:
    return str(told.get("id") or "") if isinstance(told, dict) else ""


def _weight(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    weight = member.get("weight")
    if not isinstance(weight, dict) or not _number(weight.get("measurement")):
        raise _Unfit("it tells no weight")
    unit = words.WEIGHT_UNITS.get(str(weight.get("units", "KGM")))
    if unit is None:
        raise _Unfit(f"{str(weight.get('units'))[:20]!r} is no unit of weight known here")
    method = weight.get("method", "LoadCell")
    how = words.ours(words.WEIGHT_METHOD, method, str(method))
    return {"weight_kg": f"{_plain(weight['measurement'])} {unit}", "how": how}


def _treatment(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom
    procedure = member.get("procedure")
    if procedure in ("hoof-trim", "disbudding", "castration"):
        return {"kind": str(procedure)}
    medicine = member.get("medicine")
    name = medicine.get("name") if isinstance(medicine, dict) else None
    if not name:
        raise _Unfit("it names no medicine, and no procedure this program has a record for")
    told = {"product": str(name), "site": str(member.get("site") or "")}
    dose = member.get("dose")
    if isinstance(dose, dict) and _number(dose.get("doseQuantity")):
        unit = words.DOSE_UNITS.get(str(dose.get("doseUnits")))
        if unit is None:
            raise _Unfit(f"{str(dose.get('doseUnits'))[:20]!r} is no unit of volume known here")
        told["amount_ml"] = f"{_plain(dose['doseQuantity'])} {unit}"
    batches = _list(member, "batches")
    if batches and isinstance(batches[0], dict):
        told["lot"] = str(batches[0].get("identifier") or "")
    told |= _held(member, zone)
    if member.get("comment") == "vaccination":
        return told | {"kind": "vaccination"}
    return told | {"because": str(member.get("comment") or "")}


def _held(member: Resource, zone: ZoneInfo) -> dict[str, str]:
    """How long milk and meat are held, of the ends the treatment tells: rounded up, never down."""
    found: dict[str, str] = {}
    begins = _instant(member["eventDateTime"], zone)
    for one in _list(member, "withdrawals"):
        if not isinstance(one, dict) or not one.get("endDate"):
            continue
        field, unit = words.HELD.get(str(one.get("productType")), ("", 1))
        count = -((begins - _instant(one["endDate"], zone)) // timedelta(hours=unit))
        if field and count >= 0:
            found[field] = str(max(count, int(found.get(field, 0))))
    return found | ({"said_by": SAID_BY} if found else {})


def _service(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    how = words.ours(words.SERVICE_TYPE, member["inseminationType"])
    if not how:
        raise _Unfit(f"{str(member['inseminationType'])[:20]!r} is no service this program records")
    sires = _list(member, "sireIdentifiers")
    told = {"how": how, "buck": whom(*_identifier(sires[0])) if sires else ""}
    if member.get("eventEndDateTime"):
        told["until"] = _on(member["eventEndDateTime"], zone)
    return told


def _pregnancy(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    result = {"Empty": "open", "Pregnant": "bred", "Multiple": "bred", "Unknown": "unsure"}.get(
        str(member.get("result"))
    )
    if result is None:
        raise _Unfit("it tells no result of the standard")
    method = member.get("method")
    how = words.ours(words.CHECK_METHOD, method, str(method or ""))
    return {"result": result, "how": how, "kids": _count(member.get("foetusCount"))}


def _kidding(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    alive, total = member.get("liveProgeny"), member.get("totalProgeny")
    dead = total - alive if isinstance(total, int) and isinstance(alive, int) else None
    return {
        "ease": words.ours(words.EASE, member.get("calvingEase")),
        "born_alive": _count(alive),
        "born_dead": _count(dead),
    }


def _arrival(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    reason = member.get("arrivalReason")
    return {"how": words.ours(words.ARRIVAL_REASON, reason, str(reason or ""))}


def _departure(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    how = words.ours(words.DEPARTURE_KIND, member.get("departureKind"))
    if not how:
        raise _Unfit("it tells no kind of departure this program records")
    return {"how": how}


def _death(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    how = words.ours(words.DEATH_METHOD, member.get("deathMethod"), "died")
    return {"how": how, "cause": str(member.get("explanation") or "")}


def _test_day(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del whom, zone
    told: dict[str, str] = {}
    milk = member.get("milkWeight24Hours")
    if isinstance(milk, dict) and _number(milk.get("value")) and milk.get("unitCode") == "KGM":
        told["milk_kg"] = f"{_plain(milk['value'])} kg"
    codes = {code: field for field, (code, _) in words.CHARACTERISTIC.items()}
    for one in _list(member, "milkCharacteristics"):
        code, value = (
            (one.get("characteristic"), one.get("value")) if isinstance(one, dict) else (None, None)
        )
        if code in codes:
            told[codes[code]] = str(value)
        elif code == words.CELLS[0]:
            told["cells_per_ml"] = _cells(str(value))
    return told


def _cells(thousands: str) -> str:
    try:
        return str(round(float(thousands) * 1000))
    except (ValueError, OverflowError):
        raise _Unfit(f"{thousands[:20]!r} is no count of cells") from None


def _heat(member: Resource, whom: Whom, zone: ZoneInfo) -> dict[str, str]:
    del member, whom, zone
    return {}


_READERS: dict[str, tuple[str, str, Callable[[Resource, Whom, ZoneInfo], dict[str, str]]]] = {
    words.WEIGHT: ("weighing", "animal", _weight),
    words.TREATMENT: ("dose", "animal", _treatment),
    words.SERVICE: ("mating", "doe", _service),
    words.HEAT: ("heat", "doe", _heat),
    words.PREGNANCY: ("pregnancy-check", "doe", _pregnancy),
    words.KIDDING: ("kidding", "doe", _kidding),
    words.ABORTION: ("abortion", "doe", _heat),
    words.DRY_OFF: ("dry-off", "doe", _heat),
    words.ARRIVAL: ("arrival", "animal", _arrival),
    words.DEPARTURE: ("leaving", "animal", _departure),
    words.DEATH: ("death", "animal", _death),
    words.TEST_DAY: ("test-day", "doe", _test_day),
}


def _short(told: Any) -> str:
    """The name of a resource, also where only its middle is told (``WeightEvent``)."""
    name = str(told or "").rsplit("/", 1)[-1].removesuffix(".json")
    for whole in words.REQUIRED:
        if name in (whole, whole.removeprefix("icar").removesuffix("Resource")):
            return whole
    return name


def _identifier(told: Any) -> tuple[str, str]:
    if not isinstance(told, dict) or not all(
        isinstance(told.get(one), str) for one in words.IDENTIFIER
    ):
        raise _Unfit("an identifier lacks id or scheme")
    return told["scheme"], told["id"]


def _list(member: Resource, name: str) -> list[Any]:
    told = member.get(name) or []
    if not isinstance(told, list):
        raise _Unfit(f"{name} is no list")
    return told


def _on(told: Any, zone: ZoneInfo) -> str:
    """A time here: midnight in the farm's zone, or in UTC, is the day; else the moment."""
    try:
        moment = datetime.fromisoformat(str(told))
    except ValueError:
        raise _Unfit(f"{str(told)[:40]!r} is no date and time of RFC 3339") from None
    if moment.tzinfo is None:
        raise _Unfit(f"{str(told)[:40]!r} does not say its offset")
    try:
        for local in (moment.astimezone(zone), moment):
            if (local.hour, local.minute, local.second) == (0, 0, 0):
                return local.date().isoformat()
        return moment_text(moment, zone)
    except (ValueError, OverflowError):
        raise _Unfit(f"{str(told)[:40]!r} lies outside the years kept here") from None


def _instant(told: Any, zone: ZoneInfo) -> datetime:
    """The first instant of a time. Raises _Unfit."""
    try:
        return span(_on(told, zone), zone)[0]
    except ValueError:
        raise _Unfit(f"{str(told)[:40]!r} lies outside the years kept here") from None


def _number(told: Any) -> bool:
    return isinstance(told, int | float) and not isinstance(told, bool)


def _plain(number: float) -> str:
    return format(number, ".9f").rstrip("0").rstrip(".")


def _count(told: Any) -> str:
    return str(told) if isinstance(told, int) and not isinstance(told, bool) else ""


def _canonical(member: Resource) -> str:
    return json.dumps(member, sort_keys=True)


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number")
