"""Egg count reduction tests from the counts that name one trial, and what they say of a family.

Where untreated animals were counted, the two-group form; where the same animals were counted before
and after, the paired form; both where both can be. Must not know what to give instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.herd import Herd
from herdsync.projections.worms import counted_eggs
from herdsync.reports import FamilyLine, TrialLine
from herdsync.trade.egg_count import EggCount
from herdsync.trade.egg_reduction import (
    REDUCTION_CAUTION,
    SAMPLE_AFTER_DAYS,
    EggReduction,
    paired_reduction,
    two_group_reduction,
)

BEFORE, AFTER, CONTROL = "before", "after", "control"
PAIRED, TWO_GROUP = "paired", "two-group"
# A second sample so far from the usual day is said: common practice, no published source.
SAMPLE_OFF_DAYS = 4


@dataclass
class _Trial:
    """The counts of one trial: eggs per gram by animal, and the records behind them."""

    name: str
    counts: dict[str, dict[bytes, EggCount]]
    records: list[Record]
    faults: list[str]


def trial_lines(herd: Herd, only: str = "") -> list[TrialLine]:
    """Every reduction test on record (or the one named), by the day of its last count."""
    wanted = only.strip().casefold()
    trials = [trial for key, trial in sorted(_trials(herd).items()) if not wanted or key == wanted]
    lines = [line for trial in trials for line in _lines(herd, trial)]
    return sorted(lines, key=lambda line: (line.last, line.trial, line.form))


def family_lines(lines: list[TrialLine]) -> list[FamilyLine]:
    """The history of each family of products by the herd's own tests."""
    families: dict[str, list[TrialLine]] = {}
    for line in lines:
        if line.verdict:
            families.setdefault(line.family or line.product_name or "not told", []).append(line)
    found = []
    for family, tests in sorted(families.items()):
        told = [f"{test.last} {test.trial}, {test.form}: {test.verdict}" for test in tests]
        newest = tests[-1].verdict
        found.append(
            FamilyLine(
                family,
                sorted({test.product_name for test in tests if test.product_name}),
                told,
                newest,
                f"{family}: tested {len(tests)} times, the newest says {newest}; resistance in a herd "
                "does not go away again"
                if len(tests) > 1
                else f"{family}: tested once, which says {newest}; resistance in a herd does not go "
                "away again",
            )
        )
    return found


def _trials(herd: Herd) -> dict[str, _Trial]:
    trials: dict[str, _Trial] = {}
    for record in herd.records.of_kind("egg-count"):
        name = record.value("trial")
        if not name:
            continue
        trial = trials.setdefault(str(name).casefold(), _Trial(str(name), {}, [], []))
        trial.records.append(record)
        _add(herd, trial, record)
    return trials


def _add(herd: Herd, trial: _Trial, record: Record) -> None:
    animal, sampled = record.value("animal"), str(record.value("sampled") or "")
    if not isinstance(animal, bytes) or sampled not in (BEFORE, AFTER, CONTROL):
        trial.faults.append("a count says neither before, after nor control and is left out")
        return
    counted = counted_eggs(record)
    name = herd.look.names(animal)
    if isinstance(counted, str):
        trial.faults.append(f"the count of {name} is left out: {counted}")
        return
    group = trial.counts.setdefault(sampled, {})
    if herd.records.canonical(animal) in group:
        trial.faults.append(f"{name} was counted twice ({sampled}); the last one counts")
    group[herd.records.canonical(animal)] = counted


def _lines(herd: Herd, trial: _Trial) -> Iterator[TrialLine]:
    after = trial.counts.get(AFTER, {})
    both = [one for one in trial.counts.get(BEFORE, {}) if one in after]
    forms = [TWO_GROUP] if trial.counts.get(CONTROL) else []
    if both or not forms:
        forms.append(PAIRED)
    for form in forms:
        yield _line(herd, trial, form, both)


def _line(herd: Herd, trial: _Trial, form: str, both: list[bytes]) -> TrialLine:
    after = trial.counts.get(AFTER, {})
    first, other = (
        (list(trial.counts[CONTROL].values()), list(after.values()))
        if form == TWO_GROUP
        else ([trial.counts[BEFORE][one] for one in both], [after[one] for one in both])
    )
    reduction: EggReduction | None = None
    try:
        reduction = _reduction(herd, form, first, other)
        reason = reduction.reason
    except ValueError as fault:
        reason = f"no reduction can be told: {fault}"
    product = _product(herd, trial)
    days = sorted(day for one in trial.records if (day := acts.first_day(one, herd.look.zone)))
    warnings = [*trial.faults, *_day_warnings(herd, trial)]
    variance = reduction.log_ratio_variance if reduction else None
    return TrialLine(
        trial=trial.name,
        form=form,
        product=text_id(product.id) if product is not None else "",
        product_name=herd.look.names.of(product) if product is not None else "",
        family=str(product.value("family") or "") if product is not None else "",
        first=days[0].isoformat() if days else "",
        last=days[-1].isoformat() if days else "",
        animals=len(first) + len(other) if form == TWO_GROUP else len(first),
        reduction_percent=float(round(reduction.reduction_percent, 4)) if reduction else None,
        lower_percent=float(reduction.lower_percent) if reduction else None,
        upper_percent=float(reduction.upper_percent) if reduction else None,
        confidence_percent=reduction.confidence_percent if reduction else None,
        log_ratio_variance=None if variance is None else float(round(variance, 6)),
        verdict=reduction.verdict if reduction else "",
        reason=reason,
        warnings=[*warnings, *(reduction.warnings if reduction else ())],
        caution=REDUCTION_CAUTION,
        records=[text_id(one.id) for one in trial.records],
    )


def _reduction(herd: Herd, form: str, first: list[EggCount], other: list[EggCount]) -> EggReduction:
    # Of different chambers the coarsest counts: it widens the limits.
    factor = max((one.detection_limit_epg for one in [*first, *other]), default=Fraction(1))
    before = [one.eggs_per_gram for one in first]
    after = [one.eggs_per_gram for one in other]
    if form == TWO_GROUP:
        return two_group_reduction(before, after, factor)
    settings = herd.look.settings
    return paired_reduction(
        before,
        after,
        factor,
        expected_percent=settings.eggs_expected,
        lower_threshold_percent=settings.eggs_least,
    )


def _product(herd: Herd, trial: _Trial) -> Record | None:
    """The product a trial judges: named by a count, or by the dose a count names."""
    for record in trial.records:
        named = record.value("product")
        dose = record.value("treatment")
        if not isinstance(named, bytes) and isinstance(dose, bytes):
            given = herd.records.get(dose)
            named = given.value("product") if given is not None else None
        if isinstance(named, bytes):
            return herd.records.get(named)
    return None


def _day_warnings(herd: Herd, trial: _Trial) -> Iterator[str]:
    for record in trial.records:
        dose = record.value("treatment")
        given = herd.records.get(dose) if isinstance(dose, bytes) else None
        if given is None or record.value("sampled") != AFTER:
            continue
        start = acts.first_day(given, herd.look.zone)
        day = acts.first_day(record, herd.look.zone)
        if start is not None and day is not None:
            days = (day - start).days
            if abs(days - SAMPLE_AFTER_DAYS) > SAMPLE_OFF_DAYS:
                yield (
                    f"the second sample is of day {days} after the dose, about "
                    f"{SAMPLE_AFTER_DAYS} is usual; some families want another day, ask the vet"
                )
                return
