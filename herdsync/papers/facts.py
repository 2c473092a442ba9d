"""What papers say of one animal, row by row, each from its records as they count at the moment.

Must not know which paper says it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.merge.conflicts import Conflict
from herdsync.merge.records import Record
from herdsync.papers.in_words import DISEASES, act_words, day_words, field_words
from herdsync.papers.paper import BY_HAND, Note
from herdsync.projections import acts
from herdsync.projections.breeding import Pregnancy, pregnancy
from herdsync.projections.due_lines import until_words
from herdsync.projections.exposure import exposures
from herdsync.projections.goat import Goat
from herdsync.projections.held import held_animal
from herdsync.projections.herd import Herd
from herdsync.projections.holds import BREEDING, LEAVING, MEAT, MILK
from herdsync.projections.look import Look
from herdsync.projections.marks import mark_line
from herdsync.projections.moments import moment_words
from herdsync.projections.worms import KID_DAYS
from herdsync.trade.reproduction import WATCH_FROM_DAYS

Rows = list[tuple[str, str]]
# A mark must be read off the animal, not off its record, before it leaves; how fresh that reading
# should be: common practice, no published source.
READ_WITHIN_DAYS = 7
# A buck may have stood with a doe for weeks before he served her: common practice, no published source.
SERVED_WITHIN_DAYS = 210
# What was fed longer ago says nothing of today: common practice, no published source.
FED_WITHIN_DAYS = 14


def called(goat: Goat) -> str:
    """Its name in the herd book, and the one it is called by."""
    book, name = goat.told("registry_name"), goat.told("name")
    if book and name and book != name:
        return f"{book} ({name})"
    return str(book or name or goat.name)


def sort_of(goat: Goat) -> str:
    """Doe, buck, wether, doeling, ...: sex as born and what became of it."""
    return f"wether (born {goat.sex})" if goat.wether else goat.sex


def identity(goat: Goat) -> Rows:
    """Who it is, by its sheet."""
    told = goat.told
    return [
        ("Name", called(goat)),
        ("Herd book number", str(told("registry_no") or "none on record")),
        ("Sex", sort_of(goat)),
        ("Born", born(goat)),
        ("Breed", str(told("breed") or "not on record")),
        ("Colour and markings", str(told("colour") or "not on record")),
        ("Head", _head(goat)),
        ("Official identity", _official(goat)),
        ("Sire", parent(goat, "sire")),
        ("Dam", parent(goat, "dam")),
    ]


def born(goat: Goat) -> str:
    """Its day of birth, or the month it is told as."""
    told = goat.told("born")
    doubt = " (disputed)" if goat.record.disputed("born") else ""
    return day_words(str(told), goat.look.zone) + doubt if told else "not on record"


def _head(goat: Goat) -> str:
    """Disbudded, polled, scurs, horned; from which act."""
    kinds = {"disbudded": "disbudding", "scurs": "scurs"}
    last = goat.last(kinds.get(goat.heads, "")) if goat.heads in kinds else None
    return (
        goat.heads if last is None else f"{goat.heads} ({acts.when_words(last[1], goat.look.zone)})"
    )


def _official(goat: Goat) -> str:
    told = [(word, goat.told(field)) for word, field in (("tag", "tag"), ("chip", "chip"))]
    return ", ".join(f"{word} {value}" for word, value in told if value) or "none on record"


def parent(goat: Goat, role: str) -> str:
    """A parent by its name and number."""
    id = goat.told(role)
    record = goat.look.records.get(id) if isinstance(id, bytes) else None
    if record is None:
        return "not on record"
    told = Goat(goat.look, record)
    marks = [str(told.told("registry_no") or ""), ears(told)]
    return ", ".join([called(told), *(one for one in marks if one)])


def ears(goat: Goat) -> str:
    """Its tattoos by its sheet, right ear first."""
    told = [goat.told(f"tattoo_{place}") for place in ("right", "left", "tail")]
    words = ("right", "left", "tail")
    return ", ".join(f"{word} {mark}" for word, mark in zip(words, told, strict=True) if mark)


def marks_read(goat: Goat) -> Rows:
    """The tattoos by the sheet and as read off the animal last, by whom."""
    read = _read(goat)
    rows = [("Tattoos by the record", ears(goat) or "none on record")]
    if read is None:
        return [*rows, ("Read off the animal", BY_HAND), ("Read by, on", BY_HAND)]
    told = [
        (ear, read.value(ear), field_words(read, f"legibility_{ear}", goat.look))
        for ear in ("right", "left", "tail")
    ]
    shown = [f"{ear} {mark}" + (f" ({how})" if how else "") for ear, mark, how in told if mark]
    by = str(read.value("read_by") or read.first.author.by)
    return [
        *rows,
        ("Read off the animal", ", ".join(shown) or "read, marks not told"),
        ("Read by, on", f"{by}, {acts.when_words(read, goat.look.zone)}"),
    ]


def _read(goat: Goat) -> Record | None:
    found = [act for _, act in goat.done("tattoo") if act.value("stage") == "re-read"]
    return found[-1] if found else None


def mark_notes(goat: Goat) -> Iterator[Note]:
    """What is missing or wrong in an animal's marks."""
    id = (text_id(goat.id),)
    if not ears(goat) and not goat.told("tag") and not goat.told("chip"):
        yield Note("No tattoo, tag or chip is on record", id)
    read = _read(goat)
    day = acts.first_day(read, goat.look.zone) if read is not None else None
    if read is None or day is None:
        yield Note("Its marks were not read again on the animal: read them before it leaves", id)
    elif (goat.look.today - day).days > READ_WITHIN_DAYS:
        yield Note(
            f"Its marks were last read off the animal on {day}: read them again",
            (text_id(read.id),),
        )
    for warning in mark_line(goat).warnings:
        yield Note(warning, id if read is None else (*id, text_id(read.id)))
    for field in ("sex", "born"):
        if not goat.record.values(field):
            yield Note(f"Its {field} is not on record", id)


