"""The one gate for farm text on its way to the screen: nothing in a name or note acts on a terminal.

Every widget takes its text from here as ``Text`` or ``Content``, which are never read as markup.
"""

from __future__ import annotations

from io import StringIO

from rich.cells import cell_len, set_cell_size
from rich.console import Console
from rich.text import Text
from textual.content import Content

from herdsync.safe_text import safe_text

CUT = "…"
MEASURE = Console(width=200, color_system=None, file=StringIO())  # only measures, never prints


def safe(text: str) -> str:
    """``text`` on one line, with control and direction signs made visible and harmless."""
    return safe_text(text)


def fit(text: str, width: int, *, right: bool = False) -> str:
    """``text`` made safe and exactly ``width`` cells wide: cut with an ellipsis, or padded.

    ``right`` pads on the left.
    """
    if width <= 0:
        return ""
    told = safe_text(text)
    if right and cell_len(told) <= width:
        return " " * (width - cell_len(told)) + told
    if cell_len(told) <= width:
        return set_cell_size(told, width)
    return set_cell_size(set_cell_size(told, width - 1).rstrip() + CUT, width)


def wrapped(text: str, width: int) -> list[str]:
    """``text`` made safe and broken at words into lines of at most ``width`` cells."""
    told, width = safe_text(text), max(8, width)
    if cell_len(told) <= width:
        return [told.rstrip()]
    lines = Text(told).wrap(MEASURE, width)
    return [line.plain.rstrip() for line in lines] or [""]


def words(text: str, style: str = "") -> Text:
    """``text`` made safe, for widgets that take rich text."""
    return Text(safe_text(text), style=style, end="")


def content(text: str) -> Content:
    """``text`` made safe line by line, for widgets that take Textual content; never markup."""
    return Content("\n".join(safe_text(line) for line in text.split("\n")))
