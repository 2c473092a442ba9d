"""A paper that has to stand on one page: what is left out is counted and said, never cut in silence.

How much fits is measured, not guessed: who asks brings the measure. Must not know how it is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from herdsync.papers.paper import Note, Paper, Section
from herdsync.safe_text import clipped, safe_text

Fits = Callable[[Paper], bool]


@dataclass(frozen=True, slots=True)
class Share:
    """How much of a paper is kept: rows of its tables, notes, laptops heard, letters of any one text."""

    rows: int
    notes: int
    heard: int
    letters: int


# From plenty to little; the last fits on any page there is.
_SHARES = (
    Share(70, 12, 8, 300), Share(70, 6, 4, 120), Share(40, 3, 2, 78), Share(0, 1, 1, 40),
)  # fmt: skip


def fitted(paper: Paper, fits: Fits) -> Paper:
    """The paper with as many rows as fit; of one that need not stand on one page, the paper itself."""
    if not paper.one_page:
        return paper
    for share in _SHARES[:-1]:
        most = _most_rows(paper, share, fits)
        if most is not None:
            return cut(paper, replace(share, rows=most))
    return cut(paper, _SHARES[-1])


def _most_rows(paper: Paper, share: Share, fits: Fits) -> int | None:
    """The most rows that fit with the rest of a share; None where too few do to be of use."""
    rows = max((len(one.table) for one in paper.sections), default=0)
    low, high = min(rows, 6) - 1, min(rows, share.rows)
    while low < high:
        middle = (low + high + 1) // 2
        if fits(cut(paper, replace(share, rows=middle))):
            low = middle
        else:
            high = middle - 1
    return low if low >= min(rows, 6) else None


def cut(paper: Paper, share: Share) -> Paper:
    """The paper with no more than a share of everything; what was left out is counted in its place."""
    basis = paper.basis
    heard = [_short(one, 2 * share.letters) for one in basis.heard[: share.heard]]
    if len(basis.heard) > share.heard:
        heard.append(f"and {len(basis.heard) - share.heard} more laptops.")
    return replace(
        paper,
        about=_short(paper.about, share.letters),
        basis=replace(
            basis, farm=_short(basis.farm, 78), keeper=_short(basis.keeper, 40),
            device=_short(basis.device, 40), heard=heard,
        ),
        sections=[_section(one, share) for one in paper.sections],
        blocks=_notes(paper.blocks, share),
        marks=_notes(paper.marks, share),
    )  # fmt: skip


def _section(section: Section, share: Share) -> Section:
    table = [[_short(cell, share.letters) for cell in row] for row in section.table[: share.rows]]
    left = len(section.table) - len(table) + section.beyond
    lines = [_short(line, share.letters) for line in section.lines]
    if left:
        lines.append(f"and {left} more, older: they are on the animal's own page.")
    rows = [(label, _short(value, share.letters)) for label, value in section.rows]
    return replace(section, rows=rows, table=table, lines=lines, beyond=0)


def _notes(notes: Sequence[Note], share: Share) -> list[Note]:
    kept = [
        Note(_short(one.says, 2 * share.letters), one.records[:4]) for one in notes[: share.notes]
    ]
    if len(notes) > share.notes:
        kept.append(Note(f"and {len(notes) - share.notes} more: see the animal's own page"))
    return kept


def _short(text: str, letters: int) -> str:
    return clipped(safe_text(text), letters)
