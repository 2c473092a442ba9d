"""A paper drawn as PDF with fpdf2, which comes with the extra ``pdf``. Values in, bytes out.

Every page says whose paper it is, what it rests on, and which page of how many it is. A paper of one
page keeps to one: what fits is measured. Letters that the font lacks: `letters`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.faults import Refused
from herdsync.papers import letters
from herdsync.papers.drawing import Sheet
from herdsync.papers.one_page import fitted
from herdsync.papers.paper import Paper

if TYPE_CHECKING:
    from fpdf import FPDF

PAGES = ("A4", "Letter")
OWN = "own"


@dataclass(frozen=True, slots=True)
class Face:
    """A font by its TrueType files: plain and, where there is one, bold."""

    plain: str
    bold: str = ""


@dataclass(frozen=True, slots=True)
class Style:
    """The size of the page; the font the keeper named; fonts found here, the best first."""

    page: str = "A4"
    named: Face | None = None
    found: Sequence[Face] = ()


@dataclass(frozen=True, slots=True)
class Drawn:
    """The file, how many pages it has, and what must be said of it."""

    content: bytes
    pages: int
    says: str = ""


class _Further(Exception):
    """A second page was begun."""


def pdf_of(paper: Paper, made: datetime, style: Style) -> Drawn:
    """The paper as a PDF file.

    Raises Refused where fpdf2 is not installed or the font the keeper named cannot be used.
    """
    try:
        from fpdf import FPDF
    except ImportError as fault:
        raise Refused(
            "Drawing PDF needs the library fpdf2.", "Install it: pip install 'herdsync[pdf]'."
        ) from fault
    asked = {letter for text in paper.texts() for letter in text}
    face, has = _face(FPDF, asked, style)

    class Alone(FPDF):
        """A page that tells at once where another would be needed."""

        def header(self) -> None:
            if self.page > 1:
                raise _Further

    def drawn(
        one: Paper, pages: int = 0, kind: type[FPDF] = FPDF, *, tight: bool = False
    ) -> tuple[bytes, int]:
        pdf = kind(orientation=Sheet.orientation(one), format=style.page)
        if face is not None:
            pdf.add_font(OWN, "", face.plain)
            pdf.add_font(OWN, "B", face.bold or face.plain)
        sheet = Sheet(pdf, one, made, OWN if face is not None else "", has, tight=tight)
        return sheet.draw(pages)

    def fits(one: Paper) -> bool:
        try:
            return drawn(one, kind=Alone)[1] == 1
        except _Further:
            return False

    says = "" if asked <= set(has) else letters.SAYS
    if says:
        paper = replace(paper, foot=(*paper.foot, says))
    # In the letters of the print before it is measured: an escape is longer than what it stands for.
    paper = paper.rewritten(lambda text: letters.written(text, has))
    kept = fitted(paper, fits)
    pages = drawn(kept)[1]
    # A last page with nothing but the lines to sign on is easily parted from what is signed.
    closer = drawn(kept, tight=True)[1] if pages == 2 else pages
    content, _ = drawn(kept, closer, tight=closer < pages)
    return Drawn(content, closer, says)


def _face(
    fpdf: type[FPDF], asked: Collection[str], style: Style
) -> tuple[Face | None, Collection[str]]:
    """The font to draw in and the letters it has: the PDF's own for western text, else what serves best.

    Raises Refused where the font the keeper named cannot be used.
    """
    lacking = set(asked) - letters.WESTERN
    if style.named is not None:
        return style.named, _letters_in(fpdf, style.named)
    best: tuple[Face | None, Collection[str]] = (None, letters.WESTERN)
    for face in style.found if lacking else ():
        try:
            has = _letters_in(fpdf, face)
        except Refused:
            continue
        if len(lacking - set(has)) < len(lacking - set(best[1])) and not _plain(has):
            best = (face, has)
        if lacking <= set(best[1]):
            break
    return best


def _plain(has: Collection[str]) -> bool:
    """Whether a font lacks even the letters of plain English."""
    return any(chr(code) not in has for code in range(0x20, 0x7F))


def _letters_in(fpdf: type[FPDF], face: Face) -> Collection[str]:
    try:
        pdf = fpdf()
        pdf.add_font(OWN, "", face.plain)
        if face.bold:
            pdf.add_font(OWN, "B", face.bold)
        codes = set.intersection(*(set(getattr(one, "cmap", ())) for one in pdf.fonts.values()))
    except Exception as fault:  # the library raises whatever a broken font makes it stumble on
        raise Refused(
            f"The font {face.plain} could not be used.", "Name a TrueType file."
        ) from fault
    return frozenset(chr(code) for code in codes)
