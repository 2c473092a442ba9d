"""Worms and condition: eyelid scores, condition, egg counts, reduction tests and their history.

A score or count is a reason to look and to ask the veterinarian, never a treatment. Must not know
products beyond their name and family.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from fractions import Fraction

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections.amounts import figure, told
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.whom import carried
from herdsync.reports import WormLine
from herdsync.trade.advice import Advice
from herdsync.trade.condition import ConditionAnswer, ConditionReading, condition_change
from herdsync.trade.dates import add_days
from herdsync.trade.egg_count import EggCount, egg_count, factor_epg, suspension_ml
from herdsync.trade.parasites import (
    EyelidAnswer,
    EyelidCase,
    judge_eyelid,
    score_from_packed_cell_volume,
)
from herdsync.trade.units import plain

# Common practice, no published source: a goat is a kid for the worms in her first half year, late
# pregnant in her last six weeks, fresh for six weeks; scores older than these prove nothing now.
KID_DAYS = 183
LATE_PREGNANT_DAYS = 42
FRESH_DAYS = 42
CONDITION_COUNTS_DAYS = 60
SCORE_COUNTS_DAYS = 28
PALE_FROM = 4


def worm_lines(herd: Herd, goats: Iterable[Goat]) -> list[WormLine]:
    """Those of some animals that were ever scored or sampled, in their order."""
    pale = pale_share(herd)
    lines = (worm_line(herd, goat, pale) for goat in goats)
    return [line for line in lines if line.eyelid_on or line.condition_on or line.eggs_on]


def worm_line(herd: Herd, goat: Goat, pale: Fraction) -> WormLine:
    """The newest score, condition and count of one animal."""
    eyelid = goat.last("eyelid-score")
    answer = None if eyelid is None else judged(goat, eyelid, pale)
    condition = goat.last("condition-score")
    change = condition_of(goat)
    counted = goat.last("egg-count")
    eggs, eggs_say = _eggs(counted[1]) if counted else (None, "")
    return WormLine(
        id=text_id(goat.id),
        name=goat.name,
        pen=herd.pen_name(goat),
        eyelid=answer.score if answer else None,
        eyelid_on=eyelid[0].isoformat() if eyelid else "",
        action=answer.action if answer else "",
        because=list(answer.because) if answer else [],
        says=answer.reason if answer else "",
        look_again=add_days(eyelid[0], answer.look_again_days).isoformat()
        if eyelid and answer
        else "",
        condition=figure(told(condition[1], "score", "pt")) if condition else None,
        condition_on=condition[0].isoformat() if condition else "",
        condition_says=_condition_says(change),
        eggs_on=counted[0].isoformat() if counted else "",
        eggs_per_gram=eggs,
        eggs_say=eggs_say,
    )


def judged(goat: Goat, eyelid: tuple[date, Record], pale: Fraction) -> EyelidAnswer:
    """What one eyelid score leans to, with what is on record of the animal that day."""
    on, record = eyelid
    before = [act for day, act in goat.done("eyelid-score") if day < on]
    case = EyelidCase(
        score=int(record.value("score")),
        previous_score=int(before[-1].value("score")) if before else None,
        kid=goat.born is not None and (on - goat.born).days <= KID_DAYS,
        late_pregnant=_late_pregnant(goat, on),
        fresh=goat.last_kidding is not None and 0 <= (on - goat.last_kidding[0]).days <= FRESH_DAYS,
        condition=_condition_on(goat, on),
        herd_share_pale=pale,
    )
    return judge_eyelid(case, worm_season=on.month in goat.look.settings.worm_months)


def pale_share(herd: Herd) -> Fraction:
    """The share of the herd's animals scored of late whose newest score is 4 or 5."""
    since = herd.look.today - timedelta(days=SCORE_COUNTS_DAYS)
    newest = [goat.last("eyelid-score") for goat in herd.present]
    scores = [int(one[1].value("score")) for one in newest if one is not None and one[0] >= since]
    pale = sum(score >= PALE_FROM for score in scores)
    return Fraction(pale, len(scores)) if scores else Fraction(0)


