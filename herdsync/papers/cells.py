"""The cells of a spreadsheet file: written so that none is taken for a formula, and read back.

RFC 4180 (IETF, 2005): records end with CRLF, fields with comma, quote or line end are quoted, quotes
doubled. A text that begins with a sign a spreadsheet acts on gets an apostrophe in front (and so does
one that begins with an apostrophe), which reading takes off again: the guard is reversible. Characters
that show nothing are written out as escapes, as on the terminal; that is not undone.
Must not know what a cell means.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from herdsync.safe_text import safe_lines

GUARD = "'"
# What spreadsheets take for the beginning of a formula, wide forms (Unicode, halfwidth and fullwidth)
# included, and blanks some of them skip before they look.
ACTIVE = frozenset("=+-@\t\r\n|\uff1d\uff0b\uff0d\uff20" + GUARD)

Cell = str | int | float | bool | None


def guarded(text: str) -> str:
    """Text made harmless to a spreadsheet."""
    shown = "\n".join(safe_lines(text.replace("\r\n", "\n")))
    bare = shown.lstrip(" \u00a0\u3000")
    return GUARD + shown if bare[:1] in ACTIVE and bare else shown


def unguarded(cell: str) -> str:
    """What a guarded cell held; other cells as they are."""
    bare = cell[1:].lstrip(" \u00a0\u3000")
    return cell[1:] if cell.startswith(GUARD) and bare[:1] in ACTIVE and bare else cell


def written(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[bytes]:
    """A file line by line: the headings, then each row, in UTF-8."""
    for row in chain([headings], rows):
        yield row_of(row)


def row_of(cells: Sequence[Cell]) -> bytes:
    """One line of a file."""
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\r\n").writerow([_plain(cell) for cell in cells])
    return buffer.getvalue().encode("utf-8")


def _plain(cell: Cell) -> str | int | float:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    # A number is no formula, though it may begin with a minus.
    return guarded(cell) if isinstance(cell, str) else cell
