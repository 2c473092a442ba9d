"""One line of a form: a label, what the keeper types, and what may be typed there.

A word begun is completed when the keeper goes on, where only one fits; the farm still reads it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.message import Message
from textual.suggester import SuggestFromList
from textual.widgets import Input, Static

from herdsync.kinds import Field
from tui.forms.reading import AtTheDesk, fault_of
from tui.text import content, safe

LISTED = 12


class Typing(Input):
    """The typed part: up, down and enter go from line to line."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,enter", "go(1)", show=False),
        Binding("up", "go(-1)", show=False),
    ]

    class Gone(Message):
        """The keeper goes on to the next or the last line."""

        def __init__(self, by: int) -> None:
            super().__init__()
            self.by = by

    def action_go(self, by: int) -> None:
        """Go on."""
        self.post_message(self.Gone(by))


class Entry(Horizontal):
    """A label and a line to type on. ``choices`` are the words that may stand there.

    ``of``: the field of a kind it is read as, where it is one; what is wrong is said under the line.
    """

    def __init__(
        self, name: str, label: str, *, value: str = "", hint: str = "",
        choices: Sequence[str] = (), empty: str = "", needed: bool = False,
        of: Field | None = None,
    ) -> None:  # fmt: skip
        super().__init__()
        self.field = name
        self.label = label
        self.hint = hint
        self.choices = list(choices)
        self._first = value
        self._empty = empty
        self._needed = needed
        self._of = of
        self._below: Static | None = None

    def compose(self) -> ComposeResult:
        """Label and line."""
        mark = "*" if self._needed else " "
        yield Static(content(f"{mark}{self.label}"), classes="label")
        suggester = SuggestFromList(self.choices, case_sensitive=False) if self.choices else None
        yield Typing(
            safe(self._first), placeholder=safe(self._empty), suggester=suggester, compact=True
        )

    @property
    def typing(self) -> Typing:
        """The line to type on."""
        return self.query_one(Typing)

    @property
    def text(self) -> str:
        """What stands there, a begun word completed."""
        return self.completed(self.typing.value.strip())

    @property
    def changed(self) -> bool:
        """Whether something else stands there than at first."""
        return self.typing.value != safe(self._first)

    def look(self, reading: AtTheDesk) -> str:
        """Say under the line what is wrong with what stands there; answers the same."""
        said = ""
        if self._of is not None and self.changed:
            said = fault_of(self._of, self.text, reading)
        self.amiss(said)
        return said

    def amiss(self, said: str) -> None:
        """Say under the line what is wrong with it; an empty sentence takes that away."""
        if self._below is None and said:
            self._below = Static("", classes="amiss")
            self.screen.query_one("#sheet").mount(self._below, after=self)
        if self._below is not None:
            self._below.update(content(f"! {said}"))
            self._below.display = bool(said)

    def completed(self, text: str) -> str:
        """``text``, or the one choice that begins so."""
        if not text or not self.choices:
            return text
        told = text.casefold()
        if any(told == choice.casefold() for choice in self.choices):
            return text
        fitting = [choice for choice in self.choices if choice.casefold().startswith(told)]
        return fitting[0] if len(fitting) == 1 else text

    def complete(self) -> None:
        """Complete the word on the line itself, so that the keeper sees what will be written."""
        found = self.text
        if found != self.typing.value:
            self.typing.value = found

    def told(self) -> Content:
        """What may be typed here."""
        listed = ", ".join(self.choices[:LISTED])
        more = f" and {len(self.choices) - LISTED} more" if len(self.choices) > LISTED else ""
        parts = [self.hint, f"{listed}{more}" if listed and listed not in self.hint else ""]
        return content("  ".join(part for part in parts if part))
