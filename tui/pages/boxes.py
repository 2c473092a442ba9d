"""Who stands where, a box a pen, as many beside each other as fit. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from tui.pages.canvas import Line, Piece
from tui.text import fit

BOX = 26


def boxes(groups: Sequence[tuple[str, Sequence[Piece]]], width: int, box: int = BOX) -> list[Line]:
    """A box a group with its names in it; the boxes of a row are as tall as the fullest."""
    across = max(1, width // box)
    inner = max(4, min(box, width) - 3)
    lines: list[Line] = []
    for start in range(0, len(groups), across):
        row = groups[start : start + across]
        lines.append([(f"┌{_titled(name, inner)}┐ ", "strong") for name, _ in row])
        for at in range(max((len(names) for _, names in row), default=0)):
            lines.append([piece for _, names in row for piece in _within(names, at, inner)])
        lines.append([(f"└{'─' * inner}┘ ", "dim") for _ in row])
    return [_trimmed(line) for line in lines]


def _titled(name: str, inner: int) -> str:
    told = fit(f" {name} ", min(inner, cell_len(name) + 2))
    return told + "─" * (inner - cell_len(told))


def _within(names: Sequence[Piece], at: int, inner: int) -> list[Piece]:
    text, tone = names[at] if at < len(names) else ("", "plain")
    return [("│", "dim"), (fit(f" {text}", inner), tone), ("│ ", "dim")]


def _trimmed(line: Line) -> Line:
    """Without the blank after the last box."""
    *rest, (text, tone) = line
    return [*rest, (text.rstrip(), tone)]
