"""What stands out among readings and doses of late, and when each product was last given.

A flag is a reason to look and to ask the veterinarian, never a diagnosis. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.kinds.medicine import MEDICINES
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.dose_checks import timing_words
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.remarks import remarks
from herdsync.sights import FlagLine, LastUse, Sickroom

FLAG_DAYS = 14


def sickroom(herd: Herd, days: int = FLAG_DAYS) -> Sickroom:
    """The flags of the last days, newest first, and the last use of every product."""
    since = herd.look.today - timedelta(days=days)
    flags = [
        flag
        for goat in herd.every
        if goat.gone is None
        for flag in (*_readings(herd, goat, since), *_doses(herd, goat, since))
    ]
    return Sickroom(sorted(flags, key=lambda one: one.on, reverse=True), _last_uses(herd), days)


def _readings(herd: Herd, goat: Goat, since: date) -> Iterator[FlagLine]:
    """Out of the usual by the thermometer; only the newest reading counts."""
    newest = goat.last("temperature")
    if newest is not None and newest[0] >= since:
        said = list(remarks(herd, newest[1], goat))
        if said:
            yield _flag(herd, goat, newest[1], " ".join(said))


def _doses(herd: Herd, goat: Goat, since: date) -> Iterator[FlagLine]:
    """Doses too close to another of the same product, or perhaps one dose written down twice."""
    for kind in MEDICINES:
        for day, dose in goat.done(kind):
            if day < since:
                continue
            said = list(timing_words(herd, goat, dose))
            if said:
                yield _flag(herd, goat, dose, " ".join(said))


def _flag(herd: Herd, goat: Goat, record: Record, says: str) -> FlagLine:
    on = record.value("on")
    return FlagLine(
        text_id(goat.id),
        goat.name,
        herd.pen_name(goat),
        record.kind,
        str(on or ""),
        _what(herd, record),
        says,
        text_id(record.id),
    )


def _what(herd: Herd, record: Record) -> str:
    product = record.value("product")
    title = CATALOGUE[record.kind].title
    return f"{title} of {herd.look.names(product)}" if isinstance(product, bytes) else title


def _last_uses(herd: Herd) -> list[LastUse]:
    found = []
    for product in herd.records.of_kind("product"):
        given = [
            (day, dose)
            for kind in MEDICINES
            for dose in herd.records.naming(product.id, kind)
            if (day := acts.first_day(dose, herd.look.zone)) is not None
        ]
        if given:
            day, dose = max(given, key=lambda one: (one[0], one[1].id))
            animal = dose.value("animal")
            whom = animal if isinstance(animal, bytes) else b""
            found.append(
                LastUse(
                    text_id(product.id),
                    day.isoformat(),
                    text_id(whom) if whom else "",
                    herd.look.names(whom) if whom else "",
                )
            )
    return found
