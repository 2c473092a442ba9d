"""Disease tests and newcomers: the newest result, the next test, and what a negative is worth.

A result speaks of one date. Must not know laboratories.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections.amounts import figure, told
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.settings import Settings
from herdsync.reports import NewcomerLine, TestLine
from herdsync.trade.screening import (
    JOHNES_ELISA_SENSITIVITY_HIGHEST,
    JOHNES_ELISA_SENSITIVITY_LOWEST,
    ResultMeaning,
    all_carriers_missed,
    newcomer,
    next_test,
    result_meaning,
    telling_from,
)
from herdsync.trade.units import plain

SCREENING_CAUTION = (
    "A negative result speaks of one animal on one day. What a result means and what follows is for "
    "the veterinarian; some diseases must be reported by law."
)
# With how many carriers a test of the whole herd is tried: an example, ours.
HERD_CARRIERS = 2
# Spellings of the diseases whose youngest telling age is known.
_KNOWN = {
    "cae": "cae",
    "caprine arthritis encephalitis": "cae",
    "cl": "cl",
    "caseous lymphadenitis": "cl",
    "johnes": "johnes",
    "johne's": "johnes",
    "johne's disease": "johnes",
    "paratuberculosis": "johnes",
}


def test_lines(herd: Herd, prevalence: Fraction | None = None) -> list[TestLine]:
    """The newest test of each animal of the herd for each disease, what is not negative first.

    Then the next test due first.

    ``prevalence`` (0 to 1) is the keeper's or veterinarian's word on how common the disease is.
    """
    lines = [
        test_line(goat, on, test, prevalence)
        for goat in herd.in_walk_order()
        for on, test in _newest(goat)
    ]
    return sorted(lines, key=_order)


def _order(line: TestLine) -> tuple[bool, str, str, str]:
    return line.result == "negative", line.next_test, line.disease.casefold(), line.name


def test_line(goat: Goat, on: date, test: Record, prevalence: Fraction | None) -> TestLine:
    """One test of one animal."""
    disease = str(test.value("disease"))
    settings = goat.look.settings
    following = next_test(on, months_between(settings, disease))
    meaning = _meaning(test, prevalence)
    from_day = _telling(goat, disease)
    too_young = from_day is not None and on < from_day
    young = f"{goat.name} was too young on {on}: it tells from {from_day}" if too_young else ""
    return TestLine(
        animal=text_id(goat.id),
        name=goat.name,
        disease=disease,
        on=on.isoformat(),
        result=str(test.value("result", "pending")),
        method=str(test.value("method", "")),
        next_test=following.on.isoformat(),
        overdue=following.on < goat.look.today,
        telling_from="" if from_day is None else from_day.isoformat(),
        negative_is_wrong=figure(meaning.negative_is_wrong if meaning else None, 6),
        positive_is_right=figure(meaning.positive_is_right if meaning else None, 6),
        says=_meaning_words(test, prevalence, meaning),
        too_young=young,
        record=text_id(test.id),
    )


def newcomer_lines(herd: Herd) -> list[NewcomerLine]:
    """The animals that are still kept apart since they came."""
    lines = []
    for goat in herd.in_walk_order():
        until, arrival = goat.quarantined_until, goat.last("arrival")
        if until is not None and arrival is not None:
            lines.append(_newcomer_line(goat, arrival[0], until))
    return lines


def test_words(goat: Goat, test: Record) -> Iterator[str]:
    """What follows from a disease test just written down."""
    mine = next((one for one in goat.done("disease-test") if one[1].id == test.id), None)
    if mine is None:
        return
    line = test_line(goat, mine[0], test, None)
    yield f"{goat.name}, {line.disease}: next test {line.next_test}. {_capital(line.says)}."
    if line.too_young:
        yield f"{line.too_young}."
    if line.result in ("positive", "doubtful"):
        yield f"{goat.name}: ask the veterinarian what follows, and keep it from leaving meanwhile."


def arrival_words(goat: Goat, arrival: Record) -> Iterator[str]:
    """How long a newcomer just written down is kept apart, and the test at the end."""
    last = goat.last("arrival")
    until = goat.quarantined_until
    if last is None or last[1].id != arrival.id or until is None:
        return
    yield _capital(_newcomer_line(goat, last[0], until).says) + "."


def joining_words(herd: Herd, goat: Goat) -> Iterator[str]:
    """Whether a move just written down puts a newcomer still kept apart among others of the herd."""
    pen = herd.pen(goat.pen)
    others = [one for one in pen.goats if one.id != goat.id] if pen is not None else []
    apart = [one for one in (goat, *others) if one.quarantined_until is not None]
    herd_there = [one.name for one in (goat, *others) if one.quarantined_until is None]
    if pen is None or not apart or not herd_there:
        return
    for one in apart:
        yield (
            f"{one.name} is a newcomer to be kept apart until {one.quarantined_until}, and in {pen.name} "
            f"it stands with {', '.join(sorted(herd_there))}."
        )


def months_between(settings: Settings, disease: str) -> int:
    """Months from one test for a disease to the next, by the farm's setting."""
    told_months = settings.test_months
    key = disease.strip().casefold()
    return told_months.get(key, told_months.get(_KNOWN.get(key, ""), told_months[""]))