def leaving_blocks(
    herd: Herd, goat: Goat, conflicts: Iterable[Conflict], rests_on: Collection[str] = ()
) -> Iterator[Note]:
    """What forbids handing it over: a hold on leaving, an open disagreement, an unreadable entry."""
    if goat.gone is not None:
        gone = f"It has been {goat.standing} since {goat.gone[0]}"
        yield Note(gone, (text_id(goat.gone[1].id),))
    for hold in held_animal(herd, goat).holds:
        if hold.what == LEAVING:
            until = f" until {moment_words(hold.until)}" if hold.until else ""
            yield Note(f"{hold.what}{until}: {hold.reason}", tuple(hold.records))
    if goat.unreadable:
        yield Note("An entry names it that this program cannot read", (text_id(goat.id),))
    yield from disagreements(goat, conflicts, rests_on)


def disagreements(
    goat: Goat, conflicts: Iterable[Conflict], rests_on: Collection[str] = ()
) -> Iterator[Note]:
    """Every open disagreement about it or an act on it; of acts, of the kinds a paper ``rests_on``."""
    every = [
        act
        for kind, found in goat.acts.items()
        if not rests_on or kind in rests_on
        for act in found
    ]
    ids = {one for act in [goat.record, *every] for one in act.ids}
    yield from told_apart(goat.look, ids, conflicts)


def told_apart(
    look: Look, records: Collection[bytes], conflicts: Iterable[Conflict]
) -> Iterator[Note]:
    """Every open disagreement that touches one of the records."""
    for conflict in conflicts:
        if conflict.open and not set(records).isdisjoint(conflict.records):
            says = conflict.says or f"Two accounts stand on {conflict.field.replace('_', ' ')}"
            ids = tuple(text_id(one) for one in conflict.records)
            yield Note(f"{says.rstrip('.')} ({_which(look, conflict)})", ids)


def _which(look: Look, conflict: Conflict) -> str:
    """The record a disagreement is about, as a keeper would look it up: what it is, and of which day."""
    kind = CATALOGUE.get(conflict.record_kind)
    title = kind.title if kind is not None else conflict.record_kind
    record = look.records.get(conflict.records[0])
    if kind is None or record is None:
        return title
    if kind.on is None:
        return f"{title} {look.names.of(record)}"
    day = acts.first_day(record, look.zone)
    return f"{title} of {day}" if day is not None else title


def treatment_notes(herd: Herd, goat: Goat) -> Iterator[Note]:
    """Milk and meat that are held, each with the doses it is for."""
    for hold in held_animal(herd, goat).holds:
        if hold.what in (MILK, MEAT):
            until = f" until {moment_words(hold.until)}" if hold.until else ""
            doubt = "; its records disagree" if hold.disputed else ""
            yield Note(f"{hold.what}{until}: {hold.reason}{doubt}", tuple(hold.records))


def breeding(herd: Herd, goat: Goat) -> Rows:
    """Of a doe: what she carries and whom she met; of a male: whether he is castrated or may sire."""
    if not goat.female:
        return _castration(goat)
    rows: Rows = [
        (
            "Not to be bred",
            f"until {until_words(hold)}: {hold.reason}",
        )
        for hold in held_animal(herd, goat).holds
        if hold.what == BREEDING
    ]
    carries = pregnancy(goat)
    rows.append(("Bred", "nothing on record" if carries is None else carries.reason))
    if carries is not None and carries.window is not None:
        window = carries.window
        due = f"{window.best}, " if window.best else ""
        rows.append(("Due", f"{due}window {window.opens} to {window.closes} (an estimate)"))
    rows += [("Shared a pen", line.says) for line in exposures(herd, [goat])]
    kidded = goat.last_kidding
    if kidded is not None:
        rows.append(("Last kidding", _on(kidded[1], goat.look)))
    rows.append(("In milk", "yes" if goat.in_milk else "no"))
    tested = last_of(goat, "test-day")
    return [*rows, *([("Last test day", tested)] if tested else [])]


