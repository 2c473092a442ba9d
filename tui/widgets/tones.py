"""What tones look like in the look of the moment: a colour of the theme, bold or not.

Taken from the theme itself: as component classes of every widget, Textual would match each against
the whole style sheet again whenever a place is opened.
"""

from __future__ import annotations

from functools import lru_cache

from rich.style import Style
from textual.widget import Widget

from tui.pages.page import TONES

BOLD = frozenset({"strong", "accent", "closing", "late", "held", "tag"})
REVERSED = frozenset({"tag"})
COLOURS = {
    "accent": "primary",
    "ahead": "dim",
    "put-off": "dim",
    "missed": "dim",
    "due": "strong",
    "unknown": "late",
    "barred": "held",
    "tag": "held",
}  # where the colour is not called as the tone


def tone_style(widget: Widget, tone: str) -> Style:
    """The style a tone has in the look of the moment; nothing for plain text or an unknown tone."""
    if tone == "plain" or tone not in TONES:
        return Style.null()
    return _style(tone, widget.app.theme_variables[COLOURS.get(tone, tone)])


@lru_cache(maxsize=256)
def _style(tone: str, colour: str) -> Style:
    return Style(color=colour, bold=tone in BOLD or None, reverse=tone in REVERSED or None)
