"""Papers of a sale: sale sheet, transfer worksheet, memorandum of service, kid registration.

Their fields: common practice of registries and buyers, no published source. A worksheet is filled in
and signed by hand; a registry has its own form. Must not know how a paper is drawn or signed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from herdsync.kinds.ids import text_id
from herdsync.merge.conflicts import Conflict
from herdsync.merge.records import Record
from herdsync.papers import facts
from herdsync.papers.in_words import field_words
from herdsync.papers.paper import BY_HAND, Basis, Note, Paper, Section
from herdsync.papers.treatments import BRIEF, VACCINE, brief, medicine_rows
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.growth import litter_of
from herdsync.projections.herd import Herd

SHEET, TRANSFER, MEMO, KID = "sale-sheet", "transfer", "service-memo", "kid-registration"
VACCINES_SHOWN = 8
# The kinds of acts whose disagreements stand in the way of a paper; of the sheet it is every one.
TRANSFER_RESTS_ON = ("mating", "pregnancy-check", "kidding", "leaving", "tattoo")
MEMO_RESTS_ON = ("mating", "pregnancy-check", "kidding", "abortion")
KID_RESTS_ON = ("tattoo", "disbudding", "castration")
SHEET_ALONE = ("animal",)
DAYS_OF_TREATMENTS = 180


@dataclass(frozen=True, slots=True)
class Office:
    """What every paper of one run starts from."""

    herd: Herd
    conflicts: Sequence[Conflict]
    basis: Basis
    seller: str = ""
    buyer: str = ""


def sale_papers(office: Office, goat: Goat) -> list[Paper]:
    """All papers one animal needs to be sold: sheet, transfer, memo where bred, else kid's application."""
    papers = [sale_sheet(office, goat), transfer(office, goat)]
    if facts.carried(goat) is not None:
        papers.append(service_memo(office, goat))
    if not goat.told("registry_no") and goat.told("dam"):
        papers.append(kid_registration(office, goat))
    return papers


def sale_sheet(office: Office, goat: Goat) -> Paper:
    """The sheet that goes with an animal."""
    herd = office.herd
    since = herd.look.today.toordinal() - DAYS_OF_TREATMENTS
    given_ever = medicine_rows(herd, goat)
    given = [
        one for one in given_ever
        if one.day.toordinal() >= since and one.record.kind != "vaccination"
    ]  # fmt: skip
    shots = [one for one in given_ever if one.record.kind == "vaccination"]
    running = list(facts.treatment_notes(herd, goat))
    tested = facts.tests(goat)
    sections = [
        Section("Identity", facts.identity(goat)),
        Section("Marks", facts.marks_read(goat)),
        Section("Breeding", facts.breeding(herd, goat)),
        Section(
            "Treatments still running",
            lines=[note.printed for note in running] or ["None on record at this moment."],
        ),
        Section(
            f"Treatments of the last {DAYS_OF_TREATMENTS} days", columns=BRIEF,
            table=[brief(one) for one in given], lines=[] if given else ["None on record."],
        ),
        Section(
            f"Vaccinations, the last {VACCINES_SHOWN}" if len(shots) > VACCINES_SHOWN else "Vaccinations",
            columns=VACCINE, table=[brief(one, VACCINE) for one in shots[-VACCINES_SHOWN:]],
            lines=[] if shots else ["None on record."],
        ),
        Section(
            "Tests", columns=("disease", "result", "method", "laboratory"), table=tested,
            lines=["A result speaks of the day of its sample only." if tested else "None on record."],
        ),
        Section("Condition, hooves and feed", [*facts.care(goat), *facts.feed(herd, goat)]),
        Section("Seller and buyer", _parties(office)),
    ]  # fmt: skip
    blocks = tuple(facts.leaving_blocks(herd, goat, office.conflicts))
    marks = (*running, *facts.mark_notes(goat))
    return Paper(SHEET, "Sale sheet", goat.name, office.basis, sections, blocks, marks)


def transfer(office: Office, goat: Goat) -> Paper:
    """The worksheet for the registry's transfer form."""
    carries = facts.carried(goat)
    bred = (
        "no service on record" if carries is None else f"{carries.reason}; memorandum goes with it"
    )
    rows = [
        ("Herd book name", str(goat.told("registry_name") or BY_HAND)),
        ("Herd book number", str(goat.told("registry_no") or BY_HAND)),
        ("Tattoos", facts.ears(goat) or BY_HAND),
        ("Sex, born", f"{facts.sort_of(goat)}, {facts.born(goat)}"),
        ("Bred", bred if goat.female else "does not apply"),
    ]
    sections = [
        Section("Animal", rows),
        Section("Seller, recorded owner",
                [("Name", office.seller or BY_HAND), *_blank("Member number", "Signature, date")]),
        Section("Buyer",
                [("Full name", office.buyer or BY_HAND), *_blank("Member number", "Address")]),
        Section("Sale", [("Date of sale", _sold(goat) or BY_HAND), *_blank("Fee")],
                lines=["Goes with the original certificate. The registry's own form counts."]),
    ]  # fmt: skip
    blocks = list(facts.leaving_blocks(office.herd, goat, office.conflicts, TRANSFER_RESTS_ON))
    missing = [
        Note(f"No {word} is on record", (text_id(goat.id),))
        for word, field in (
            ("herd book name", "registry_name"),
            ("herd book number", "registry_no"),
        )
        if not goat.told(field)
    ]
    marks = (*missing, *facts.mark_notes(goat))
    return Paper(TRANSFER, "Transfer worksheet", goat.name, office.basis, sections, blocks, marks)


