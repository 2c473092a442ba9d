"""A paper: what it says, what it rests on, what stands in its way. The same for text and for print.

Everything from the farm passes `safe_text` on its way into a paper. Must not know how it is drawn.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from herdsync.safe_text import clipped, padded, safe_lines, safe_text, width

LINE = 78
LABEL = 26
COLUMNS_IN_TEXT = 6
# A value to be filled in by hand on the printed sheet.
BY_HAND = ""
GAP_LINE = "_" * 36
NOT_FIT = "NOT TO BE HANDED OVER"
TO_NOTE = "To note"


@dataclass(frozen=True, slots=True)
class Note:
    """One thing that stands in the way of a paper, or is marked on it, with the records it is in."""

    says: str
    records: tuple[str, ...] = ()

    @property
    def printed(self) -> str:
        """The sentence as it stands on paper, without the ids of the keeper's own files."""
        return safe_text(f"{self.says[:1].upper()}{self.says[1:].rstrip('.')}.")

    def __str__(self) -> str:
        """The sentence for the keeper, the records named by the beginning of their ids."""
        named = ", ".join(one[:8] for one in self.records)
        return safe_text(f"{self.says.rstrip('.')} [{named}]." if named else self.says)


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a paper: labelled rows, a table, and sentences. ``beyond``: rows there was no room for."""

    heading: str
    rows: Sequence[tuple[str, str]] = ()
    columns: Sequence[str] = ()
    table: Sequence[Sequence[str]] = ()
    lines: Sequence[str] = ()
    beyond: int = 0

    def rewritten(self, write: Callable[[str], str]) -> Section:
        """The same section with every text written anew."""
        return replace(
            self,
            heading=write(self.heading),
            rows=[(write(label), write(value)) for label, value in self.rows],
            columns=[write(one) for one in self.columns],
            table=[[write(cell) for cell in row] for row in self.table],
            lines=[write(one) for one in self.lines],
        )


@dataclass(frozen=True, slots=True)
class Basis:
    """What a paper rests on: whose farm and laptop, at what moment, and when others were heard."""

    farm: str
    keeper: str
    device: str
    moment: str
    entry: str
    heard: Sequence[str] = ()
    farm_id: str = ""

    def lines(self) -> list[str]:
        """The sentences that say so."""
        on = self.moment[:16].replace("T", " ")
        whose = (
            f"{self.keeper}'s laptop '{self.device}'" if self.device else "a copy that only reads"
        )
        told = f"Known to {whose} on {on}."
        return [safe_text(one) for one in [told, *self.heard]]

    @property
    def reference(self) -> str:
        """By what the farm's keepers find again what the paper rests on: its newest entry, and its id."""
        return safe_text(f"Reference: {self.entry[:12]}, farm {self.farm_id[:12]}.")


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper. ``blocks``: why it may not be handed over; ``marks``: what its reader must know."""

    name: str
    title: str
    about: str
    basis: Basis
    sections: Sequence[Section]
    blocks: Sequence[Note] = ()
    marks: Sequence[Note] = ()
    foot: Sequence[str] = ()
    one_page: bool = False

    @property
    def fit(self) -> bool:
        """Whether nothing stands in its way."""
        return not self.blocks

    def texts(self) -> Iterator[str]:
        """Every text on it, safe to show."""
        yield from (safe_text(one) for one in (self.title, self.about, self.basis.farm, *self.foot))
        yield from (*self.basis.lines(), self.basis.reference)
        yield from (note.printed for note in (*self.blocks, *self.marks))
        for section in self.sections:
            rows = (
                cell for row in (*section.rows, section.columns, *section.table) for cell in row
            )
            yield from (safe_text(one) for one in (section.heading, *section.lines, *rows))

    def rewritten(self, write: Callable[[str], str]) -> Paper:
        """The same paper with every text written anew."""
        basis = self.basis
        told = [write(one) for one in (basis.farm, basis.keeper, basis.device)]
        return replace(
            self,
            title=write(self.title),
            about=write(self.about),
            basis=replace(
                basis, farm=told[0], keeper=told[1], device=told[2],
                heard=[write(one) for one in basis.heard],
            ),
            sections=[one.rewritten(write) for one in self.sections],
            blocks=[replace(one, says=write(one.says)) for one in self.blocks],
            marks=[replace(one, says=write(one.says)) for one in self.marks],
            foot=[write(one) for one in self.foot],
        )  # fmt: skip


def text_of(paper: Paper) -> str:
    """The paper as plain text of at most 78 columns; these are the bytes that are signed."""
    title = safe_text(f"{paper.title}: {paper.about}")
    out = [*_wrapped(title, 0), "=" * min(LINE, width(title)), safe_text(paper.basis.farm), ""]
    if paper.blocks:
        out += [NOT_FIT, *_listed(paper.blocks), ""]
    if paper.marks:
        out += [TO_NOTE, *_listed(paper.marks), ""]
    for section in paper.sections:
        out += [safe_text(section.heading), "-" * min(LINE, width(safe_text(section.heading)))]
        out += _rows(section.rows)
        out += _table(section)
        for line in section.lines:
            out += _wrapped(safe_text(line), 0)
        out.append("")
    out.append("What this rests on")
    for line in [*paper.basis.lines(), *paper.foot, paper.basis.reference]:
        out += _wrapped(line, 2)
    return "\n".join(line.rstrip() for line in out) + "\n"


def _table(section: Section) -> list[str]:
    """A table; one too wide for a line of text as a block of its own for each row."""
    if not section.table:
        return []
    if len(section.columns) <= COLUMNS_IN_TEXT:
        return table_lines(section.columns, section.table)
    out = []
    for row in section.table:
        out += _wrapped(safe_text("  ".join(row[:2])), 0, 2)
        told = [f"{name}: {cell}" for name, cell in zip(section.columns, row, strict=True) if cell]
        out += _wrapped(safe_text("; ".join(told[2:])), 4)
    return out


def table_lines(
    columns: Sequence[str], rows: Iterable[Sequence[str]], line: int = LINE
) -> list[str]:
    """Aligned columns; cells that do not fit run over several lines."""
    cells = [[safe_text(cell) for cell in row] for row in rows]
    kept = [at for at in range(len(columns)) if any(row[at] for row in cells)] or [0]
    shown = [[columns[at] for at in kept], *([row[at] for at in kept] for row in cells)]
    widths = _fitted([max(width(row[at]) for row in shown) for at in range(len(kept))], line)
    out = []
    for row in shown:
        split = [textwrap.wrap(cell, most) or [""] for cell, most in zip(row, widths, strict=True)]
        for at in range(max(len(parts) for parts in split)):
            cut = [clipped(parts[at], most) if at < len(parts) else ""
                   for parts, most in zip(split, widths, strict=True)]  # fmt: skip
            out.append("  ".join(padded(one, most) for one, most in zip(cut, widths, strict=True)))
    return out


def _fitted(widths: list[int], line: int) -> list[int]:
    room = line - 2 * (len(widths) - 1)
    fitted = list(widths)
    while sum(fitted) > room and max(fitted) > 6:
        fitted[fitted.index(max(fitted))] -= 1
    return fitted


def _rows(rows: Sequence[tuple[str, str]]) -> list[str]:
    out = []
    for label, value in rows:
        head = padded(safe_text(label), LABEL)
        told = [part for line in safe_lines(value or GAP_LINE)
                for part in textwrap.wrap(line, LINE - LABEL) or [""]]  # fmt: skip
        out += [head + told[0], *(" " * LABEL + one for one in told[1:])]
    return out


def _listed(notes: Sequence[Note]) -> list[str]:
    return [line for note in notes for line in _wrapped(f"! {note.printed}", 0, 2)]


def _wrapped(text: str, indent: int, further: int | None = None) -> list[str]:
    more = " " * (indent if further is None else further)
    return textwrap.wrap(
        text, LINE, initial_indent=" " * indent, subsequent_indent=more, break_on_hyphens=False
    )
