"""Rows of a spreadsheet file, read from chunks of bytes in bounded memory.

What is wrong with a line is told for that line; the lines after it are still read. Must not know what
a column means.
"""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from herdsync.faults import Refused
from herdsync.papers.cells import unguarded

LINE_BYTES = 262_144
CELL_LETTERS = 65_536
COLUMNS = 500
ENCODINGS = {"utf-8": "utf-8", "utf-16": "utf-16", "windows-1252": "cp1252", "latin-1": "latin-1"}
_MARKS = {
    codecs.BOM_UTF8: "utf-8",
    codecs.BOM_UTF16_LE: "utf-16-le",
    codecs.BOM_UTF16_BE: "utf-16-be",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the number of its first line, and its cells; or ``why`` it could not be read."""

    number: int
    cells: tuple[str, ...] = ()
    why: str = ""


@dataclass(slots=True)
class _Line:
    number: int
    text: str
    why: str = ""


def rows_of(chunks: Iterable[bytes], encoding: str = "") -> Iterator[Row]:
    """Every row of a file, the headings first; blank rows are left out.

    ``encoding``: one of `ENCODINGS`; left out, UTF-8, or what the mark at the beginning says.
    Raises Refused for an encoding that is not known.
    """
    lines = _Lines(_decoded(chunks, encoding))
    while True:
        try:
            cells = next(lines.reader)
        except StopIteration:
            yield from lines.faults()
            return
        except csv.Error as fault:
            yield from lines.faults()
            yield Row(lines.first, why=_why(str(fault)))
            lines.begin()
            continue
        yield from lines.faults()
        number = lines.first
        lines.begin()
        if len(cells) > COLUMNS:
            yield Row(number, why=f"it has more than {COLUMNS} columns")
        elif any(cell.strip() for cell in cells):
            yield Row(number, tuple(unguarded(cell) for cell in cells))


class _Lines:
    """Feeds text lines to the reader of CSV, remembering where its row began."""

    def __init__(self, lines: Iterator[_Line]) -> None:
        self._lines = lines
        self._bad: list[Row] = []
        self._last = 0
        self.first = 1
        first = next(lines, None)
        self._held = first
        separator = _separator(first.text) if first is not None else ","
        csv.field_size_limit(CELL_LETTERS)
        self.reader = csv.reader(self, delimiter=separator, strict=True)

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        while True:
            line = self._held or next(self._lines, None)
            self._held = None
            if line is None:
                raise StopIteration
            self._last = line.number
            if not line.why:
                return line.text
            self._bad.append(Row(line.number, why=line.why))

    def begin(self) -> None:
        """The next row begins with the next line."""
        self.first = self._last + 1

    def faults(self) -> Iterator[Row]:
        """Lines that could not be read since last asked."""
        bad, self._bad = self._bad, []
        if bad and self.first == bad[0].number:
            self.first = bad[-1].number + 1
        yield from bad


def _separator(heading: str) -> str:
    """What parts the cells of a file: the one of comma, semicolon and tab its headings hold most of."""
    return max(",;\t", key=lambda sign: (heading.count(sign), sign == ","))


def _decoded(chunks: Iterable[bytes], encoding: str) -> Iterator[_Line]:
    if encoding and encoding not in ENCODINGS:
        raise Refused(
            f"{encoding[:40]!r} is no encoding known here.", f"Use {', '.join(ENCODINGS)}."
        )
    lines = _split(chunks)
    first = next(lines, (1, b"", False))
    mark = next((one for one in _MARKS if first[1].startswith(one)), b"")
    told = ENCODINGS.get(encoding) or "utf-8"
    if mark:
        told = _MARKS[mark]
    if told.startswith("utf-16"):
        yield from _wide(first, lines, told if mark else "utf-16-le", len(mark))
        return
    yield _line((first[0], first[1][len(mark) :], first[2]), told)
    for one in lines:
        yield _line(one, told)


def _wide(
    first: tuple[int, bytes, bool],
    lines: Iterator[tuple[int, bytes, bool]],
    encoding: str,
    skip: int,
) -> Iterator[_Line]:
    """Lines of a file in UTF-16, whose line ends are two bytes, split over the bytes of the others."""
    decoder = codecs.getincrementaldecoder(encoding)("replace")
    text, number = "", 1
    for _, raw, long in _chained((first[0], first[1][skip:], first[2]), lines):
        text += decoder.decode(raw if not long else b"")
        *whole, text = text.split("\n")
        for one in whole:
            yield _marked(number, one.rstrip("\r") + "\n")
            number += 1
        if len(text) > LINE_BYTES:
            yield _Line(number, "", f"it is longer than {LINE_BYTES} characters")
            return
    if text:
        yield _marked(number, text)


def _marked(number: int, text: str) -> _Line:
    why = "it is not text in UTF-16" if "\ufffd" in text else ""
    return _Line(number, text, why)


def _chained(
    first: tuple[int, bytes, bool], lines: Iterator[tuple[int, bytes, bool]]
) -> Iterator[tuple[int, bytes, bool]]:
    yield first
    yield from lines


def _line(raw: tuple[int, bytes, bool], encoding: str) -> _Line:
    number, told, long = raw
    if long:
        return _Line(number, "", f"it is longer than {LINE_BYTES} bytes")
    try:
        return _Line(number, told.decode(encoding))
    except UnicodeDecodeError:
        why = "it is not text in UTF-8: save the file as CSV UTF-8, or say --encoding"
        return _Line(number, "", why)


def _split(chunks: Iterable[bytes]) -> Iterator[tuple[int, bytes, bool]]:
    """Numbered lines with their ends; of one that is too long, nothing but that it was."""
    number, held, skipping = 1, bytearray(), False
    for chunk in chunks:
        start = 0
        while (end := chunk.find(b"\n", start)) >= 0:
            held += chunk[start : end + 1]
            long = skipping or len(held) > LINE_BYTES
            yield number, b"" if long else bytes(held), long
            number, skipping, start = number + 1, False, end + 1
            held.clear()
        held += chunk[start:]
        if len(held) > LINE_BYTES:
            skipping = True
            held.clear()
    if held or skipping:
        yield number, bytes(held), skipping


def _why(told: str) -> str:
    if "field larger" in told or "unexpected end" in told:
        return "a quote that opens here is never closed, so what follows was not read"
    return f"its quotes or cells are not well formed ({told})"
