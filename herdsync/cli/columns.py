"""Lines for a person at a terminal: aligned columns and wrapped sentences within 80 columns.

Everything from the farm passes the gate of ``safe_text`` here, so a verb cannot forget it.
Must not know what the words mean.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from herdsync.safe_text import clipped, padded, safe_lines, safe_text, width

LINE = 80
GAP = 2
NARROWEST = 6


def table(headings: Sequence[str], rows: Iterable[Sequence[object]], indent: int = 0) -> list[str]:
    """Aligned columns under headings; empty columns are left out, the widest are cut to fit."""
    cells = [[safe_text(_plain(cell)) for cell in row] for row in rows]
    if not cells:
        return []
    kept = [place for place in range(len(headings)) if any(row[place] for row in cells)]
    shown = [[headings[place] for place in kept]]
    shown += [[row[place] for place in kept] for row in cells]
    wanted = [max(width(row[place]) for row in shown) for place in range(len(kept))]
    widths = _fitted(wanted, LINE - indent)
    return [" " * indent + _line(row, widths) for row in shown]


def sentence(text: str, indent: int = 0, hanging: int | None = None) -> list[str]:
    """One paragraph, wrapped; further lines stand at ``hanging``."""
    further = " " * (indent if hanging is None else hanging)
    lines = textwrap.wrap(
        safe_text(text),
        LINE - 1,
        initial_indent=" " * indent,
        subsequent_indent=further,
        break_on_hyphens=False,
    )
    return [clipped(line, LINE) for line in lines]


def labelled(label: str, text: object, column: int = 20) -> list[str]:
    """A label and its value; a value of several lines goes on beneath itself."""
    told = padded(f"  {safe_text(label)}", column)
    lines: list[str] = []
    for line in safe_lines(_plain(text)):
        lines += textwrap.wrap(line, LINE - 1 - column, break_on_hyphens=False) or [""]
    first = told if width(told) <= column else f"{told} "
    return [(first + lines[0]).rstrip(), *(" " * column + line for line in lines[1:])]


def padded_list(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """Words and what they mean, the meanings wrapped beside them."""
    column = max(width(word) for word, _ in pairs) + GAP
    lines = []
    for word, meaning in pairs:
        told = sentence(meaning, column)
        lines += [padded(word, column) + told[0].lstrip(), *told[1:]]
    return lines


def moment(text: str) -> str:
    """An RFC 3339 moment as it is read on a wall: date and time; other text as it is."""
    return text[:16].replace("T", " ") if "T" in text else text


def several(count: int, one: str, many: str = "") -> str:
    """``1 entry``, ``2 entries``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def left(seconds: int) -> str:
    """A stretch of time in the two largest units that matter; what is past is over."""
    over = " over" if seconds < 0 else ""
    minutes = abs(seconds) // 60
    days, hours = minutes // 1440, minutes % 1440 // 60
    if days:
        return f"{days} d {hours} h{over}"
    if hours:
        return f"{hours} h {minutes % 60} min{over}"
    return f"{minutes} min{over}"


def _plain(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, list | tuple):
        return ", ".join(_plain(one) for one in cell)
    return str(cell)


def _fitted(widths: list[int], line: int) -> list[int]:
    room = line - GAP * (len(widths) - 1)
    fitted = list(widths)
    while sum(fitted) > room:
        widest = fitted.index(max(fitted))
        if fitted[widest] <= NARROWEST:
            break
        fitted[widest] -= 1
    return fitted


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = [
        padded(clipped(cell, columns), columns) for cell, columns in zip(row, widths, strict=True)
    ]
    return (" " * GAP).join(cells).rstrip()
