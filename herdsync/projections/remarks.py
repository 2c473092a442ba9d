"""What the trade says of a record just written down, kind by kind, as sentences for its keeper.

Each is a reason to look or to ask, never a refusal: recording is never blocked. Must not know
screens or the care plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import timedelta

from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.amounts import told
from herdsync.projections.breeding import size_of
from herdsync.projections.dose_checks import dose_checks, milk_words, product_checks
from herdsync.projections.feeding_words import feeding_words
from herdsync.projections.goat import Goat
from herdsync.projections.growth import weaning_words, weight_words
from herdsync.projections.herd import Herd
from herdsync.projections.holds import holds
from herdsync.projections.horn_words import scur_words
from herdsync.projections.kidding_board import (
    check_words,
    heat_words,
    kidded_words,
    mating_words,
)
from herdsync.projections.kids import KEPT, tetanus_history
from herdsync.projections.lactations import test_day_words
from herdsync.projections.marks import mark_line, sheet_warnings, tattoo_warnings
from herdsync.projections.milk import milking_words
from herdsync.projections.names import SHORT_ID
from herdsync.projections.screenings import arrival_words, joining_words, test_words
from herdsync.projections.twice import twice_words
from herdsync.projections.worms import condition_words, egg_words, score_words
from herdsync.trade.advice import Advice, Finding
from herdsync.trade.castration import both_testes, stone_risk, usual_age
from herdsync.trade.disbudding import application, applications_wanted, disbudding_age
from herdsync.trade.identity import us_official_id
from herdsync.trade.law import Method, castration_law, disbudding_law
from herdsync.trade.tetanus import tetanus_cover
from herdsync.trade.vitals import breathing, pulse, rumen, temperature

Words = Callable[[Herd, Goat, Record], Iterator[str]]
_METHODS: Mapping[str, Method] = {"ring": "ring", "clamp": "clamp", "surgical": "surgical"}
KID_DAYS = 183


def remarks(herd: Herd, record: Record, goat: Goat | None) -> Iterator[str]:
    """Sentences on one record; ``goat`` is the animal it is about, None where there is none."""
    if record.kind == "product":
        yield from product_checks(herd, record)
    elif record.kind == "animal":
        sheet = herd.goat(record.id)
        if sheet is not None:
            yield from twice_words(herd, sheet, record)
            yield from [*sheet_warnings(sheet), *_no_birth(sheet), *_unpenned(herd, sheet)]
    elif goat is not None:
        yield from twice_words(herd, goat, record)
        yield from _sex_words(herd, goat, record)
        if record.kind in _BY_KIND:
            yield from _BY_KIND[record.kind](herd, goat, record)


def _no_birth(goat: Goat) -> Iterator[str]:
    """Whether an animal of the farm has no birth date, from which every window of age counts."""
    if goat.born is None and goat.standing == "here":
        yield (
            f"No birth date of {goat.name} is on record: none of its windows can be counted. Write it as "
            "exactly as you know it, if only the month (born=...)."
        )


def _unpenned(herd: Herd, kid: Goat) -> Iterator[str]:
    """Whether a kid just written down stands in no pen though its dam does: the walk would miss it."""
    dam_id = kid.told("dam")
    dam = herd.goat(dam_id) if isinstance(dam_id, bytes) else None
    place = herd.pen(dam.pen) if dam is not None and dam.standing == "here" else None
    young = kid.age_days is not None and kid.age_days <= KID_DAYS
    if place is not None and young and kid.standing == "here" and kid.pen is None:
        called = kid.told("name") or text_id(kid.id)[:SHORT_ID]
        yield (
            f"{kid.name} stands in no pen yet, its dam stands in {place.name}: write a move to a pen "
            f"(herdsync record pen-move animal='{called}' pen='{place.name}'; in the dashboard p)."
        )


def _sex_words(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    """Whether an act of does was written of a male, or of males of a doe: most likely a wrong name."""
    kind = CATALOGUE[record.kind]
    wrong = goat.male if kind.subject == "doe" else goat.female and record.kind == "castration"
    if wrong:
        yield (
            f"{goat.name} is a {goat.sex_now} by its sheet: look whether the {kind.title} is "
            "another animal's."
        )
    mate = record.value("buck") if record.kind == "mating" else None
    buck = herd.goat(mate) if isinstance(mate, bytes) else None
    if buck is not None and buck.female:
        yield f"{buck.name} is a doe by its sheet: look whether another animal was the buck."


def _temperature(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    degrees = told(record, "temperature_c", "C")
    readings: list[Finding] = []
    if degrees is not None:
        try:
            readings.append(temperature(degrees))
        except ValueError as fault:
            yield f"{goat.name}: {fault}."
    for field, judge in (
        ("pulse_per_min", pulse),
        ("breaths_per_min", breathing),
        ("rumen_per_min", rumen),
    ):
        told_rate = record.value(field)
        if isinstance(told_rate, int):
            readings.append(judge(told_rate))
    del herd
    flagged = [one for one in readings if one.advice is not Advice.OK]
    yield from (f"{goat.name}: {one.reason}." for one in flagged)
    if flagged and goat.age_days is not None and goat.age_days <= KID_DAYS:
        yield "These ranges are of grown goats; kids run higher."


def _castration(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    on = acts.first_day(record, herd.look.zone)
    method = _METHODS.get(str(record.value("method")))
    testes = record.value("testes")
    if isinstance(testes, int) and method != "surgical":
        yield from _unless_ok(goat, both_testes(testes))
    kept_as = KEPT.get(str(goat.told("kept_as") or ""), "undecided")
    if kept_as == "sire":
        yield f"{goat.name} is kept as a stud by its sheet: look whether another was meant."
    if on is None or goat.born is None or on < goat.born:
        return
    yield from _unless_ok(goat, stone_risk((on - goat.born).days, kept_as))
    if method is not None:
        note = castration_law(herd.look.settings.country, method, goat.born, on)
        yield f"Law on {method} at {(on - goat.born).days} days: {note.standing}, {note.text}."
        yield from _unless_ok(goat, usual_age(method, (on - goat.born).days))
    if record.value("tetanus") in (None, "none", "unknown"):
        yield from _unless_ok(goat, tetanus_cover(goat.born, on, tetanus_history(herd, goat)))


def _disbudding(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    on = acts.first_day(record, herd.look.zone)
    if herd.look.settings.country:
        note = disbudding_law(herd.look.settings.country)
        yield f"Law on disbudding: {note.standing}, {note.text}."
    if on is not None and goat.born is not None and on >= goat.born:
        yield from _unless_ok(goat, disbudding_age(goat.born, on))
    seconds = told(record, "seconds", "s")
    if seconds is not None:
        yield from _unless_ok(goat, application(seconds))
    times = record.value("applications")
    if isinstance(times, int) and times < 2 and goat.male and size_of(goat) == "standard":
        yield f"{goat.name}: {applications_wanted('buck').reason}."
    if goat.told("horns_born") == "polled":
        yield f"{goat.name} is written down as polled: look again whether there was a bud."


def _leaving(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    """What still runs on an animal that leaves; the buyer must be told."""
    if herd.look.settings.country.startswith("US"):
        yield from _official_id(goat, record)
    for hold in holds(herd, goat):
        yield f"{goat.name} leaves with this: {hold.what} until {hold.until or 'nobody knows when'}."
    marks = mark_line(goat)
    yield from marks.warnings
    if not marks.read:
        yield f"The marks of {goat.name} were never read again on the animal: read them now."
    yield from _left_behind(herd, goat)


def _left_behind(herd: Herd, doe: Goat) -> Iterator[str]:
    """Which kids drank from a doe that is no more: nobody else is asked to feed them."""
    for record in doe.kids if doe.female else []:
        kid = herd.goat(record.id)
        if kid is None or kid.gone is not None or kid.weaned or kid.told("suckles") is False:
            continue
        raised_by = kid.told("raised_by")
        hers = not isinstance(raised_by, bytes) or raised_by in doe.record.ids
        if hers and kid.age_days is not None and kid.age_days <= herd.look.settings.suckling_days:
            yield (
                f"{kid.name}, {kid.age_days} days old, drinks from {doe.name} by its sheet: feed it, and "
                "write suckles=no (or raised_by), so that its bottles come due."
            )


def _official_id(goat: Goat, leaving: Record) -> Iterator[str]:
    """What the United States ask of an animal's marks before it leaves."""
    on = acts.first_day(leaving, goat.look.zone) or goat.look.today
    culled = leaving.value("how") == "culled"
    yield from _unless_ok(
        goat, us_official_id(on, goat.born, wether=goat.wether, to_slaughter=culled)
    )


