"""Pictures over the same figures as lines: left and right go from one to the next. Opened with one key."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from tui.pages.drawn import Drawn
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings
from tui.text import safe
from tui.widgets.lines import Lines
from tui.widgets.tones import tone_style

if TYPE_CHECKING:
    from herdsync.farm import Farm

NOTHING = "There is nothing to draw yet: write down weights, milk or parents first."


class Drawing(Static):
    """The picture itself."""


class DrawnPlace(Place):
    """Pictures of a farm or an animal in turn."""

    place = "herd"
    about = "A picture: left and right show the next one."
    foot = ("back", "find", "undo")
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("herd"),
        Binding("left", "turn(-1)", show=False),
        Binding("right", "turn(1)", show=False),
    ]

    def __init__(self, reader: Callable[[Farm], list[Drawn]]) -> None:
        super().__init__()
        self._reader = reader
        self.at = 0

    def body(self) -> ComposeResult:
        """The picture over its figures."""
        yield Drawing("", id="drawing")
        yield Lines(id="lines")

    def read(self, farm: Farm) -> list[Drawn]:
        """The pictures there are."""
        return self._reader(farm)

    def page(self, told: list[Drawn]) -> Page:
        """The figures of the one shown."""
        return told[self.at % len(told)].page if told else Page((), [], NOTHING)

    def show(self, told: list[Drawn]) -> None:
        """Draw the one shown, its figures under it."""
        super().show(told)
        self.draw()

    def draw(self) -> None:
        """Draw in the room there is."""
        board = self.query_one("#drawing", Drawing)
        told: list[Drawn] = self.told or []
        width, height = board.size.width - 2, board.size.height
        if not told or width < 1:
            board.update("")
            return
        one = told[self.at % len(told)]
        more = (
            f"   {self.at % len(told) + 1} of {len(told)}: left and right" if len(told) > 1 else ""
        )
        text = Text(f" {safe(one.title)}{more}\n", style=tone_style(board, "strong"), end="")
        for line in one.draw(width, height - 1):
            text.append(" ")
            for said, tone in line:
                text.append(said, style=tone_style(board, tone))
            text.append("\n")
        board.update(text)

    def on_resize(self) -> None:
        """Another room, another picture."""
        self.call_after_refresh(self.draw)

    def action_turn(self, by: int) -> None:
        """The next or the last picture."""
        self.at += by
        if self.told:
            self.show(self.told)

    def opened(self, row: Row) -> None:
        """The animal of a line, where it has one."""
        if row.animal:
            self.home.open_record(row.animal)
