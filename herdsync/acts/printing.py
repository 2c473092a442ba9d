"""The door's papers for people: drawn from one look at the farm, written and signed at the edge."""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

from herdsync.acts import fonts
from herdsync.acts.reminding import Reminding
from herdsync.acts.vouching import Vouching
from herdsync.exchange.apart import strangers
from herdsync.faults import Refused
from herdsync.kinds.ids import text_id
from herdsync.kinds.on import parse_date
from herdsync.log.proof import proof_text
from herdsync.log.trust import Member
from herdsync.merge.conflicts import Conflict
from herdsync.papers import sale, treatments
from herdsync.papers.as_pdf import PAGES, Face, Style, pdf_of
from herdsync.papers.letters import written
from herdsync.papers.one_page import fitted
from herdsync.papers.outcomes import PaperLine
from herdsync.papers.paper import Basis, Paper, text_of
from herdsync.papers.sale import Office
from herdsync.papers.signed import Printed, proof_name, proof_of
from herdsync.projections import moments
from herdsync.projections.goat import Goat
from herdsync.projections.herd import Herd
from herdsync.store.backup import write_pieces
from herdsync.store.view import View

SALE, TREATMENTS = "sale", "treatments"
OF_ANIMALS: dict[str, Callable[[Office, Goat], Paper]] = {
    sale.SHEET: sale.sale_sheet,
    sale.TRANSFER: sale.transfer,
    sale.MEMO: sale.service_memo,
    sale.KID: sale.kid_registration,
}
PAPERS = {
    SALE: "everything an animal needs to be sold",
    sale.SHEET: "the sheet that goes with an animal",
    sale.TRANSFER: "a worksheet for the registry's transfer form",
    sale.MEMO: "a memorandum of a doe's service",
    sale.KID: "an application to register a kid",
    TREATMENTS: "what was given in a period, as the law asks for it",
    treatments.HISTORY: "one animal's history on one page, for the veterinarian",
}
# Lines of text on a page, and where paper is cut to the size called Letter (from memory).
PAGE_LINES = 60
LETTER_COUNTRIES = frozenset({"US", "CA", "MX"})
EARLIER = "Not signed: it tells of the farm as it was known earlier."
READS_ONLY = "Not signed: the laptop that printed it reads the farm, and may not write in it."
PLAIN = frozenset(string.ascii_letters + string.digits + string.punctuation + " ")
_NO_FILE_NAME = re.compile(r"[^A-Za-z0-9]+")


class Printing(Reminding, Vouching):
    """Papers for buyers, registries and veterinarians."""

    def papers(
        self, paper: str, animals: Sequence[str] = (), *, first: str = "", last: str = "",
        seller: str = "", buyer: str = "", out: Path | None = None, pdf: bool = True, font: str = "",
        page: str = "",
    ) -> list[PaperLine]:  # fmt: skip
        """Papers of one sort, as text; with ``out``, a folder, also as files, signed where they are fit.

        ``first`` and ``last``: the days of a treatment record. ``page``: A4 or Letter; left out, what
        the farm's country uses. Raises Refused where the sort or an animal is not known, or a file is
        there already.
        """
        if paper not in PAPERS:
            raise Refused(f"No paper is called {paper[:40]!r}.", f"There are {', '.join(PAPERS)}.")
        with self._office(seller, buyer) as (view, office):
            goats = [self._goat(office.herd, one) for one in animals]
            found = self._drawn(paper, office, goats, first, last)
            if out is None:
                return [_line(one, [], "") for one in found]
            style = _style(page, font, office.herd.look.settings.country) if pdf else None
            prints = [
                self._print(view, one, stem, style)
                for one, stem in zip(found, _stems(found), strict=True)
            ]
        _lay_down(out, [one for printed, _ in prints for one in printed])
        return [
            _line(one, [str(out / file.name) for file in printed], says)
            for one, (printed, says) in zip(found, prints, strict=True)
        ]

    @contextmanager
    def _office(self, seller: str, buyer: str) -> Iterator[tuple[View, Office]]:
        with self._herd() as herd, self._looking() as (view, shelf):
            conflicts = [one for one in shelf.every_conflict() if one.open]
            yield (
                view,
                Office(herd, conflicts, self._basis(view, herd), seller or self.keeper, buyer),
            )

    def _basis(self, view: View, herd: Herd) -> Basis:
        own = view.log.chains.of_device(self._store.device) if self._store.device else []
        tips = [chain.tip for chain in own] or [
            chain.tip
            for chain in sorted(view.log.chains.all.values(), key=lambda one: -one.tip_height)
        ]
        others = sorted(view.members().known.values(), key=lambda one: (one.keeper, one.key))
        heard = [_heard(view, one, herd) for one in others if one.key != self._store.device]
        if strangers(self._store):
            heard.append(
                "There is another side of this farm, of which this laptop has never heard: what was "
                "written there is not here."
            )
        moment = moments.text(herd.look.moment, herd.look.zone)
        return Basis(
            self.name, self.keeper, self.device_name, moment, text_id(tips[0]), heard,
            text_id(self._store.farm),
        )  # fmt: skip

    def _drawn(
        self, paper: str, office: Office, goats: list[Goat], first: str, last: str
    ) -> list[Paper]:
        herd, conflicts = office.herd, list[Conflict](office.conflicts)
        if paper == TREATMENTS:
            begins, ends = self._period(herd, first, last)
            return [treatments.treatment_record(
                herd, goats or herd.every, begins, ends, conflicts, office.basis)]  # fmt: skip
        if not goats:
            raise Refused("Nothing says of which animal.", "Name one or several.")
        if paper == SALE:
            return [one for goat in goats for one in sale.sale_papers(office, goat)]
        if paper == treatments.HISTORY:
            return [treatments.history(herd, goat, conflicts, office.basis) for goat in goats]
        return [OF_ANIMALS[paper](office, goat) for goat in goats]

    def _period(self, herd: Herd, first: str, last: str) -> tuple[date, date]:
        moment, zone = herd.look.moment, herd.look.zone
        ends = date.fromisoformat(parse_date(last, moment, zone)) if last else herd.look.today
        begins = (
            date.fromisoformat(parse_date(first, moment, zone))
            if first
            else ends.replace(month=1, day=1)
        )
        if begins > ends:
            raise Refused(
                f"The period ends on {ends}, before it begins.", "Turn --from and --until round."
            )
        return begins, ends

    def _print(
        self, view: View, paper: Paper, stem: str, style: Style | None
    ) -> tuple[list[Printed], str]:
        """One paper's files; the proof only where nothing stands in its way.

        Answers the files, and what must be said of the print.
        """
        signed = paper.fit and not self.read_only
        if signed:
            goes = f"Signed: {proof_name(stem)} goes with it and says how to check it."
            paper = replace(paper, foot=(*paper.foot, goes))
        elif paper.fit:
            paper = replace(paper, foot=(*paper.foot, EARLIER if self._known else READS_ONLY))
        says = ""
        made = [Printed(f"{stem}.txt", text_on_paper(paper).encode("utf-8"))]
        if style is not None:
            drawn = pdf_of(paper, self._wall.now(), style)
            says = drawn.says
            made.append(Printed(f"{stem}.pdf", drawn.content))
        if signed:
            proof = self._proof(view, proof_name(stem), made)
            made.append(Printed(proof_name(stem), proof.encode("utf-8")))
        return made, says

    def _proof(self, view: View, own: str, printed: list[Printed]) -> str:
        key = self._store.key
        member = view.members().by_key[self._store.device]
        admission = view.log.full(member.admitted_by)
        assert admission is not None, "what let this laptop in is here"
        whose = f"{member.keeper}'s laptop '{member.device}'"
        entries = proof_text("whose key that is", self._parts(view, admission))
        return proof_of(own, printed, key.public, key.sign, whose, entries)


