"""The treatment record of a period, and one animal's history on one page for the veterinarian.

The record's columns: date, animal, product, batch, amount, route, reason, prescriber, withdrawal, who
gave it, following what 21 CFR 530.5 (USA) and the English trading-standards guidance on veterinary
medicine records ask to be written down. What the record lacks is named. It prescribes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.conflicts import Conflict
from herdsync.merge.records import Record
from herdsync.papers import facts
from herdsync.papers.in_words import act_words, field_words
from herdsync.papers.paper import Basis, Note, Paper, Section
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.keeping import counts_here
from herdsync.projections.look import Look
from herdsync.projections.withholding import FIELDS, given_to, held_by
from herdsync.trade.screening import KEEPING_PERIODS, KeepingPeriod, keep_until

RECORD, HISTORY = "treatment-record", "history"
# More acts than one page holds; how many of them it does is measured.
PAGE_ACTS = 200
_MEDICINE_KEYS = ("us-extralabel", "england-medicine", "eu-medicine")
_LEGAL = (
    "date", "animal", "product", "lot", "amount", "route", "condition", "on whose word",
    "withdrawal", "clear", "given by", "keep until",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Medicine:
    """One dose or vaccine given: its day, its cells, and what its record lacks."""

    day: date
    record: Record
    cells: tuple[str, ...]
    lacks: tuple[str, ...]


BRIEF = ("date", "product", "lot", "amount", "condition", "clear")
VACCINE = ("date", "product", "lot", "amount", "clear")


def brief(medicine: Medicine, columns: Sequence[str] = BRIEF) -> list[str]:
    """The cells of a treatment that a buyer needs, under ``columns``."""
    told = dict(zip(_LEGAL, medicine.cells, strict=True))
    return [told[name] for name in columns]


def medicine_rows(herd: Herd, goat: Goat) -> list[Medicine]:
    """Every dose and vaccine that counts for an animal up to the moment, oldest first."""
    found = []
    for record in given_to(goat):
        day = acts.first_day(record, herd.look.zone)
        if day is not None and day <= herd.look.today:
            found.append(_medicine(herd, goat, record, day))
    return sorted(found, key=lambda one: (one.day, one.record.id))


def treatment_record(
    herd: Herd, goats: Iterable[Goat], first: date, last: date, conflicts: Sequence[Conflict], basis: Basis
) -> Paper:  # fmt: skip
    """Everything given on the days from first to last, both included, with gaps named."""
    every = [(one, goat) for goat in goats for one in medicine_rows(herd, goat)
             if first <= one.day <= last]  # fmt: skip
    every.sort(key=lambda pair: (pair[0].day, pair[1].name, pair[0].record.id))
    ids = {id for one, _ in every for id in one.record.ids}
    ids |= {sheet for one, _ in every if isinstance(sheet := one.record.value("product"), bytes)}
    marks = [*_gaps(every), *facts.told_apart(herd.look, ids, conflicts)]
    animals = len({goat.id for _, goat in every})
    table = [one.cells for one, _ in every]
    sums = [("Treatments", str(len(every))), ("Animals treated", str(animals)), ("Species", "goat")]
    shelf = ("product", "substance", "on whose word", "address")
    sections = [
        Section("Given", (), _LEGAL, table, [] if table else ["Nothing is on record."]),
        Section("Sums", sums),
        *_durations(every),
        Section("Products", (), shelf, _products(herd, every)),
        Section("Keeping", lines=_keeping(herd, last)),
    ]
    about = f"{first} to {last}"
    return Paper(RECORD, "Treatment record", about, basis, sections, (), marks)


def _durations(every: Iterable[tuple[Medicine, Goat]]) -> Iterator[Section]:
    """How long what was given more than once was given: a record has to say it (21 CFR 530.5)."""
    found: dict[tuple[str, ...], list[date]] = {}
    for one, goat in every:
        told = dict(zip(_LEGAL, one.cells, strict=True))
        found.setdefault((goat.name, told["product"], told["condition"]), []).append(one.day)
    table = [
        [*key, str(days[0]), str(days[-1]), str(len(days))]
        for key, days in found.items() if len(days) > 1 and "" not in key
    ]  # fmt: skip
    columns = ("animal", "product", "condition", "first", "last", "times")
    if table:
        yield Section("Duration of treatment, given more than once", (), columns, table)


def _gaps(every: Iterable[tuple[Medicine, Goat]]) -> Iterator[Note]:
    """What was not written down, treatments that lack the same named together."""
    found: dict[tuple[str, ...], list[tuple[Medicine, Goat]]] = {}
    for one, goat in every:
        if one.lacks:
            found.setdefault(one.lacks, []).append((one, goat))
    for lacks, treated in found.items():
        whom = ", ".join(f"{goat.name} {one.day}" for one, goat in treated)
        records = tuple(text_id(one.record.id) for one, _ in treated)
        yield Note(f"Not written down: {', '.join(lacks)}, of {whom}", records)


def history(herd: Herd, goat: Goat, conflicts: Sequence[Conflict], basis: Basis) -> Paper:
    """One animal's history for the veterinarian, on one page: newest acts first."""
    every = [
        (day, act)
        for kind in goat.acts
        if kind not in ("milk", "chore-done", "pen-move", "exempt")
        for day, act in goat.done(kind)
    ]
    every.sort(key=lambda one: (one[0], one[1].id), reverse=True)
    table = [
        [acts.when_words(act, herd.look.zone), CATALOGUE[act.kind].title, act_words(act, herd.look)]
        for _, act in every[:PAGE_ACTS]
    ]
    running = list(facts.treatment_notes(herd, goat))
    sections = [
        Section("Animal", [*facts.identity(goat)[:5], ("Marks", facts.ears(goat) or "none on record"),
                           *facts.breeding(herd, goat)[:2], *facts.care(goat)[:1]]),
        Section("History, newest first", columns=("on", "what", "as told"), table=table,
                lines=[] if table else ["Nothing is on record."], beyond=len(every) - len(table)),
    ]  # fmt: skip
    marks = [*running, *facts.disagreements(goat, conflicts)]
    title = "History for the veterinarian"
    return Paper(HISTORY, title, goat.name, basis, sections, (), marks, one_page=True)


