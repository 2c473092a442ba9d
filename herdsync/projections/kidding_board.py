"""The does that are mated or bred: when each is due and the days that follow from it.

A date is an estimate and silence proves nothing. Must not know the care plan or screens.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.amounts import told
from herdsync.projections.breeding import (
    Pregnancy,
    kinship_words,
    pair_warnings,
    readiness,
    size_of,
)
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.whom import carried
from herdsync.reports import KiddingLine
from herdsync.trade.advice import Advice
from herdsync.trade.dates import Window
from herdsync.trade.reproduction import (
    PregnancyTest,
    dry_off,
    fertile_heat_after_buck,
    first_kidding_weight,
    gestation_found,
    heat_interval,
    heat_return,
    litter_shift_days,
    pre_kidding_booster,
    pregnancy_check_due,
    pregnancy_test_timing,
    standing_heat,
    watch_from,
)
from herdsync.trade.units import plain

_TESTS: dict[str, PregnancyTest] = {
    "scan": "scan",
    "blood": "blood-or-milk",
    "milk": "blood-or-milk",
    "no-return": "return-to-heat",
}
WEIGHT_COUNTS_DAYS = 60


def kidding_lines(herd: Herd) -> list[KiddingLine]:
    """Every doe mated or bred that is not gone, the next to kid first, those without a day last."""
    lines = [
        kidding_line(herd, goat, carries)
        for goat in herd.every
        if goat.gone is None and goat.of_herd and (carries := carried(goat)) is not None
    ]
    return sorted(lines, key=lambda line: (line.due or "9999", line.window, line.name, line.doe))


def kidding_line(herd: Herd, doe: Goat, carries: Pregnancy) -> KiddingLine:
    """One doe and the days that follow from her mating."""
    window, service = carries.window, carries.service
    mating = carries.mating
    due = None if window is None else window.best
    reckoned = None if window is None else due or window.opens
    buck = mating.value("buck") if mating is not None else None
    settings = herd.look.settings
    named = [one for one in (mating, carries.found) if one is not None]
    return KiddingLine(
        doe=text_id(doe.id),
        name=doe.name,
        pen=herd.pen_name(doe),
        sire=herd.look.names(buck) if isinstance(buck, bytes) else "",
        served="" if service is None else service.isoformat(),
        proof="found bred" if carries.found is not None else "mated, not proved",
        due="" if due is None else due.isoformat(),
        window=_days(window),
        days_left=None if reckoned is None else (reckoned - herd.look.today).days,
        heat_return=_days(heat_return(service)) if service and carries.found is None else [],
        check=_days(pregnancy_check_due(service)) if service and carries.found is None else [],
        booster=_days(pre_kidding_booster(reckoned)) if reckoned else [],
        dry_off=dry_off(reckoned, settings.dry_days).on.isoformat() if reckoned else "",
        watch_from=watch_from(carries.since).on.isoformat() if carries.since else "",
        in_milk=doe.in_milk,
        sure=not any(one.any_disputed for one in named),
        says="; ".join(_says(carries)),
        records=sorted(text_id(one.id) for one in named),
    )


def _says(carries: Pregnancy) -> Iterator[str]:
    """What the dates rest on, and what the kids that a scan counted say of them."""
    yield carries.reason
    if carries.window is not None:
        yield carries.window.reason
    counted = None if carries.found is None else carries.found.value("kids")
    if isinstance(counted, int) and counted > 0:
        shift = litter_shift_days(counted)
        days = plain(abs(shift), 1)
        yield (
            f"{counted} {'kid' if counted == 1 else 'kids'} counted: in the mean about {days} days "
            f"{'sooner' if shift < 0 else 'later'}"
        )


def mating_words(herd: Herd, doe: Goat, mating: Record) -> Iterator[str]:
    """What speaks against a mating just written down, and when she would be due."""
    on = acts.first_day(mating, herd.look.zone)
    buck_id = mating.value("buck")
    buck = herd.goat(buck_id) if isinstance(buck_id, bytes) else None
    if on is None:
        return
    if buck is not None:
        told_of = pair_warnings(doe, buck, on, straw=mating.value("how") == "ai")
        yield from (f"{_capital(one)}." for one in told_of)
        kin = kinship_words(herd, doe, buck)
        yield from [kin] if kin else []
    yield from (f"{doe.name}: {one}." for one in readiness(doe, on, mating))
    if mating.value("how") == "pen":
        fertile = fertile_heat_after_buck(on)
        yield f"{doe.name}: {fertile.reason} ({fertile.opens} to {fertile.closes})."
    carries = carried(doe)
    if carries is not None and carries.mating is not None and carries.mating.id == mating.id:
        assert carries.window is not None
        best = f"on {carries.window.best}, " if carries.window.best else ""
        yield (
            f"{doe.name} would be due {best}{carries.window.opens} to {carries.window.closes}: an "
            "estimate, and only a test says she is bred."
        )


def heat_words(herd: Herd, doe: Goat, heat: Record) -> Iterator[str]:
    """What a heat just written down says beside the last one and a mating."""
    on = acts.first_day(heat, herd.look.zone)
    before = [day for day, act in doe.done("heat") if act.id != heat.id and on and day < on]
    if before and on is not None:
        finding = heat_interval(before[-1], on)
        if finding.advice is not Advice.OK:
            yield f"{doe.name}: {finding.reason}."
    began = acts.first_instant(heat, herd.look.zone)
    if began is not None and not heat.values("until"):
        stands = standing_heat(began)
        expected, latest = (
            moments.said(end, herd.look.zone) for end in (stands.expected_end, stands.latest_end)
        )
        yield f"{doe.name} may stand to about {expected}, {latest} at the latest: {stands.reason}."
    carries = carried(doe)
    if carries is not None and on is not None:
        yield (
            f"{doe.name} counts as mated or bred ({carries.reason}). A doe may show heat while in kid: "
            "have a test done."
        )


def check_words(herd: Herd, doe: Goat, check: Record) -> Iterator[str]:
    """Whether a pregnancy check just written down was late enough, and leads to a day to kid."""
    carries = carried(doe)
    if carries is not None and carries.window is None:
        yield (
            f"{doe.name}: {carries.reason}, so nothing of her kidding can be counted. Write the mating, "
            "or since when and until when she ran with a buck (how=pen, until=...)."
        )
    on = acts.first_day(check, herd.look.zone)
    method = _TESTS.get(str(check.value("how")))
    services = [day for day, _ in doe.done("mating") if on is not None and day <= on]
    if on is None or method is None or not services or check.value("result") == "bred":
        return
    finding = pregnancy_test_timing(services[-1], on, method)
    if finding.advice is not Advice.OK:
        yield f"{doe.name}: {finding.reason}."


def kidded_words(herd: Herd, doe: Goat, kidding: Record) -> Iterator[str]:
    """What the days carried and her weight say of a kidding just written down."""
    on = acts.first_day(kidding, herd.look.zone)
    if on is None:
        return
    mating = _mating_of(doe, kidding, on)
    if mating is not None and mating[1].value("how") != "pen":
        finding = gestation_found(mating[0], on, size_of(doe))
        if finding.advice is not Advice.OK:
            yield f"{doe.name}: {finding.reason}."
    weighed = doe.weight()
    first = [one for one in doe.done("kidding") if one[1].id != kidding.id]
    if not first and weighed is not None and size_of(doe) == "standard":
        kg = told(weighed[1], "weight_kg", "kg")
        if kg and 0 <= (on - weighed[0]).days <= WEIGHT_COUNTS_DAYS:
            light = first_kidding_weight(kg)
            if light.advice is not Advice.OK:
                yield f"{doe.name}: {light.reason}."


def _mating_of(doe: Goat, kidding: Record, on: date) -> tuple[date, Record] | None:
    """The mating a kidding names, else the latest at least a short gestation before it."""
    named = kidding.value("mating")
    matings = [one for one in doe.done("mating") if one[0] <= on]
    for one in matings:
        if isinstance(named, bytes) and doe.look.records.canonical(named) == one[1].id:
            return one
    since = [day for day, act in doe.done("kidding") if act.id != kidding.id and day < on]
    recent = [one for one in matings if not since or one[0] > since[-1]]
    fitting = [
        one for one in recent if gestation_found(one[0], on, size_of(doe)).advice is Advice.OK
    ]
    return fitting[-1] if fitting else (recent[-1] if recent else None)


def _days(window: Window | None) -> list[str]:
    return [] if window is None else [window.opens.isoformat(), window.closes.isoformat()]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