def _stems(papers: Sequence[Paper]) -> list[str]:
    """What each paper's files are called: in plain letters, and no two alike."""
    stems: list[str] = []
    for paper in papers:
        near = _NO_FILE_NAME.sub("-", written(paper.about, PLAIN)).strip("-").lower()
        stem = f"{paper.name}-{near[:60] or 'animal'}"
        alike = sum(1 for one in stems if one == stem or one.startswith(f"{stem}-no"))
        stems.append(f"{stem}-no{alike + 1}" if alike else stem)
    return stems


def _lay_down(out: Path, printed: Sequence[Printed]) -> None:
    """Write every file into a folder, or none. Raises Refused."""
    files = [out / one.name for one in printed]
    there = next((file for file in files if file.exists()), None)
    if there is not None:
        raise Refused(f"{there} is there already; nothing was written.", "Name another folder.")
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise Refused(
            f"{out} cannot be made ({fault.strerror}).", "Name another folder."
        ) from fault
    laid: list[Path] = []
    try:
        for file, one in zip(files, printed, strict=True):
            write_pieces(file, [one.content])
            laid.append(file)
    except BaseException:
        for file in laid:
            file.unlink(missing_ok=True)
        raise


def text_on_paper(paper: Paper) -> str:
    """A paper's text; of one that has to stand on one page, no more lines than a page has."""
    return text_of(fitted(paper, lambda one: text_of(one).count("\n") <= PAGE_LINES))


def _style(page: str, font: str, country: str) -> Style:
    own = "Letter" if country in LETTER_COUNTRIES else "A4"
    size = next((one for one in PAGES if one.lower() == (page or own).lower()), None)
    if size is None:
        raise Refused(f"No page is called {page[:20]!r}.", f"Say one of {', '.join(PAGES)}.")
    return Style(size, Face(font) if font else None, () if font else fonts.faces())


def _line(paper: Paper, files: list[str], says: str) -> PaperLine:
    return PaperLine(
        paper.name, paper.about, paper.title, paper.fit, [str(one) for one in paper.blocks],
        [str(one) for one in paper.marks], text_on_paper(paper), files, says,
    )  # fmt: skip


def _heard(view: View, member: Member, herd: Herd) -> str:
    """When another laptop was heard last, by the newest entry of it that is here."""
    whose = f"{member.keeper}'s laptop '{member.device}'"
    tips = [view.log.full(chain.tip) for chain in view.log.chains.of_device(member.key)]
    clocks = [tip.header.clock for tip in tips if tip is not None]
    if not clocks:
        return f"{whose} was never heard: no entry of it is here."
    recorded = moments.clock_text(max(clocks), herd.look.zone)
    on = moments.moment_words(recorded)
    days = _days_since(recorded, herd)
    return f"{whose} last heard: its newest entry here is of {on}{days}."


def _days_since(recorded: str, herd: Herd) -> str:
    if not recorded[:4].isdigit() or "T" not in recorded:
        return ""
    days = (herd.look.today - moments.first_day(recorded, herd.look.zone)).days
    return ", today" if days < 1 else f", {days} day{'s' if days > 1 else ''} ago"