def condition_of(goat: Goat) -> ConditionAnswer | str | None:
    """What the newest condition score and its change say; a sentence where they contradict."""
    readings = [
        ConditionReading(day, score)
        for day, act in goat.done("condition-score")
        if (score := told(act, "score", "pt")) is not None
    ]
    if not readings:
        return None
    try:
        return condition_change(readings)
    except ValueError as fault:
        return str(fault)


def counted_eggs(record: Record) -> EggCount | str:
    """Eggs per gram of one count by the figures of its chamber; a sentence where these lack."""
    factor = record.value("factor")
    try:
        if factor is None:
            faeces, counted = told(record, "sample_g", "g"), told(record, "counted_ml", "mL")
            whole, fluid = told(record, "total_ml", "mL"), told(record, "fluid_ml", "mL")
            if faeces is not None and whole is None and fluid is not None:
                whole = suspension_ml(faeces, fluid)
            if faeces is None or counted is None or whole is None:
                return (
                    "no eggs per gram can be told: record factor, or sample_g, total_ml (or "
                    "fluid_ml) and counted_ml of the chamber"
                )
            factor = factor_epg(whole, faeces, counted)
        return egg_count([int(record.value("eggs"))], factor)
    except ValueError as fault:
        return str(fault)


def score_words(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    """What an eyelid score just written down leans to."""
    scored = next((one for one in goat.done("eyelid-score") if one[1].id == record.id), None)
    if scored is None:
        return
    answer = judged(goat, scored, pale_share(herd))
    again = add_days(scored[0], answer.look_again_days)
    yield f"{goat.name} leans to '{answer.action}': {answer.reason}. Look again by {again}."
    if answer.action != "leave":
        yield f"To be weighed with the veterinarian: {answer.caution}."
    yield from _blood_words(goat, record)


def _blood_words(goat: Goat, record: Record) -> Iterator[str]:
    """How the score compares with the packed cell volume of the same animal."""
    volume = told(record, "pcv_percent", "%")
    if volume is None:
        return
    try:
        by_blood = score_from_packed_cell_volume(volume)
    except ValueError as fault:
        yield f"{goat.name}: {fault}."
        return
    scored = int(record.value("score"))
    agrees = "as scored" if by_blood == scored else f"scored {scored}: the blood is what counts"
    yield f"{goat.name}: a packed cell volume of {plain(volume)} % is score {by_blood}, {agrees}."


def condition_words(goat: Goat) -> Iterator[str]:
    """What a condition score just written down asks to look for."""
    change = condition_of(goat)
    if isinstance(change, str):
        yield f"{goat.name}: {change}."
    elif change is not None and change.advice is not Advice.OK:
        yield f"{goat.name}: {change.reason}."


def egg_words(goat: Goat, record: Record) -> Iterator[str]:
    """The eggs per gram of a count just written down."""
    counted = counted_eggs(record)
    yield f"{goat.name}: {counted if isinstance(counted, str) else counted.reason}."


def _condition_says(change: ConditionAnswer | str | None) -> str:
    """What a condition asks to look for; empty where it asks nothing."""
    if change is None or isinstance(change, str):
        return change or ""
    return "" if change.advice is Advice.OK else change.reason


def _eggs(record: Record) -> tuple[float | None, str]:
    counted = counted_eggs(record)
    if isinstance(counted, str):
        return None, counted
    return figure(counted.eggs_per_gram, 2), counted.reason


def _late_pregnant(goat: Goat, on: date) -> bool:
    carries = carried(goat)
    if carries is None or carries.window is None:
        return False
    due = carries.window.best or carries.window.opens
    return 0 <= (due - on).days <= LATE_PREGNANT_DAYS


def _condition_on(goat: Goat, on: date) -> Fraction | None:
    since = on - timedelta(days=CONDITION_COUNTS_DAYS)
    scores = [act for day, act in goat.done("condition-score") if since <= day <= on]
    score = told(scores[-1], "score", "pt") if scores else None
    return score if score is not None and score % Fraction(1, 2) == 0 else None
