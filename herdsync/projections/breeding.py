"""Who is bred and due when, from matings, pregnancy checks, kiddings and losses; planned matings.

A date is an estimate; silence proves nothing. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from msgspec import Struct

from herdsync.answers import Mating
from herdsync.faults import Refused
from herdsync.kinds.ids import raw_id, text_id
from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record, Records
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.look import Look
from herdsync.reports import BuckLine
from herdsync.trade.advice import Advice
from herdsync.trade.dates import Window
from herdsync.trade.pedigree import HerdBook, Parentage, herd_book
from herdsync.trade.relationship import PlannedMating, plan_mating, rank_bucks
from herdsync.trade.reproduction import (
    Horns,
    Size,
    earlier_may_have_held,
    first_breeding,
    kidding_due,
    pen_kidding_due,
    polled_pair,
)

# After the last usual day a doe still counts as bred for so long, that her kidding is asked for:
# common practice, no published source.
OVERDUE_KEPT_DAYS = 30
SERVICE_BEFORE_CHECK_DAYS = 18


class Pregnancy(Struct, frozen=True):
    """What a doe carries, as far as is told. ``window`` is None where no mating is on record.

    ``found`` is the check that said bred, if one did; ``since`` the first service that may have held,
    from which ``window`` opens; ``service`` the one that most likely did.
    """

    mating: Record | None
    found: Record | None
    service: date | None
    window: Window | None
    reason: str
    since: date | None = None

    @property
    def anchor(self) -> Record:
        """The record all of it counts from."""
        record = self.mating or self.found
        assert record is not None
        return record


def size_of(goat: Goat) -> Size:
    """Its breed size; standard unless told to be miniature."""
    return "miniature" if goat.told("size") == "miniature" else "standard"


def mature_kg(goat: Goat) -> Fraction | None:
    """What it is expected to weigh full grown; None where nobody told."""
    told = goat.told("mature_kg")
    return None if told is None else amount(told, "kg")


def horns_born(goat: Goat) -> Horns:
    """Horned or polled as born, as told."""
    told = goat.told("horns_born")
    if told == "polled":
        return "polled"
    return "horned" if told == "horned" else "unknown"


def pregnancy(goat: Goat) -> Pregnancy | None:
    """What a doe carries by her records up to today; None where she is open or nobody told."""
    since = _last_end(goat) + timedelta(days=1)
    services = list(goat.past.newest("mating", since))[::-1]
    checks = goat.past.newest("pregnancy-check", since)
    found = next((one for one in checks if one[1].value("result") == "bred"), None)
    if found is None and not services:
        return None
    if not services:
        assert found is not None
        reason = f"found bred {acts.when_words(found[1], goat.look.zone)}, no mating is on record"
        return Pregnancy(None, found[1], None, None, reason)
    service, mating = _service_meant(goat, services, found)
    named = found is not None and _named_by(goat, found[1], mating)
    first = (service, mating) if named else _first_that_may_have_held(goat, services, mating)
    window = _window(goat, service, mating)
    if first[1].id != mating.id:
        window = replace(window, opens=min(window.opens, _window(goat, *first).opens))
    if goat.look.today > window.closes + timedelta(days=OVERDUE_KEPT_DAYS):
        return None
    words = acts.when_words(mating, goat.look.zone)
    buck = mating.value("buck")
    sire = f" with {goat.look.names(buck)}" if isinstance(buck, bytes) else ""
    proof = "found bred since" if found else "not proved yet"
    reason = f"mated {words}{sire}, {proof}"
    if first[0] != service:
        reason += f"; the service of {first[0]} may have held before it"
    return Pregnancy(mating, found[1] if found else None, service, window, reason, first[0])


def _last_end(goat: Goat) -> date:
    """The latest day a pregnancy of hers was over."""
    ends = [last[0] for last in (goat.last("kidding"), goat.last("abortion")) if last is not None]
    since = max(ends, default=date.min)
    checks = goat.past.newest("pregnancy-check", since)
    return next((day for day, one in checks if one.value("result") in ("open", "lost")), since)


def _service_meant(
    goat: Goat, services: list[tuple[date, Record]], found: tuple[date, Record] | None
) -> tuple[date, Record]:
    """The mating a finding of bred names or can mean, else the latest."""
    if found is None:
        return services[-1]
    for service in services:
        if _named_by(goat, found[1], service[1]):
            return service
    before = found[0] - timedelta(days=SERVICE_BEFORE_CHECK_DAYS)
    return next((one for one in reversed(services) if one[0] <= before), services[-1])


def _named_by(goat: Goat, check: Record, mating: Record) -> bool:
    """Whether a check says itself which mating took."""
    named = check.value("mating")
    return isinstance(named, bytes) and goat.look.records.canonical(named) == mating.id


def _first_that_may_have_held(
    goat: Goat, services: list[tuple[date, Record]], meant: Record
) -> tuple[date, Record]:
    """The earliest service up to the one meant that nothing on record speaks against."""
    place = next(at for at, one in enumerate(services) if one[1].id == meant.id)
    first = services[place]
    for before in reversed(services[:place]):
        in_heat = _in_heat_again(goat, before[0], first)
        overdue = _window(goat, *before).closes < goat.look.today
        if overdue or not earlier_may_have_held(before[0], first[0], in_heat=in_heat):
            break
        first = before
    return first


def _in_heat_again(goat: Goat, before: date, later: tuple[date, Record]) -> bool:
    """Whether a later service, or a heat on record between, shows her in heat again."""
    day, mating = later
    if mating.value("how") != "pen" or mating.value("seen"):
        return True
    heats = (heat for heat, _ in goat.past.newest("heat", before))
    return any(
        heat <= day and not earlier_may_have_held(before, heat, in_heat=True) for heat in heats
    )


def _window(goat: Goat, service: date, mating: Record) -> Window:
    size = size_of(goat)
    settings = goat.look.settings
    days = settings.gestation_miniature if size == "miniature" else settings.gestation_standard
    if mating.value("how") != "pen" and not mating.values("until"):
        return kidding_due(service, size, days)
    out = acts.last_instant(mating, goat.look.zone, "until")
    taken_out = goat.look.today if out is None else out.astimezone(goat.look.zone).date()
    seen = service if mating.value("seen") else None
    return pen_kidding_due(service, max(service, taken_out), size, seen)


def pedigree(records: Records, look: Look) -> HerdBook:
    """The herd book of all animals; a parent in dispute counts as presumed."""
    lines = []
    for animal in records.of_kind("animal"):
        told = {name: animal.value(name) for name in ("sire", "dam")}
        parents = {
            name: text_id(records.canonical(parent)) if isinstance(parent, bytes) else None
            for name, parent in told.items()
        }
        lines.append(
            Parentage(
                text_id(animal.id),
                parents["sire"],
                parents["dam"],
                str(animal.value("sex", "unknown")),
                acts.first_day(animal, look.zone, "born"),
                look.names.of(animal),
                not animal.disputed("sire"),
                not animal.disputed("dam"),
            )
        )
    return herd_book(lines)


def match(doe: Goat, buck: Goat, on: date) -> Mating:
    """What would follow from a mating on a day. Raises Refused where it cannot be."""
    look = doe.look
    try:
        planned = plan_mating(pedigree(look.records, look), text_id(doe.id), text_id(buck.id))
    except ValueError as fault:
        raise Refused(f"{str(fault)[:1].upper()}{str(fault)[1:]}.") from fault
    knots = [fault for fault in planned.faults if fault.kind in ("loop", "own-parent")]
    if knots:
        raise Refused(
            f"These animals descend from themselves by what is written down ({knots[0].reason}): no "
            "kinship can be told.",
            "Amend the dam or sire that is wrong ('herdsync conflicts').",
        )
    size = size_of(doe)
    settings = look.settings
    days = settings.gestation_miniature if size == "miniature" else settings.gestation_standard
    window = kidding_due(on, size, days)
    warnings = [planned.reason] if planned.advice is not Advice.OK or planned.faults else []
    warnings += [*pair_warnings(doe, buck, on), *readiness(doe, on)]
    assert window.best is not None
    return Mating(
        float(planned.inbreeding),
        float(planned.relationship),
        planned.completeness.complete_generations,
        window.best.isoformat(),
        [window.opens.isoformat(), window.closes.isoformat()],
        warnings,
    )


def buck_lines(herd: Herd, doe: Goat, on: date) -> list[BuckLine]:
    """Every buck on record that is not gone or castrated as a mate for a doe, least inbred first.

    Those too young to sire on that day come last.

    Raises Refused where she cannot be mated at all.
    """
    look = herd.look
    bucks = [
        goat
        for goat in herd.every
        if goat.male
        and goat.castrated is None
        and goat.gone is None
        and not goat.unborn
        and goat is not doe
    ]
    by_id = {text_id(buck.id): buck for buck in bucks}
    try:
        ranked = rank_bucks(pedigree(look.records, look), text_id(doe.id), by_id)
    except ValueError as fault:
        raise Refused(f"{str(fault)[:1].upper()}{str(fault)[1:]}.") from fault
    lines = [_buck_line(herd, doe, by_id[one.buck], one, on) for one in ranked]
    return sorted(lines, key=lambda line: not by_id[line.id].may_sire_on(on))


def _buck_line(herd: Herd, doe: Goat, buck: Goat, planned: PlannedMating, on: date) -> BuckLine:
    return BuckLine(
        id=planned.buck,
        name=buck.name,
        standing=buck.standing,
        inbreeding=float(planned.inbreeding),
        relationship=float(planned.relationship),
        generations=planned.completeness.complete_generations,
        equivalent_generations=float(round(planned.completeness.equivalent_generations, 4)),
        ancestors=[herd.look.names(raw_id(one)) for one in planned.common_ancestors],
        advice=str(planned.advice),
        reason=planned.reason,
        warnings=list(pair_warnings(doe, buck, on)),
    )


def kinship_words(herd: Herd, doe: Goat, buck: Goat) -> str:
    """How inbred kids of a pair would be, where that is worth a look; empty where it is not."""
    try:
        book = pedigree(herd.records, herd.look)
        planned = plan_mating(book, text_id(doe.id), text_id(buck.id))
    except ValueError as fault:
        return f"{str(fault)[:1].upper()}{str(fault)[1:]}."
    return "" if planned.advice is Advice.OK else f"{planned.advice}: {planned.reason}."


def pair_warnings(doe: Goat, buck: Goat, on: date, *, straw: bool = False) -> Iterator[str]:
    """What speaks against a pair besides kinship: two polled parents, a buck not able to sire.

    With a ``straw`` it does not matter what the buck is able to on that day.
    """
    polled = polled_pair(horns_born(buck), horns_born(doe))
    if polled.advice is not Advice.OK:
        yield polled.reason
    if not straw and not buck.may_sire_on(on):
        yield f"{buck.name} does not count as able to sire on {on}"


def young_to_breed(doe: Goat) -> tuple[date, str] | None:
    """For a doeling not ready by age: from which day she is old enough, and why."""
    if doe.born is None or not doe.female or doe.last_kidding or doe.unborn:
        return None
    weighed = doe.weight()
    kg = amount(weighed[1].value("weight_kg"), "kg") if weighed else None
    ready = first_breeding(doe.born, doe.look.today, size_of(doe), kg, mature_kg(doe))
    if doe.look.today >= ready.old_enough_on:
        return None
    return ready.old_enough_on, ready.reason


def readiness(doe: Goat, on: date, besides: Record | None = None) -> list[str]:
    """Why a doe should not be mated on a day: too young, too light, or bred already.

    ``besides`` is the mating just written down, which does not make her bred already.
    """
    warnings = []
    if doe.born is not None and doe.born <= on and not doe.last_kidding:
        weighed = doe.weight()
        kg = amount(weighed[1].value("weight_kg"), "kg") if weighed else None
        ready = first_breeding(doe.born, on, size_of(doe), kg, mature_kg(doe))
        if not ready.ready:
            warnings.append(ready.reason)
    carried = pregnancy(doe)
    again = carried is not None and besides is not None and carried.anchor.id == besides.id
    if carried is not None and not again:
        warnings.append(f"{doe.name} may be bred already: {carried.reason}")
    return warnings
