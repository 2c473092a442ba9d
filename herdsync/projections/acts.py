"""What an act on record says: when it was (care counts from the earliest), who says so, what it holds.

Must not know the care plan or any animal.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.merge.records import Claim, Record
from herdsync.projections import moments

_TIME_FIELDS = {kind.name: kind.on or "" for kind in CATALOGUE.values()}

Where = Mapping[str, str | bool | int | list[str | bool | int]]


def times(record: Record, field: str = "") -> list[str]:
    """Every standing time of an act (or of one of its fields), as told."""
    name = field or _time_field(record)
    return [told for told in record.values(name) if isinstance(told, str)] if name else []


def first_day(record: Record, zone: ZoneInfo, field: str = "") -> date | None:
    """The local day of the earliest instant its standing times allow; None without a time."""
    days = [moments.first_day(told, zone) for told in times(record, field)]
    return min(days, default=None)


def first_instant(record: Record, zone: ZoneInfo, field: str = "") -> datetime | None:
    """The earliest instant its standing times allow; None without a time."""
    return min((moments.span(told, zone)[0] for told in times(record, field)), default=None)


def last_instant(record: Record, zone: ZoneInfo, field: str = "") -> datetime | None:
    """The latest instant its standing times allow; None without a time."""
    return max((moments.span(told, zone)[1] for told in times(record, field)), default=None)


def when_words(record: Record, zone: ZoneInfo, field: str = "") -> str:
    """The day an act counts from, for a sentence; where it is disputed, who says what."""
    day = first_day(record, zone, field)
    if day is None:
        return "on a day not told"
    name = field or _time_field(record)
    if not record.disputed(name):
        return day.isoformat()
    said = [
        f"{_teller(claim)} says {str(claim.values[name])[:10]}"
        for claim in record.registers[record.register_of(name)].standing
        if name in claim.values
    ]
    return f"{day.isoformat()} (disputed: {', '.join(said)}; the earliest counts)"


def holds_where(record: Record, where: Where, anchor: Record | None = None) -> bool:
    """Whether an act's standing values are what a plan item asks for (see ``plan.Met``)."""
    return all(_holds(record, key, wanted, anchor) for key, wanted in where.items())


def _holds(
    record: Record, key: str, wanted: str | bool | int | list[str | bool | int], anchor: Any
) -> bool:
    allowed = wanted if isinstance(wanted, list) else [wanted]
    for field in key.split("|"):
        for told in record.values(field):
            if isinstance(told, bytes):
                if anchor is not None and told in anchor.ids and anchor.kind in allowed:
                    return True
            elif any(type(one) is type(told) and _alike(one, told) for one in allowed):
                return True
    return False


def _alike(wanted: str | bool | int, told: Any) -> bool:
    if isinstance(wanted, str):
        return wanted.casefold() == str(told).casefold()
    return bool(wanted == told)


def _teller(claim: Claim) -> str:
    return claim.author.by or claim.author.keeper or "somebody"


def _time_field(record: Record) -> str:
    return _TIME_FIELDS.get(record.kind, "")