def service_memo(office: Office, doe: Goat) -> Paper:
    """The buck owner's word on a service, for the kids' papers."""
    carries = facts.carried(doe)
    mating = carries.mating if carries is not None else None
    buck = _named(office.herd, mating, "buck")
    zone = doe.look.zone
    served = acts.when_words(mating, zone) if mating is not None else BY_HAND
    until = field_words(mating, "until", doe.look) if mating is not None else ""
    how = field_words(mating, "how", doe.look) or "not told" if mating is not None else BY_HAND
    rows = [("Served", f"{served} to {until}" if until else served), ("How", how)]
    if carries is not None and carries.window is not None:
        rows.append(("Kidding expected", f"{carries.window.opens} to {carries.window.closes}"))
    sections = [
        Section("Doe", _who(doe)),
        Section("Buck", _who(buck) if buck is not None else _blank("Name", "Herd book number")),
        Section("Service", rows),
        Section("Owner of the buck at service", _blank("Name", "Member number", "Signature, date")),
    ]
    blocks = list(facts.disagreements(doe, office.conflicts, MEMO_RESTS_ON))
    if buck is None:
        records = (text_id(mating.id),) if mating is not None else (text_id(doe.id),)
        blocks.append(Note("No buck is on record for this service", records))
    else:
        blocks += facts.disagreements(buck, office.conflicts, SHEET_ALONE)
    marks = [*_numberless(doe), *(_numberless(buck) if buck is not None else [])]
    title = "Memorandum of service"
    return Paper(MEMO, title, doe.name, office.basis, sections, blocks, marks)


def kid_registration(office: Office, kid: Goat) -> Paper:
    """The application to enter a kid in the herd book."""
    herd = office.herd
    dam, sire = _named(herd, kid.record, "dam"), _named(herd, kid.record, "sire")
    litter = litter_of(kid) if dam is not None and kid.born is not None else 0
    rows = [
        ("Name asked for", str(kid.told("registry_name") or kid.told("name") or BY_HAND)),
        *facts.identity(kid)[2:7],
        ("Born in a litter of", str(litter) if litter else BY_HAND),
        ("Dam served", facts.service_of(kid, dam, sire) or BY_HAND),
        ("Birth order", str(kid.told("birth_order") or BY_HAND)),
        ("Tattoos", facts.ears(kid) or BY_HAND),
    ]
    sections = [
        Section("Kid", rows),
        Section("Sire", _who(sire) if sire is not None else _blank("Name", "Herd book number")),
        Section("Dam", _who(dam) if dam is not None else _blank("Name", "Herd book number")),
        Section("Breeder and applicant",
                [("Herd", office.basis.farm), *_blank("Member number", "Signature, date")]),
    ]  # fmt: skip
    blocks = list(facts.disagreements(kid, office.conflicts, KID_RESTS_ON))
    for one in (dam, sire):
        blocks += facts.disagreements(one, office.conflicts, SHEET_ALONE) if one is not None else []
    blocks += [
        Note(f"No {word} is on record", (text_id(kid.id),))
        for word, one in (("dam", dam), ("sire", sire)) if one is None
    ]  # fmt: skip
    marks = [*facts.mark_notes(kid)]
    marks += [note for one in (dam, sire) if one is not None for note in _numberless(one)]
    title = "Application to register a kid"
    return Paper(KID, title, kid.name, office.basis, sections, blocks, marks)


def _parties(office: Office) -> list[tuple[str, str]]:
    return [
        ("Seller", office.seller or BY_HAND),
        ("Buyer", office.buyer or BY_HAND),
        *_blank("Date", "Place", "Seller signs", "Buyer signs"),
    ]


def _who(goat: Goat) -> list[tuple[str, str]]:
    return [
        ("Name", facts.called(goat)),
        ("Herd book number", str(goat.told("registry_no") or BY_HAND)),
        ("Tattoos", facts.ears(goat) or BY_HAND),
        ("Breed", str(goat.told("breed") or BY_HAND)),
    ]


def _numberless(goat: Goat) -> list[Note]:
    if goat.told("registry_no"):
        return []
    return [Note(f"{goat.name} has no herd book number on record", (text_id(goat.id),))]


def _named(herd: Herd, record: Record | None, field: str) -> Goat | None:
    value = record.value(field) if record is not None else None
    return herd.goat(value) if isinstance(value, bytes) else None


def _sold(goat: Goat) -> str:
    last = goat.last("leaving")
    return str(last[0]) if last is not None and last[1].value("how") == "sold" else ""


def _blank(*labels: str) -> list[tuple[str, str]]:
    return [(label, BY_HAND) for label in labels]
