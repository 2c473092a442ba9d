"""Marks of the animals: the next one to suggest, and what speaks against one that was written.

A suggestion is firm only when the tattoo is recorded done. A typed mark is checked and never
rewritten. Must not know screens.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from herdsync.kinds.cautions import TATTOO
from herdsync.kinds.ids import text_id
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.projections.look import Look
from herdsync.projections.settings import Numbers
from herdsync.reports import HeardLine, MarkLine, MarkSuggestion
from herdsync.trade.advice import Advice
from herdsync.trade.identity import (
    SERIES,
    TattooSites,
    YearLetter,
    check_letter,
    electronic_code,
    herd_prefix,
    left_ear,
    mark_free_again,
    next_number,
    read_left_ear,
    tattoo_sites,
    year_letter,
)

PLANNED, TEST_READ, DONE, RE_READ = "planned", "test-read", "done", "re-read"
_YEAR_FIELDS = ("tattoo_left", "tattoo_tail")
_EARS = ("right", "left", "tail")


def suggestion(
    herd: Herd, year: int, device: str, heard: Sequence[HeardLine]
) -> MarkSuggestion | None:
    """The next left-ear mark of a year on a laptop; None where the year's letter is not known.

    Raises ValueError where the laptop's numbers are used up.
    """
    look = herd.look
    letter = letter_of(look, year)
    if letter is None:
        return None
    numbers = _numbers_of(look, device)
    taken, barred = _taken(herd, year, letter.letter)
    number = next_number(taken, numbers.share, numbers.block)
    while number in barred:
        number = next_number({*taken, number}, numbers.share, numbers.block)
    left = left_ear(letter.letter, number)
    share = numbers.share if numbers.block is None else "{}-{}".format(*numbers.block)
    return MarkSuggestion(
        year=year,
        letter=letter.letter,
        printed=letter.printed,
        number=number,
        left=left,
        right=look.settings.prefix,
        share=share,
        taken=sorted(taken),
        heard=list(heard),
        says=f"{left} is a suggestion ({letter.reason}); it is firm only when the tattoo is "
        f"recorded done. {_heard_words(heard)}",
        caution=TATTOO,
    )


def letter_of(look: Look, year: int) -> YearLetter | None:
    """The letter of a birth year by the farm's settings; None where the registry gave none out."""
    settings = look.settings
    try:
        return year_letter(year, SERIES.get(settings.letters), settings.letters_announced)
    except ValueError:
        return None


def mark_lines(herd: Herd, goats: Sequence[Goat]) -> list[MarkLine]:
    """The marks of animals, each with what to look at, marks written for two animals too."""
    bearing: dict[str, list[Record]] = {}
    for sheet in herd.records.of_kind("animal"):
        if not _foreign(sheet, herd.look):
            for mark in {folded(told) for field in _YEAR_FIELDS for told in sheet.values(field)}:
                bearing.setdefault(mark, []).append(sheet)
    return [mark_line(goat, _twice(herd, goat, bearing)) for goat in goats]


def _twice(herd: Herd, goat: Goat, bearing: Mapping[str, list[Record]]) -> Iterator[str]:
    """Its year marks that are written for another animal of this herd too."""
    for field in _YEAR_FIELDS:
        mark = goat.told(field)
        for other in bearing.get(folded(mark), ()) if mark else ():
            if other.id != goat.id:
                yield f"{mark} is written for {herd.look.names.of(other)} too: read both animals."


def mark_line(goat: Goat, further: Iterable[str] = ()) -> MarkLine:
    """The marks of one animal and what to look at, ``further`` sentences last."""
    tattoo = goat.last("tattoo")
    read = _last_of(goat, RE_READ)
    sites = sites_of(goat)
    legibility = []
    if read is not None:
        for ear in _EARS:
            told = read.value(f"legibility_{ear}")
            legibility += [f"{ear}: {told}"] if told else []
    return MarkLine(
        id=text_id(goat.id),
        name=goat.name,
        born=str(goat.told("born") or ""),
        right=str(goat.told("tattoo_right") or ""),
        left=str(goat.told("tattoo_left") or ""),
        tail=str(goat.told("tattoo_tail") or ""),
        chip=str(goat.told("chip") or ""),
        stage=str(tattoo[1].value("stage")) if tattoo is not None else "",
        sites=[sites.herd_mark, *sites.year_mark],
        read="" if read is None else acts.when_words(read, goat.look.zone),
        legibility=legibility,
        warnings=[
            *sheet_warnings(goat),
            *_done_warnings(goat),
            *_reading_warnings(goat, read),
            *further,
        ],
    )


