"""A paper drawn as PDF with fpdf2, which comes with the extra ``pdf``. Values in, bytes out.

Letters that the font lacks are written out as escapes: nothing is left out silently. The core font has
the letters of western Europe; a TrueType font given by the keeper has its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.faults import Refused
from herdsync.papers.paper import COLUMNS_IN_TEXT, NOT_FIT, Note, Paper, Section
from herdsync.safe_text import safe_text

if TYPE_CHECKING:
    from fpdf import FPDF

CORE = "Helvetica"
OWN = "own"
SIZE, SMALL, LARGE = 9.5, 7.5, 15.0
MARGIN_MM = 14
LABEL_MM = 48
LINE_MM = 4.8
# Letters a column may ask for, in a table of few columns and of many.
WIDEST, WIDEST_OF_MANY = 70, 30


def pdf_of(paper: Paper, made: datetime, font: str = "") -> bytes:
    """The paper as a PDF file; ``font``: a TrueType file, else the core font.

    Raises Refused where fpdf2 is not installed or the font cannot be read.
    """
    return _Sheet(paper, made, font).draw()


class _Sheet:
    """One paper on its way onto pages."""

    def __init__(self, paper: Paper, made: datetime, font: str) -> None:
        try:
            from fpdf import FPDF
        except ImportError as fault:
            raise Refused(
                "Drawing PDF needs the library fpdf2.", "Install it: pip install 'herdsync[pdf]'."
            ) from fault
        self.paper = paper
        self.own = bool(font)
        wide = any(len(one.columns) > COLUMNS_IN_TEXT and one.table for one in paper.sections)
        self.pdf: FPDF = FPDF(orientation="landscape" if wide else "portrait", format="A4")
        self.pdf.set_creation_date(made)
        self.pdf.set_title(self.shown(f"{paper.title}: {paper.about}"))
        self.pdf.set_creator("herdsync")
        self.pdf.set_margin(MARGIN_MM)
        self.pdf.set_auto_page_break(True, MARGIN_MM + 4)
        if self.own:
            self._take_font(font)
        self.small = paper.one_page

    def _take_font(self, font: str) -> None:
        try:
            self.pdf.add_font(OWN, "", font)
            self.pdf.add_font(OWN, "B", font)
        except Exception as fault:  # the library raises whatever a broken font makes it stumble on
            raise Refused(f"The font {font} could not be used.", "Name a TrueType file.") from fault

    def draw(self) -> bytes:
        """The whole file."""
        self.pdf.alias_nb_pages()
        self.pdf.add_page()
        self._words(f"{self.paper.title}: {self.paper.about}", LARGE, bold=True)
        self._words(self.paper.basis.farm)
        self._notes(NOT_FIT, self.paper.blocks, strong=True)
        self._notes("Mark", self.paper.marks, strong=False)
        for section in self.paper.sections:
            self._section(section)
        self.pdf.ln(2)
        for line in ("What this rests on", *self.paper.basis.lines(), *self.paper.foot):
            self._words(line, SMALL)
        return bytes(self.pdf.output())

    def shown(self, text: str) -> str:
        """Text in letters the font has; others as escapes."""
        safe = safe_text(text)
        if self.own:
            return safe
        return safe.encode("latin-1", "backslashreplace").decode("latin-1")

    def _set(self, size: float, bold: bool = False) -> None:
        self.pdf.set_font(OWN if self.own else CORE, "B" if bold else "", size)

    def _words(self, text: str, size: float = SIZE, bold: bool = False, indent: float = 0) -> None:
        self._set(size, bold)
        self.pdf.set_x(MARGIN_MM + indent)
        width = self.pdf.w - 2 * MARGIN_MM - indent
        height = LINE_MM * size / SIZE
        self.pdf.multi_cell(
            width, height, self.shown(text), new_x="LMARGIN", new_y="NEXT", align="L"
        )

    def _notes(self, heading: str, notes: Sequence[Note], *, strong: bool) -> None:
        if not notes:
            return
        self.pdf.ln(1.5)
        top = self.pdf.get_y()
        page = self.pdf.page
        self._words(heading, SIZE + 1, bold=True, indent=2)
        for note in notes:
            self._words(f"! {note}", SIZE - (1 if self.small else 0), bold=strong, indent=2)
        if page == self.pdf.page:
            self.pdf.set_line_width(0.7 if strong else 0.25)
            bottom = self.pdf.get_y() + 0.8
            self.pdf.rect(MARGIN_MM, top - 0.6, self.pdf.w - 2 * MARGIN_MM, bottom - top)
            self.pdf.set_line_width(0.2)
            self.pdf.set_y(bottom + 0.5)

    def _section(self, section: Section) -> None:
        room = self.pdf.h - self.pdf.get_y() - MARGIN_MM - 4
        if room < 4 * LINE_MM:
            self.pdf.add_page()
        self.pdf.ln(1 if self.small else 2)
        self._words(section.heading, SIZE + 1, bold=True)
        self.pdf.line(MARGIN_MM, self.pdf.get_y(), self.pdf.w - MARGIN_MM, self.pdf.get_y())
        self.pdf.ln(0.8)
        for label, value in section.rows:
            self._row(label, value)
        if section.table:
            self._table(section)
        for line in section.lines:
            self._words(line, SIZE - 1)

    def _row(self, label: str, value: str) -> None:
        if self.pdf.will_page_break(LINE_MM * 2):
            self.pdf.add_page()
        self._set(SIZE - 1)
        height = LINE_MM - (0.8 if self.small else 0)
        top, page = self.pdf.get_y(), self.pdf.page
        self.pdf.multi_cell(
            LABEL_MM, height, self.shown(label), new_x="LMARGIN", new_y="NEXT", align="L"
        )
        below = self.pdf.get_y()
        self.pdf.set_xy(MARGIN_MM + LABEL_MM, top)
        width = self.pdf.w - 2 * MARGIN_MM - LABEL_MM
        if value:
            self._set(SIZE)
            self.pdf.multi_cell(
                width, height, self.shown(value), new_x="LMARGIN", new_y="NEXT", align="L"
            )
        else:
            self.pdf.line(MARGIN_MM + LABEL_MM, top + height, self.pdf.w - MARGIN_MM, top + height)
            self.pdf.set_y(top + height + 1.2)
        if page == self.pdf.page:
            self.pdf.set_y(max(below, self.pdf.get_y()))

    def _table(self, section: Section) -> None:
        kept = [at for at in range(len(section.columns)) if any(row[at] for row in section.table)]
        widths = [max(len(row[at]) for row in (section.columns, *section.table)) + 1 for at in kept]
        widest = WIDEST if len(kept) <= COLUMNS_IN_TEXT else WIDEST_OF_MANY
        self._set(SMALL)
        with self.pdf.table(
            col_widths=tuple(min(widest, max(9, one)) for one in widths),
            line_height=LINE_MM * SMALL / SIZE, padding=0.4, text_align="LEFT",
            borders_layout="HORIZONTAL_LINES",
        ) as table:  # fmt: skip
            for cells in (section.columns, *section.table):
                row = table.row()
                for at in kept:
                    row.cell(self.shown(cells[at]))
