"""The pages of a paper on a canvas of fpdf2: heads, boxes, rows side by side, tables, feet.

Must not know fonts' files nor how many pages there will be, but as it is told.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.papers.letters import written
from herdsync.papers.paper import COLUMNS_IN_TEXT, NOT_FIT, TO_NOTE, Note, Paper, Section
from herdsync.papers.ruled import Ruled
from herdsync.safe_text import clipped, safe_text

if TYPE_CHECKING:
    from fpdf import FPDF

CORE = "Helvetica"
SIZE, SMALL, LARGE = 9.5, 7.5, 15.0
SIDE_MM, TOP_MM, FOOT_MM = 15.0, 13.0, 18.0
LABEL_MM = 37.0
GAP_MM = 6.0
LINE_MM = 4.8
# A line that is filled in by hand needs room for a hand.
BLANK_MM = 7.6
SECTION_MM = 2.0
# How much smaller a tight paper is: 8.4 points can still be read, and a line written on.
TIGHT = 0.88
GREY = 90

Cell = tuple[str, str]


class Sheet:
    """One paper on its way onto pages. ``own``: the name of the font taken, else the core font.

    ``tight``: drawn a little smaller and closer, for a paper that nearly fits one page less.
    """

    def __init__(
        self, pdf: FPDF, paper: Paper, made: datetime, own: str, has: Collection[str],
        *, tight: bool = False,
    ) -> None:  # fmt: skip
        self.pdf = pdf
        self.paper = paper
        self.font = own or CORE
        self.has = has
        scale = TIGHT if tight else 1.0
        self.size, self.line, self.blank = SIZE * scale, LINE_MM * scale, BLANK_MM * scale
        self.gap = SECTION_MM * scale
        pdf.core_fonts_encoding = "cp1252"
        pdf.set_creation_date(made)
        pdf.set_title(safe_text(f"{paper.title}: {paper.about}"))
        pdf.set_creator("herdsync")
        pdf.set_margins(SIDE_MM, TOP_MM)
        pdf.set_auto_page_break(True, FOOT_MM)
        self.wide = pdf.w - 2 * SIDE_MM

    @staticmethod
    def orientation(paper: Paper) -> str:
        """How the page lies: across for a table of many columns."""
        many = any(len(one.columns) > COLUMNS_IN_TEXT and one.table for one in paper.sections)
        return "landscape" if many else "portrait"

    def draw(self, pages: int) -> tuple[bytes, int]:
        """The whole file, and how many pages it came to; ``pages``: how many its feet speak of."""
        self.pdf.add_page()
        self._words(f"{self.paper.title}: {self.paper.about}", LARGE, bold=True)
        self._words(self.paper.basis.farm)
        self.pdf.set_text_color(GREY)
        for line in (*self.paper.basis.lines(), *self.paper.foot, self.paper.basis.reference):
            self._words(line, SMALL)
        self.pdf.set_text_color(0)
        self._notes(NOT_FIT, self.paper.blocks, strong=True)
        self._notes(TO_NOTE, self.paper.marks, strong=False)
        for section in self.paper.sections:
            self._section(section)
        count = len(self.pdf.pages)
        if pages:
            self._edges(pages)
        return bytes(self.pdf.output()), count

    def shown(self, text: str) -> str:
        """Text in letters the font has."""
        return written(text, self.has)

    def _edges(self, pages: int) -> None:
        """The head of every page but the first, and the foot of every one."""
        basis = self.paper.basis
        about, farm = clipped(safe_text(self.paper.about), 60), clipped(safe_text(basis.farm), 40)
        whose = f"{self.paper.title}: {about}, {farm}"
        if not self.paper.fit:
            whose = f"{NOT_FIT}. {whose}"
        self.pdf.set_auto_page_break(False)
        for page in range(1, pages + 1):
            self.pdf.page = page
            self.pdf.set_text_color(GREY)
            self._set(SMALL)
            if page > 1:
                self.pdf.set_xy(SIDE_MM, 6.5)
                self.pdf.cell(self.wide, 4, self.shown(whose))
            self.pdf.set_xy(SIDE_MM, self.pdf.h - 11)
            self.pdf.cell(
                self.wide * 0.8, 4, self.shown(f"{whose}. {basis.moment[:16].replace('T', ' ')}")
            )
            self.pdf.set_xy(SIDE_MM, self.pdf.h - 11)
            self.pdf.cell(self.wide, 4, f"page {page} of {pages}", align="R")
        self.pdf.set_text_color(0)

    def _set(self, size: float, bold: bool = False) -> None:
        self.pdf.set_font(self.font, "B" if bold else "", size)

    def _keep(self, height: float) -> None:
        """Begin a new page where so much does not fit on this one."""
        if self.pdf.will_page_break(height):
            self.pdf.add_page()

    def _words(self, text: str, size: float = 0, bold: bool = False, indent: float = 0) -> None:
        size = size or self.size
        self._set(size, bold)
        self.pdf.set_x(SIDE_MM + indent)
        self.pdf.multi_cell(
            self.wide - indent, self.line * size / self.size, self.shown(text),
            new_x="LMARGIN", new_y="NEXT", align="L",
        )  # fmt: skip

    def _notes(self, heading: str, notes: Sequence[Note], *, strong: bool) -> None:
        """Sentences in a frame; where they run over a page, without one."""
        if not notes:
            return
        self.pdf.ln(1.5)
        top, page = self.pdf.get_y(), self.pdf.page
        self._words(heading, self.size + 1, bold=True, indent=2)
        for note in notes:
            self._words(f"! {note.printed}", self.size - 0.5, bold=strong, indent=2)
        if page == self.pdf.page:
            self.pdf.set_line_width(0.7 if strong else 0.25)
            bottom = self.pdf.get_y() + 0.8
            self.pdf.rect(SIDE_MM, top - 0.6, self.wide, bottom - top)
            self.pdf.set_line_width(0.2)
            self.pdf.set_y(bottom + 0.5)

    def _section(self, section: Section) -> None:
        if section.rows or section.lines:
            self._keep(self._height(section))
        else:
            self._keep(5 * self.line)
        self.pdf.ln(self.gap)
        self._words(section.heading, self.size + 1, bold=True)
        self._rule()
        for cells in self._lines(section.rows):
            self._row(cells)
        if section.table:
            self._table(section)
        for line in section.lines:
            self._words(line, self.size - 0.5)

    def _height(self, section: Section) -> float:
        """About how high a section stands, but for a table: so that it is not parted needlessly."""
        rows = sum(
            self.blank if any(not value for _, value in cells) else self.line
            for cells in self._lines(section.rows)
        )
        lines = self.line * (len(section.lines) + (3 if section.table else 0))
        room = self.pdf.h - TOP_MM - FOOT_MM
        return min(rows + lines + 3 * self.line, room / 3)

    def _rule(self) -> None:
        self.pdf.line(SIDE_MM, self.pdf.get_y(), self.pdf.w - SIDE_MM, self.pdf.get_y())
        self.pdf.ln(0.8)

    def _lines(self, rows: Sequence[Cell]) -> list[list[Cell]]:
        """The rows, two side by side where both are short."""
        found: list[list[Cell]] = []
        for row in rows:
            if found and len(found[-1]) == 1 and self._short(found[-1][0]) and self._short(row):
                found[-1].append(row)
            else:
                found.append([row])
        return found

    def _short(self, row: Cell) -> bool:
        half = (self.wide - GAP_MM) / 2
        self._set(self.size - 1)
        label = self.pdf.get_string_width(self.shown(row[0]))
        self._set(self.size)
        value = self.pdf.get_string_width(self.shown(row[1]))
        return label < LABEL_MM - 2 and value < half - LABEL_MM - 3

    def _row(self, cells: Sequence[Cell]) -> None:
        """Labels and values; a value not told is a line to write on."""
        blank = any(not value for _, value in cells)
        self._keep(self.blank if blank else self.line * 2)
        top, page = self.pdf.get_y(), self.pdf.page
        if blank:
            top += self.blank - self.line
        wide = self.wide if len(cells) == 1 else (self.wide - GAP_MM) / 2
        below = top
        for at, (name, value) in enumerate(cells):
            left = SIDE_MM + at * (wide + GAP_MM)
            below = max(below, self._cell(left, top, LABEL_MM, name, size=self.size - 1))
            if value:
                value_at = left + LABEL_MM
                below = max(
                    below, self._cell(value_at, top, wide - LABEL_MM, value, size=self.size)
                )
            else:
                self.pdf.line(left + LABEL_MM, top + self.line, left + wide, top + self.line)
                below = max(below, top + self.line)
        if page == self.pdf.page:
            self.pdf.set_y(below)

    def _cell(self, left: float, top: float, wide: float, text: str, size: float) -> float:
        """Words in a box of a width; answers where they end."""
        self._set(size)
        self.pdf.set_xy(left, top)
        self.pdf.multi_cell(
            wide, self.line, self.shown(text), new_x="LMARGIN", new_y="NEXT", align="L"
        )
        return self.pdf.get_y()

    def _table(self, section: Section) -> None:
        kept = [at for at in range(len(section.columns)) if any(row[at] for row in section.table)]
        line = LINE_MM * SMALL / SIZE
        table = Ruled(self.pdf, line, FOOT_MM, lambda bold: self._set(SMALL, bold))
        every = [[self.shown(row[at]) for at in kept] for row in (section.columns, *section.table)]
        table.draw(every[0], every[1:])
        self.pdf.ln(0.8)
