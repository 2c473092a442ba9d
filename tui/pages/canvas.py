"""A sheet of cells to draw on: each holds one sign and what it means. Plain data, no widget.

Pictures are drawn here with letters and blocks, not by a plotting library: each series keeps a shape
of its own where there is no colour, farm text passes the same gate as everywhere, and a test can hold
every cell of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from rich.cells import cell_len

Piece = tuple[str, str]  # text and tone
Line = Sequence[Piece]


class Canvas:
    """``width`` by ``height`` blank cells; what falls outside is left out."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._cells: list[list[Piece]] = [[(" ", "plain")] * width for _ in range(height)]

    def put(self, x: int, y: int, text: str, tone: str = "plain") -> None:
        """Write signs from a cell on to the right; row 0 is the top. A wide sign takes two cells."""
        at = x
        for sign in text if 0 <= y < self.height else "":
            cells = cell_len(sign)
            if not cells and 0 < at <= self.width:
                before, its_tone = self._cells[y][at - 1]
                self._cells[y][at - 1] = (before + sign, its_tone)
            elif at >= 0 and at + cells <= self.width:
                self._cells[y][at] = (sign, tone)
                if cells > 1:
                    self._cells[y][at + 1] = ("", tone)
            at += cells

    def sign(self, x: int, y: int) -> str:
        """What stands in a cell; nothing outside."""
        inside = 0 <= y < self.height and 0 <= x < self.width
        return self._cells[y][x][0] if inside else ""

    def lines(self) -> list[Line]:
        """Every row as pieces, cells of one tone together."""
        return [
            [("".join(sign for sign, _ in run), tone) for tone, run in groupby(row, _tone)]
            for row in self._cells
        ]


def _tone(cell: Piece) -> str:
    return cell[1]


def one(text: str, tone: str = "plain") -> Line:
    """A line of one piece."""
    return [(text, tone)]


def plain(line: Line) -> str:
    """A line without its tones."""
    return "".join(text for text, _ in line).rstrip()


def legend(parts: Sequence[Piece], width: int) -> list[Line]:
    """What the marks mean, parted by two blanks, in as many lines as it takes."""
    lines: list[list[Piece]] = [[]]
    room = width
    for text, tone in parts:
        if lines[-1] and cell_len(text) + 2 > room:
            lines.append([])
            room = width
        lines[-1] += [(text, tone), ("  ", "plain")]
        room -= cell_len(text) + 2
    return [line for line in lines if line]
