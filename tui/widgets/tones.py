"""What tones look like: one set of component classes that every widget of ours draws with."""

from __future__ import annotations

from rich.style import Style
from textual.widget import Widget

from tui.pages.page import TONES

TONE_CLASSES = frozenset(f"tone--{tone}" for tone in TONES)


def tone_style(widget: Widget, tone: str) -> Style:
    """The style a tone has in the look of the moment; nothing for plain text."""
    if tone == "plain":
        return Style.null()
    return widget.get_component_rich_style(f"tone--{tone}", partial=True)
