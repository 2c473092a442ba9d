"""A table on the pages of a canvas of fpdf2: headings on each page, a row too high for one runs on.

Must not know what a table is about, nor where on the paper it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fpdf import FPDF

PAD_MM = 0.5
# A word wider than this may be broken; a column asks for no more than this for a line of its text.
WORD_MM, LINE_OF_CELL_MM = 34.0, 110.0

Font = Callable[[bool], None]


class Ruled:
    """A table as wide as a page's margins leave; ``font`` sets the canvas to plain or bold letters.

    ``foot``: how much of a page's end is kept free.
    """

    def __init__(self, pdf: FPDF, line: float, foot: float, font: Font) -> None:
        self.pdf = pdf
        self.widths: list[float] = []
        self.line = line
        self.bottom = pdf.h - foot
        self.font = font
        self._known: dict[str, float] = {}

    def draw(self, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """The whole table, from where the canvas stands; afterwards it stands below it."""
        self.pdf.set_auto_page_break(False)
        # Bold letters are the wider ones: what is measured in them fits in either.
        self.font(True)
        self.widths = self._fitted([headings, *rows])
        head = self._wrapped(headings)
        self._known.clear()
        self._headings(head)
        for row in rows:
            self._row(self._wrapped(row), head)
        self.pdf.set_auto_page_break(True, self.pdf.h - self.bottom)
        self.pdf.set_x(self.pdf.l_margin)

    def _fitted(self, rows: Sequence[Sequence[str]]) -> list[float]:
        """A width for each column: room for its longest word, and of what is left by how much it holds."""
        margin = 2 * self.pdf.c_margin + 0.2
        least, asked = [], []
        for column in zip(*rows, strict=True):
            words = {word for cell in column for word in cell.split()}
            longest = max((self._wide(word) for word in words), default=0.0)
            least.append(min(longest, WORD_MM) + margin)
            lines = max(len(cell) for cell in column) * self._wide("n")
            asked.append(max(0.0, min(lines, LINE_OF_CELL_MM) + margin - least[-1]))
        wide = self.pdf.w - self.pdf.l_margin - self.pdf.r_margin
        spare, more = wide - sum(least), sum(asked) or 1.0
        if spare < 0:
            return [one * wide / sum(least) for one in least]
        return [one + spare * ask / more for one, ask in zip(least, asked, strict=True)]

    def _headings(self, head: list[list[str]]) -> None:
        self.font(True)
        self._lines(head, 0, max(map(len, head)))
        self.font(False)

    def _row(self, cells: list[list[str]], head: list[list[str]]) -> None:
        """A row; as much of it on each page as there is room for, whole where one page can hold it."""
        left, at = max(map(len, cells)), 0
        whole = self.bottom - self.pdf.t_margin - self._high(max(map(len, head)))
        while left:
            room = int((self.bottom - self.pdf.get_y() - 2 * PAD_MM) / self.line)
            if room < left and (room < 1 or (at == 0 and self._high(left) <= whole)):
                self.pdf.add_page()
                self._headings(head)
                continue
            drawn = min(room, left)
            self._lines(cells, at, at + drawn)
            at, left = at + drawn, left - drawn

    def _high(self, lines: int) -> float:
        return lines * self.line + 2 * PAD_MM

    def _lines(self, cells: list[list[str]], first: int, last: int) -> None:
        """Lines of every cell side by side, and a rule below them."""
        top = self.pdf.get_y() + PAD_MM
        across = self.pdf.l_margin
        for wide, lines in zip(self.widths, cells, strict=True):
            for number, text in enumerate(lines[first:last]):
                self.pdf.set_xy(across, top + number * self.line)
                self.pdf.cell(wide, self.line, text)
            across += wide
        below = top + (last - first) * self.line + PAD_MM
        self.pdf.line(self.pdf.l_margin, below, across, below)
        self.pdf.set_y(below)

    def _wrapped(self, row: Sequence[str]) -> list[list[str]]:
        """The lines of each cell of a row."""
        return [
            self._broken(text, wide - 2 * self.pdf.c_margin)
            for text, wide in zip(row, self.widths, strict=True)
        ]

    def _broken(self, text: str, wide: float) -> list[str]:
        """Text in lines that fit, broken between words, and within one that is wider than a line."""
        lines, held, used = [], "", 0.0
        blank = self._wide(" ")
        for word in text.split():
            for part in self._parts(word, wide):
                length = self._wide(part)
                if held and used + blank + length > wide:
                    lines.append(held)
                    held, used = part, length
                else:
                    used += length + (blank if held else 0)
                    held = f"{held} {part}" if held else part
        return [*lines, held]

    def _parts(self, word: str, wide: float) -> list[str]:
        """A word, or pieces of it that each fit a line."""
        if self._wide(word) <= wide:
            return [word]
        parts, used = [""], 0.0
        for letter in word:
            length = self._wide(letter)
            if parts[-1] and used + length > wide:
                parts.append("")
                used = 0.0
            parts[-1] += letter
            used += length
        return parts

    def _wide(self, text: str) -> float:
        known = self._known.get(text)
        if known is None:
            known = self._known[text] = self.pdf.get_string_width(text)
        return known