def sites_of(goat: Goat) -> TattooSites:
    """Where its marks go, by whether its breed has ears for them."""
    breed = str(goat.told("breed") or "").casefold()
    short = {name.casefold() for name in goat.look.settings.short_eared}
    return tattoo_sites(short_ears=bool(breed) and breed in short)


def sheet_warnings(goat: Goat) -> Iterator[str]:
    """What speaks against the marks on an animal's own sheet."""
    right = goat.told("tattoo_right")
    yield from _right_warnings(goat, str(right)) if right else ()
    for field in _YEAR_FIELDS:
        told = goat.told(field)
        if told and goat.standing != "outside":
            yield from _letter_warnings(goat, str(told))
    chip = goat.told("chip")
    if chip:
        yield from _chip_warnings(str(chip))


def tattoo_warnings(herd: Herd, goat: Goat, tattoo: Record) -> Iterator[str]:
    """What to look at in a tattoo just written down."""
    stage = tattoo.value("stage")
    told = {ear: str(tattoo.value(ear)) for ear in _EARS if tattoo.value(ear)}
    if "right" in told:
        yield from _right_warnings(goat, told["right"])
    for ear in ("left", "tail"):
        if ear in told:
            yield from _letter_warnings(goat, told[ear])
            yield from _used_warnings(herd, goat, told[ear])
    if sites_of(goat).herd_mark != "right ear" and ("left" in told or "right" in told):
        yield f"{goat.name} is of a short-eared breed: {sites_of(goat).reason}."
    if stage in (PLANNED, TEST_READ) and told:
        yield "These marks are firm only when the tattoo is recorded done."
    if stage == DONE:
        if _last_of(goat, TEST_READ) is None:
            yield "No punch read on card is recorded before it: read the mark again now."
        yield from _sheet_lacks(goat, told)
    yield from _sheet_differs(goat, told) if stage in (DONE, RE_READ) else ()
    if stage == RE_READ:
        yield from _reading_warnings(goat, tattoo)


def _right_warnings(goat: Goat, right: str) -> Iterator[str]:
    if goat.standing == "outside":
        return
    try:
        mark = herd_prefix(right)
    except ValueError as fault:
        yield f"Right ear of {goat.name}: {fault}."
        return
    own = goat.look.settings.prefix
    if own and mark != own and goat.last("arrival") is None:
        yield (
            f"{right} in the right ear of {goat.name} is not the herd prefix {own}; right only for "
            "an animal that came from elsewhere."
        )


def _letter_warnings(goat: Goat, mark: str) -> Iterator[str]:
    try:
        letter, _ = read_left_ear(mark)
    except ValueError as fault:
        yield f"Year mark of {goat.name}: {fault}."
        return
    if goat.born is None or goat.last("arrival") is not None:
        return
    expected = letter_of(goat.look, goat.born.year)
    if expected is None:
        yield (
            f"No letter is announced for {goat.born.year}, so {mark} cannot be checked: set "
            "letters-announced once the registry gives it out."
        )
        return
    finding = check_letter(letter, expected)
    if finding.advice is not Advice.OK:
        yield f"Year mark of {goat.name}: {finding.reason}."


def _chip_warnings(chip: str) -> Iterator[str]:
    try:
        code = electronic_code(chip)
    except ValueError as fault:
        yield f"Electronic code: {fault}."
        return
    if code.kind == "test":
        yield f"Electronic code {chip}: {code.reason}; no animal should bear it."
    elif code.kind == "manufacturer":
        yield f"Electronic code {chip}: {code.reason} and names no country."


def _used_warnings(herd: Herd, goat: Goat, mark: str) -> Iterator[str]:
    """Another animal of this herd that bears a year mark, or for which it was written down."""
    for other, marks in _written(herd):
        if other.id != goat.id and folded(mark) in marks:
            yield (
                f"{mark} is already written for {herd.look.names.of(other)}: read both ears before "
                "the pliers close, and plan another number."
            )


def _written(herd: Herd) -> Iterator[tuple[Record, set[str]]]:
    """The animals this herd numbers, each with every year mark written for it, folded."""
    by_tattoo: dict[bytes, set[str]] = {}
    for tattoo in herd.records.of_kind("tattoo"):
        animal = tattoo.value("animal")
        if isinstance(animal, bytes):
            marks = by_tattoo.setdefault(herd.records.canonical(animal), set())
            marks |= {folded(told) for ear in ("left", "tail") for told in tattoo.values(ear)}
    for sheet in herd.records.of_kind("animal"):
        if not _foreign(sheet, herd.look):
            told_of = {folded(told) for field in _YEAR_FIELDS for told in sheet.values(field)}
            yield sheet, told_of | by_tattoo.get(sheet.id, set())