def _castration(goat: Goat) -> Rows:
    if not goat.male:
        return [("Castration", "does not apply" if goat.sex != "unknown" else "sex not on record")]
    done, last = goat.castrated, goat.last("castration")
    if done is None:
        says = "none on record" if last is None else f"not complete: {_on(last[1], goat.look)}"
        return [("Castration", f"{says}; counts as entire")]
    until = f"; counts as entire until {goat.entire_until}" if goat.entire else ""
    return [("Castration", _on(done, goat.look) + until)]


def service_of(kid: Goat, dam: Goat | None, sire: Goat | None) -> str:
    """The service a kid comes from: the newest of its dam by its sire that can have been; else empty."""
    if kid.born is None or dam is None or sire is None:
        return ""
    served = [
        act
        for day, act in dam.done("mating")
        if WATCH_FROM_DAYS <= (kid.born - day).days <= SERVED_WITHIN_DAYS
        and isinstance(buck := act.value("buck"), bytes)
        and kid.look.records.canonical(buck) == sire.id
    ]
    return acts.when_words(served[-1], kid.look.zone) if served else ""


def carried(goat: Goat) -> Pregnancy | None:
    """What a doe carries, as her records tell."""
    return pregnancy(goat) if goat.female else None


def last_of(goat: Goat, kind: str) -> str:
    """Her or his newest act of a kind in words; empty where there is none."""
    found = goat.last(kind)
    if found is None:
        return ""
    return _on(found[1], goat.look)


def _on(act: Record, look: Look) -> str:
    """The day of an act, then what it holds."""
    told = act_words(act, look)
    return acts.when_words(act, look.zone) + (f": {told}" if told else "")


def care(goat: Goat) -> Rows:
    """Weight, hooves, condition, worms, as last seen."""
    kinds = (
        ("Last weight", "weighing"), ("Last illness", "illness"),
        ("Condition score", "condition-score"), ("Eyelid anaemia score", "eyelid-score"),
        ("Hooves", "hoof-trim"), ("Egg count", "egg-count"),
    )  # fmt: skip
    return [(word, last_of(goat, kind) or "nothing on record") for word, kind in kinds]


def feed(herd: Herd, goat: Goat) -> Rows:
    """What it is fed: the ration of its pen, and what it was given by itself last."""
    rows: Rows = []
    names = herd.look.names
    for ration in herd.records.of_kind("ration"):
        pen = ration.value("pen")
        if (
            goat.pen is not None
            and isinstance(pen, bytes)
            and herd.records.canonical(pen) == goat.pen
        ):
            parts = [
                f"{names(one.value('feed'))} {one_amount(one)}"
                for one in herd.records.naming(ration.id, "ration-part")
            ]
            rows.append(("Ration", f"{names.of(ration)}: {', '.join(parts)}"))
    given = goat.last("feeding")
    if given is not None and (goat.look.today - given[0]).days <= FED_WITHIN_DAYS:
        rows.append(("Fed by itself", _on(given[1], goat.look)))
    if goat.age_days is not None and goat.age_days <= KID_DAYS:
        rows.append(("Weaned", last_of(goat, "weaning") or "not on record"))
    return rows or [("Feed", BY_HAND)]


def one_amount(part: Record) -> str:
    """How much of a feedstuff a part of a ration is, as the keeper wrote it."""
    value = part.value("amount_g")
    return "" if value is None else f"{value[0] * 10 ** value[1]:g} {value[2]} a day"


def tests(goat: Goat) -> list[list[str]]:
    """Every disease test, newest first: disease, result as of a day, how, by whom."""
    found = []
    newest_first = sorted(
        goat.done("disease-test"),
        key=lambda one: (-one[0].toordinal(), str(one[1].value("disease"))),
    )
    for day, test in newest_first:
        result = str(test.value("result") or "pending") + (
            " (disputed)" if test.any_disputed else ""
        )
        disease = str(test.value("disease"))
        how = " ".join(str(test.value(one) or "") for one in ("method", "sample")).strip()
        where = " ".join(str(test.value(one) or "") for one in ("laboratory", "reference")).strip()
        found.append([DISEASES.get(disease, disease), f"{result} as of {day}", how, where])
    return found