def _medicine(herd: Herd, goat: Goat, record: Record, day: date) -> Medicine:
    look = herd.look
    product = record.value("product")
    sheet = look.records.get(product) if isinstance(product, bytes) else None
    told = {
        "product": look.names(product) if isinstance(product, bytes) else "",
        "lot": _of(look, record, sheet, "lot"),
        "amount": _of(look, record, None, "amount_ml"),
        "route": _of(look, record, sheet, "route"),
        "condition": _of(look, record, None, "because")
        or ("vaccination" if record.kind == "vaccination" else ""),
        "on whose word": _of(look, record, sheet, "said_by"),
    }  # fmt: skip
    held = ", ".join(
        f"{what} {text}" for what, field in FIELDS.items()
        if (text := _of(look, record, sheet, field))
    )  # fmt: skip
    lacks = [name for name, text in told.items() if not text]
    lacks += [] if held else ["withdrawal"]
    given_by = record.first.author.by
    cells = (
        acts.when_words(record, look.zone), f"{goat.name} {facts.ears(goat)}".strip(),
        *told.values(), held, _clear(goat, record), given_by, _until(herd, day),
    )  # fmt: skip
    return Medicine(day, record, cells, tuple(lacks))


def _of(look: Look, record: Record, sheet: Record | None, field: str) -> str:
    """A field of the act, else of the product's sheet, in the keeper's words."""
    for one in (record, sheet):
        if one is None or field not in CATALOGUE[one.kind].fields:
            continue
        if told := field_words(one, field, look):
            return told
    return ""


def _clear(goat: Goat, record: Record) -> str:
    """When milk and meat are clear of this dose; a ? where nobody knows."""
    found = []
    for what in FIELDS:
        ends = [held.clear.at for held in held_by(goat, what) if record.id in held.records]
        if ends:
            known = [end for end in ends if end is not None]
            latest = (
                max(known).astimezone(goat.look.zone).strftime("%Y-%m-%d %H:%M") if known else "?"
            )
            found.append(f"{what} {latest if len(known) == len(ends) else '?'}")
    return ", ".join(found)


def _until(herd: Herd, day: date) -> str:
    years = [period.years for period in _periods(herd)]
    return str(keep_until(day, max(years)).on) if years else ""


def _periods(herd: Herd) -> list[KeepingPeriod]:
    country = herd.look.settings.country
    return [
        period
        for period in KEEPING_PERIODS
        if period.key in _MEDICINE_KEYS and counts_here(period, country)
    ]


def _keeping(herd: Herd, last: date) -> list[str]:
    lines = [
        f"{_sentence(period.what)}: {keep_until(last, period.years).reason} ({period.source})."
        for period in _periods(herd)
    ]
    return [*lines, "Local law and the veterinarian say what counts here."]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _products(herd: Herd, every: Iterable[tuple[Medicine, Goat]]) -> list[list[str]]:
    found: dict[bytes, list[str]] = {}
    for one, _ in every:
        product = one.record.value("product")
        sheet = herd.records.get(product) if isinstance(product, bytes) else None
        if sheet is not None:
            told = [
                str(sheet.value(field) or "") for field in ("substance", "said_by", "vet_address")
            ]
            found[sheet.id] = [herd.look.names.of(sheet), *told]
    return [found[id] for id in sorted(found)]
