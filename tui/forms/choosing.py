"""Choosing one of many by typing a few letters: an animal, a kind of record, a place to go."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from tui.farmhand import Trouble
from tui.pages.page import Cell, Column, Page, Row
from tui.text import content
from tui.widgets.lines import Lines
from tui.working import work_on

if TYPE_CHECKING:
    from tui.app import Dashboard


@dataclass(frozen=True, slots=True)
class Option:
    """One thing to choose: its id, its name, what is said of it."""

    id: str
    name: str
    says: str


RUBS_OUT = frozenset({"backspace", "delete"})
Supply = Callable[[str], Awaitable[Sequence[Option]]]
COLUMNS = (Column("", 22, grow=1), Column("", 20, grow=3))


class Choosing(ModalScreen[Option | None]):
    """Type to narrow, up and down to move, enter to take. ``supply`` looks each text up anew."""

    ready = False  # whether keys find the line to type on: until then they wait

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", show=False),
        Binding("up", "move(-1)", show=False, priority=True),
        Binding("down", "move(1)", show=False, priority=True),
    ]

    def __init__(
        self, title: str, options: Sequence[Option] = (), supply: Supply | None = None
    ) -> None:
        super().__init__()
        self._title = title
        self._options = list(options)
        self._supply = supply
        self._found: list[Option] = list(options)
        self._asked: str | None = None  # the text that is being looked up

    def compose(self) -> ComposeResult:
        """Title, line to type on, what fits."""
        with Vertical(id="choosing"):
            yield Static(content(self._title), id="title")
            yield Input(compact=True, placeholder="type a few letters")
            yield Lines(id="found")

    def on_mount(self) -> None:
        """Show all there is."""
        self.query_one(Lines).can_focus = False
        self._show(self._options)
        self.query_one(Input).focus()
        self.app.call_later(self._now_ready)

    def _now_ready(self) -> None:
        self.ready = True
        cast("Dashboard", self.app).typed_ahead.give()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Narrow by what was typed."""
        if self._supply is not None:
            self.ready = False
            self._asked = event.value
            work_on(self, partial(self._look_up, event.value), "looking", alone=True, fatal=True)
        else:
            self._show(fitting(event.value, self._options))

    async def _look_up(self, text: str) -> None:
        assert self._supply is not None
        try:
            found = await self._supply(text)
        except Trouble as trouble:
            found = []
            self.query_one("#title", Static).update(content(str(trouble)))
        if text == self._asked:
            self._show(found)
            self._asked = None
            self._now_ready()

    def takes(self, key: events.Key) -> bool:
        """Whether a key may come while a text is looked up: what is typed, but not what chooses."""
        return self._asked is not None and (key.is_printable or key.key in RUBS_OUT)

    def _show(self, options: Sequence[Option]) -> None:
        self._found = list(options)
        rows = [
            Row(option.id, (Cell(option.name, "strong"), Cell(option.says, "dim")))
            for option in options
        ]
        lines = self.query_one(Lines)
        lines.fill(Page(COLUMNS, rows, "Nothing fits. Type fewer letters, or esc."))
        lines.action_end(-1)

    def action_move(self, by: int) -> None:
        """Move the cursor while typing."""
        self.query_one(Lines).action_step(by)

    def on_input_submitted(self) -> None:
        """Take what is under the cursor."""
        row = self.query_one(Lines).current
        if row is not None:
            self.dismiss(next(option for option in self._found if option.id == row.key))

    def on_lines_opened(self, event: Lines.Opened) -> None:
        """A click takes it."""
        self.dismiss(next(option for option in self._found if option.id == event.row.key))

    def action_leave(self) -> None:
        """Leave without choosing."""
        self.dismiss(None)


def fitting(text: str, options: Sequence[Option]) -> list[Option]:
    """Options whose name begins with the text, then those that hold it, then those said to."""
    told = text.strip().casefold()
    begins = [option for option in options if option.name.casefold().startswith(told)]
    holds = [option for option in options if told in option.name.casefold()]
    says = [option for option in options if told in option.says.casefold()]
    found: dict[str, Option] = {}
    for option in (*begins, *holds, *says):
        found.setdefault(option.id, option)
    return list(found.values())