def _sheet_lacks(goat: Goat, told: dict[str, str]) -> Iterator[str]:
    lacking = [
        f"tattoo_{ear}={mark}"
        for ear, mark in told.items()
        if folded(mark) not in {folded(one) for one in goat.record.values(f"tattoo_{ear}")}
    ]
    if lacking:
        yield (
            f"The sheet of {goat.name} does not carry it yet: "
            f"herdsync amend {text_id(goat.id)[:8]} {' '.join(lacking)}"
        )


def _sheet_differs(goat: Goat, told: dict[str, str]) -> Iterator[str]:
    """Marks on which the sheet now has two accounts, this tattoo's being one."""
    for ear, mark in told.items():
        others = [one for one in goat.record.values(f"tattoo_{ear}") if folded(one) != folded(mark)]
        if others and goat.record.disputed(f"tattoo_{ear}"):
            yield (
                f"The sheet of {goat.name} said {', '.join(others)} for the {ear} mark, this says "
                f"{mark}: both stand until you resolve it. Read the ear, then 'herdsync conflicts'."
            )


def _done_warnings(goat: Goat) -> Iterator[str]:
    """Marks tattooed last that its sheet does not say; what is disputed there is told elsewhere."""
    done = _last_of(goat, DONE)
    if done is None:
        return
    for ear in _EARS:
        mark, said = done.value(ear), goat.record.values(f"tattoo_{ear}")
        if mark and folded(mark) not in {folded(one) for one in said}:
            sheet = f"its sheet says {', '.join(said)}" if said else "its sheet says nothing of it"
            yield f"The {ear} mark of {goat.name} was tattooed {mark}, {sheet}: read the animal."


def _reading_warnings(goat: Goat, read: Record | None) -> Iterator[str]:
    if read is None:
        return
    for ear in _EARS:
        now, sheet = read.value(ear), goat.told(f"tattoo_{ear}")
        if now and sheet and folded(now) != folded(sheet):
            yield f"The {ear} mark of {goat.name} reads {now}, its sheet says {sheet}."
        legible = read.value(f"legibility_{ear}")
        if legible and legible != "clear":
            words = str(legible).replace("-", " ")
            yield f"The {ear} mark of {goat.name} reads {words}: read it again before it leaves."


def _last_of(goat: Goat, stage: str) -> Record | None:
    found = [act for _, act in goat.done("tattoo") if act.value("stage") == stage]
    return found[-1] if found else None


def _numbers_of(look: Look, device: str) -> Numbers:
    """This laptop's share; one that has none of its own takes what the others leave open."""
    shares = look.settings.tattoo_share
    return shares.get(device.casefold(), shares.get("", Numbers()))


def _taken(herd: Herd, year: int, letter: str) -> tuple[set[int], set[int]]:
    """Numbers written under this letter for kids of the year, and those an older goat still bars."""
    taken: set[int] = set()
    barred: set[int] = set()
    for sheet, marks in _written(herd):
        day = acts.first_day(sheet, herd.look.zone, "born")
        born = year if day is None else day.year
        for mark in marks:
            try:
                found, number = read_left_ear(mark)
            except ValueError:
                continue
            if found != letter:
                continue
            if abs(born - year) <= 1:
                taken.add(number)
            elif mark_free_again(min(born, year), max(born, year)).advice is not Advice.OK:
                barred.add(number)
    return taken, barred


def _foreign(sheet: Record, look: Look) -> bool:
    """Whether another herd numbered it: its right ear bears another mark than this herd's."""
    rights = {folded(told) for told in sheet.values("tattoo_right")}
    own = folded(look.settings.prefix)
    outside = sheet.value("standing") == "outside"
    return outside or (bool(own) and bool(rights) and own not in rights)


def _heard_words(heard: Sequence[HeardLine]) -> str:
    if not heard:
        return "No other laptop writes for this farm."
    told = [
        f"{one.keeper}'s laptop '{one.device}' was last heard of {_day(one.last_recorded)}"
        for one in heard
    ]
    return f"{'; '.join(told)}: numbers written there since are not known here."


def _day(recorded: str) -> str:
    return moments.moment_words(recorded) if recorded else "never"


def birth_year(goat: Goat, today: date) -> int:
    """The year a goat's letter follows from; this year where its birth is not told."""
    return today.year if goat.born is None else goat.born.year
