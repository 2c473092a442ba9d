"""A family drawn from left to right: the animal, parents, grandparents, and theirs. Pure."""

from __future__ import annotations

from herdsync.safe_text import safe_text
from herdsync.sights import Ancestor, Pedigree
from tui.pages.canvas import Canvas, Line, Piece
from tui.text import fit

GENERATIONS_NAMED = ("parents", "grandparents", "great-grandparents", "theirs")
UNKNOWN = "·"
ROWS = 8  # one a great-grandparent; the parents of each stand beside it
LEAST_CELL = 9


def tree(told: Pedigree, width: int) -> list[Line]:
    """Four generations in eight rows; who is not known is a dot."""
    by_path = {one.path: one for one in told.ancestors}
    wide = max(LEAST_CELL, (width - 12) // 5)
    canvas = Canvas(width, ROWS)
    for depth in (1, 2, 3):
        left = (depth - 1) * (wide + 3)
        span = ROWS >> depth
        for place in range(1 << depth):
            path = _path(place, depth)
            row = place * span
            canvas.put(left, row, fit(_named(by_path, path), wide), _tone(by_path, path))
            if depth < 3:
                _branch(canvas, left + wide, row, span // 2)
    rest = 3 * (wide + 3) - 2
    for place in range(ROWS):
        path = _path(place, 3)
        pair = f"← {_named(by_path, path + 's')} × {_named(by_path, path + 'd')}"
        known = path + "s" in by_path or path + "d" in by_path
        canvas.put(rest, place, fit(pair if known else "", width - rest), "dim")
    return canvas.lines()


def figures(told: Pedigree) -> list[Piece]:
    """How inbred it is, and how much of it is known, as sentences."""
    said = f"Inbred {told.inbreeding * 100:.2f} %, as far as ancestors are known: "
    said += f"as good as {told.equivalent_generations:.2f} whole generations."
    known = ", ".join(
        f"{name} {share * 100:.0f} %"
        for name, share in zip(GENERATIONS_NAMED, told.known, strict=False)
    )
    faults = [(f"! {fault}", "late") for fault in told.faults]
    return [(said, "accent"), (f"Known: {known}; who is not counts as unrelated.", "dim"), *faults]


def _path(place: int, depth: int) -> str:
    """The way to an ancestor: sires above dams."""
    return "".join("d" if place >> (depth - 1 - step) & 1 else "s" for step in range(depth))


def _named(by_path: dict[str, Ancestor], path: str) -> str:
    found = by_path.get(path)
    if found is None:
        return UNKNOWN
    doubt = "" if found.sure else "? "
    return safe_text(f"{doubt}{found.name or 'no name'} {found.mark}".strip())


def _tone(by_path: dict[str, Ancestor], path: str) -> str:
    if path not in by_path:
        return "dim"
    return "strong" if path.endswith("d") else "plain"


def _branch(canvas: Canvas, column: int, row: int, down: int) -> None:
    """From a child to its sire on the same row and its dam further down."""
    canvas.put(column, row, "─┬─", "dim")
    for between in range(1, down):
        canvas.put(column, row + between, " │ ", "dim")
    canvas.put(column, row + down, " └─", "dim")
