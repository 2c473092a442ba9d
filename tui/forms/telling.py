"""A sheet that only tells something the keeper must see, such as the words to write on paper."""

from __future__ import annotations

from collections.abc import Iterable

from textual.widget import Widget
from textual.widgets import Static

from tui.forms.sheet import Sheet
from tui.text import content


class Telling(Sheet):
    """Told once; pressing says that it was seen."""

    keys = "enter when you have done so"

    def __init__(self, title: str, said: str, *, word: str) -> None:
        super().__init__()
        self.title_text = title
        self.write_word = word
        self._said = said

    def lines(self) -> Iterable[Widget]:
        """What is told."""
        yield Static(content(self._said), id="told")

    async def write(self) -> str:
        """Seen."""
        return "seen"

    def action_leave(self) -> None:
        """It stays until it was seen."""
