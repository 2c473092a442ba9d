"""A short form for a deed that needs a few words: why, until when, where."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from textual.widget import Widget

from tui.forms.entry import Entry
from tui.forms.sheet import Sheet

if TYPE_CHECKING:
    from herdsync.farm import Farm

Asked = dict[str, str]
Question = tuple[str, str, str]  # field, label, what stands there at first


class Asking(Sheet):
    """Asks some lines, then does the deed with what was typed (blank lines are empty text)."""

    def __init__(
        self,
        title: str,
        questions: Sequence[Question],
        deed: Callable[[Farm, Asked], str],
        *,
        caution: str = "",
        word: str = "Write it down",
        hint: str = "",
    ) -> None:
        super().__init__()
        self.title_text = title
        self.caution = caution
        self.write_word = word
        self._questions = questions
        self._deed = deed
        self._hint = hint

    def lines(self) -> Iterable[Widget]:
        """One line a question."""
        for name, label, first in self._questions:
            yield Entry(name, label, value=first, hint=self._hint)

    async def write(self) -> str:
        """Do the deed."""
        told = {name: "" for name, _, _ in self._questions} | self.given()
        return await self.home.hand.ask(lambda farm: self._deed(farm, told))
