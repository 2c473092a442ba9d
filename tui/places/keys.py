"""The help: the keys of a place from the one table of deeds, and what the marks mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from herdsync.deeds import PLACES, Deed
from tui import words
from tui.keymap import Keymap, way_to
from tui.pages.page import Cell, Column, Page, Row, heading
from tui.text import content
from tui.widgets.frame import key_name
from tui.widgets.lines import Lines

COLUMNS = (Column("", 8), Column("", 10), Column("", 30, grow=1))
STATE_HELP = {
    "closing": "the window closes within days: do it first",
    "late": "past its day, still to be done",
    "due": "to be done now",
    "unknown": "an entry this program cannot read bears on it: look yourself",
    "open": "may be done now, its best day is ahead",
    "barred": "a hold stands in the way",
    "put-off": "put off until a day, with a reason",
    "missed": "its window is over",
    "ahead": "not yet",
}
TAG_HELP = {
    "■MILK": "her milk may not be sold",
    "■MEAT": "not for slaughter",
    "■BREED": "not to be bred",
    "■STAY": "not to leave",
    "?": "what was written does not agree (6)",
    "! ": "there is a caution: the form shows it first",
}


def help_page(offered: Sequence[Deed], moved: Keymap) -> Page:
    """Keys of a place, ways to other places, marks."""
    rows = [heading("here", "Keys here")]
    for deed in offered:
        keys = " ".join(key_name(key) for key in deed.keys)
        keys = "1 to 9" if deed.id == "number" else keys
        cells = (Cell(keys, "accent"), Cell(deed.word, "strong"), Cell(deed.help))
        rows.append(Row(f"deed {deed.id}", cells))
    rows.append(heading("places", "Places"))
    for one in PLACES:
        key = key_name(way_to(one, moved))
        cells = (Cell(key, "accent"), Cell(one.word, "strong"), Cell(one.help))
        rows.append(Row(f"place {one.id}", cells))
    rows.append(heading("marks", "Marks"))
    for state, (mark, _) in words.STATES.items():
        cells = (Cell(mark, state), Cell(state, state), Cell(STATE_HELP[state]))
        rows.append(Row(f"state {state}", cells))
    rows += [
        Row(f"tag {tag}", (Cell(tag, "held" if "■" in tag else "late"), Cell(""), Cell(said)))
        for tag, said in TAG_HELP.items()
    ]
    return Page(COLUMNS, rows, "")


class KeysPage(ModalScreen[None]):
    """The help of one place; any way out closes it. ``about``: what is shown, where it is no place."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,h,q,question_mark,f1", "leave", show=False)
    ]

    def __init__(self, place: str, offered: Sequence[Deed], moved: Keymap, about: str = "") -> None:
        super().__init__()
        self._moved = moved
        self._offered = offered
        self._place = place
        self._about = about

    def compose(self) -> ComposeResult:
        """What the place is for, over its keys."""
        place = next((one for one in PLACES if one.id == self._place), None)
        said = f"{place.word}: {place.help}" if place is not None else "One animal, whole."
        said = self._about or said
        with Vertical(id="help"):
            yield Static(content(said), id="title")
            yield Lines(id="keylines")
            yield Static("", id="wholly")
            yield Static(content("esc closes   ctrl+p: every deed by name"), id="keys")

    def on_mount(self) -> None:
        """Fill it."""
        lines = self.query_one(Lines)
        lines.fill(help_page(self._offered, self._moved))
        lines.focus()

    def on_lines_moved(self, event: Lines.Moved) -> None:
        """The line under the cursor, whole."""
        said = event.row.cells[-1].text if event.row is not None else ""
        self.query_one("#wholly", Static).update(content(said), layout=False)

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)