def _newest(goat: Goat) -> Iterator[tuple[date, Record]]:
    newest: dict[str, tuple[date, Record]] = {}
    for on, test in goat.done("disease-test"):
        newest[str(test.value("disease")).casefold()] = (on, test)
    yield from (newest[disease] for disease in sorted(newest))


def _newcomer_line(goat: Goat, arrived: date, until: date) -> NewcomerLine:
    words = newcomer(arrived, max(1, (until - arrived).days))
    return NewcomerLine(
        text_id(goat.id),
        goat.name,
        arrived.isoformat(),
        until.isoformat(),
        words.retest_on.isoformat(),
        f"{goat.name}: {words.reason}",
    )


def _telling(goat: Goat, disease: str) -> date | None:
    known = _KNOWN.get(disease.strip().casefold())
    return None if known is None or goat.born is None else telling_from(goat.born, known).on


def _meaning(test: Record, prevalence: Fraction | None) -> ResultMeaning | None:
    sensitivity = told(test, "sensitivity_percent", "%")
    specificity = told(test, "specificity_percent", "%")
    if prevalence is None or sensitivity is None or specificity is None:
        return None
    return result_meaning(prevalence, sensitivity / 100, specificity / 100)


def _meaning_words(
    test: Record, prevalence: Fraction | None, meaning: ResultMeaning | None
) -> str:  # fmt: skip
    if meaning is not None:
        return meaning.reason
    if test.value("result") in ("positive", "doubtful"):
        return "a single test may be wrong either way: the veterinarian says how it is confirmed"
    sensitivity = told(test, "sensitivity_percent", "%")
    if sensitivity is None:
        usual = _usual_words(str(test.value("disease")))
        return f"{usual}; record sensitivity_percent to see what it misses"
    herd_missed = all_carriers_missed(HERD_CARRIERS, sensitivity / 100)
    missed = (
        f"of 100 carriers {plain(100 - sensitivity)} would be missed, and with {HERD_CARRIERS} in a "
        f"herd a test of all finds none of them in {plain(herd_missed * 100, 1)} of 100 herds; it "
        "speaks of one day only"
    )
    if told(test, "specificity_percent", "%") is None or prevalence is not None:
        return f"{missed}; record specificity_percent to see what it is worth"
    return f"{missed}; give a prevalence to see what a negative is worth"


def _usual_words(disease: str) -> str:
    """What is published of the usual blood test for a disease; that it speaks of a day, of others."""
    if _KNOWN.get(disease.strip().casefold()) != "johnes":
        return "a negative speaks of one day only"
    least, most = (
        plain(share * 100)
        for share in (JOHNES_ELISA_SENSITIVITY_LOWEST, JOHNES_ELISA_SENSITIVITY_HIGHEST)
    )
    return (
        f"a test of blood finds {least} to {most} of 100 that a test of dung finds, so most carriers "
        "stay unseen; a negative speaks of one day only"
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
