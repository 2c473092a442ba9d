"""A short form for a deed that needs a few words: why, until when, where."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from textual.widget import Widget

from tui.forms.entry import Entry
from tui.forms.sheet import Sheet

if TYPE_CHECKING:
    from herdsync.farm import Farm

Asked = dict[str, str]
Question = tuple[str, str, str]  # field, label, what stands there at first


class Asking(Sheet):
    """Asks some lines, then does the deed with what was typed (blank lines are empty text).

    ``hint`` stands by every line that has none of its own in ``hints``; ``choices`` by line;
    ``at`` is the line the cursor begins on, the first where it is left out.
    """

    def __init__(
        self,
        title: str,
        questions: Sequence[Question],
        deed: Callable[[Farm, Asked], str],
        *,
        caution: str = "",
        about: str = "",
        word: str = "Write it down",
        hint: str = "",
        hints: Mapping[str, str] | None = None,
        choices: Mapping[str, Sequence[str]] | None = None,
        at: str = "",
    ) -> None:
        super().__init__()
        self.title_text = title
        self.caution = caution
        self.about = about
        self.keys = (
            f"enter: next line   ctrl+s: {word[:1].lower()}{word[1:]}   esc: leave, nothing is done"
        )
        self.write_word = word
        self._questions = questions
        self._deed = deed
        self._hint = hint
        self._hints = hints or {}
        self._choices = choices or {}
        self._at = at

    def lines(self) -> Iterable[Widget]:
        """One line a question."""
        for name, label, first in self._questions:
            hint = self._hints.get(name, self._hint)
            yield Entry(name, label, value=first, hint=hint, choices=self._choices.get(name, ()))

    def begin(self) -> None:
        """On the line that is still to be told."""
        at = next((entry for entry in self.entries if entry.field == self._at), None)
        if at is None:
            super().begin()
        else:
            self.go_to(at)

    async def write(self) -> str:
        """Do the deed."""
        told = {name: "" for name, _, _ in self._questions} | self.given()
        return await self.home.hand.ask(lambda farm: self._deed(farm, told))