def _death(herd: Herd, goat: Goat, record: Record) -> Iterator[str]:
    """Whom to look at now that one has died."""
    at = acts.first_instant(record, herd.look.zone)
    place = herd.pen(goat.pen_at(at - timedelta(days=1))) if at is not None else None
    mates = [one.name for one in place.goats if one.id != goat.id] if place is not None else []
    if mates:
        yield f"Look at those of {place.name if place else ''} today: {', '.join(mates)}."
    yield from _left_behind(herd, goat)


def _pen_move(herd: Herd, goat: Goat, _move: Record) -> Iterator[str]:
    if goat.entire and (goat.age_days is None or goat.age_days > KID_DAYS):
        yield (
            "A buck in season is strong and quick: never turn your back on him, and lead him with a "
            "second person near."
        )
    yield from joining_words(herd, goat)


def _unless_ok(goat: Goat, finding: Finding) -> Iterator[str]:
    if finding.advice is not Advice.OK:
        yield f"{goat.name}: {finding.reason}."


def _without_herd(words: Callable[[Goat, Record], Iterator[str]]) -> Words:
    return lambda _herd, goat, record: words(goat, record)


_BY_KIND: Mapping[str, Words] = {
    "dose": dose_checks,
    "vaccination": dose_checks,
    "kidding": lambda herd, doe, record: iter(
        [*kidded_words(herd, doe, record), *milk_words(herd, doe)]
    ),
    "tattoo": tattoo_warnings,
    "temperature": _temperature,
    "eyelid-score": score_words,
    "condition-score": lambda _herd, goat, _record: condition_words(goat),
    "egg-count": _without_herd(egg_words),
    "weighing": _without_herd(weight_words),
    "weaning": _without_herd(weaning_words),
    "mating": mating_words,
    "heat": heat_words,
    "pregnancy-check": check_words,
    "milk": milking_words,
    "test-day": _without_herd(test_day_words),
    "disease-test": _without_herd(test_words),
    "arrival": _without_herd(arrival_words),
    "castration": _castration,
    "disbudding": _disbudding,
    "pen-move": _pen_move,
    "leaving": _leaving,
    "death": _death,
    "scurs": _without_herd(scur_words),
    "feeding": feeding_words,
}
