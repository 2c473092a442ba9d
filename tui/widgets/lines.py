"""A list of lines with a cursor and a selection: what every place shows its work in.

Draws itself from plain cells, so farm text is never read as markup; knows no farm.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import ClassVar, NamedTuple

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.cache import LRUCache
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from tui.pages.page import Cell, Column, Page, Row
from tui.text import fit, safe, wrapped
from tui.widgets.tones import tone_style

GUTTER = 2  # cursor mark and selection mark: both must show where there is no colour
EMPTY_GUTTER = 2
# A key or two at the beginning of a line, as in "2 e  take many at once".
KEY_BEFORE = re.compile(r"(\S( \S)?  )? *")
READING = "Reading the farm..."
CURSOR_MARK, CHOSEN_MARK = "▸", "✓"
DRAWN_MOST = 400
TITLES = -1  # the place of the row of titles, over all lines


class _Look(NamedTuple):
    """All that the look of a line rests on beside the page and the theme."""

    place: int
    width: int
    here: bool
    lit: bool
    chosen: bool


class Lines(ScrollView, can_focus=True):
    """Lines of cells under a row of headings; headings among the lines are stepped over."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"lines--title", "lines--cursor"}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("pageup", "leap(-1)", show=False),
        Binding("pagedown", "leap(1)", show=False),
        Binding("home", "end(-1)", show=False),
        Binding("end", "end(1)", show=False),
        Binding("enter", "open", show=False),
    ]

    class Moved(Message):
        """The cursor stands on another line, or on none."""

        def __init__(self, row: Row | None) -> None:
            super().__init__()
            self.row = row

    class Opened(Message):
        """The keeper wants to see what is on a line."""

        def __init__(self, row: Row) -> None:
            super().__init__()
            self.row = row

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.rows: list[Row] = []
        self.columns: tuple[Column, ...] = ()
        self.chosen: set[str] = set()
        self._cursor = 0
        self._empty = READING
        # So that scrolling draws no line anew.
        self._drawn: LRUCache[_Look, Strip] = LRUCache(DRAWN_MOST)

    @property
    def current(self) -> Row | None:
        """The line under the cursor."""
        if 0 <= self._cursor < len(self.rows) and not self.rows[self._cursor].heading:
            return self.rows[self._cursor]
        return None

    @property
    def selected(self) -> list[Row]:
        """The selected lines in order; without any, the one under the cursor."""
        found = [row for row in self.rows if row.key in self.chosen]
        current = self.current
        return found or ([current] if current is not None else [])

    def fill(self, page: Page) -> None:
        """Show a page; cursor and selection stay on the lines they were on where these are left."""
        before = self.current
        self.columns, self.rows, self._empty = page.columns, page.rows, page.empty
        self._drawn.clear()
        self.chosen &= {row.key for row in self.rows}
        keys = {row.key: place for place, row in enumerate(self.rows)}
        place = keys.get(before.key, self._cursor) if before is not None else self._cursor
        self._cursor = self._nearest(min(place, len(self.rows) - 1))
        self.virtual_size = Size(self.size.width, len(self.rows) + 1)
        self.refresh(layout=self.styles.is_auto_height)
        self._moved()

    def choose(self, keys: set[str]) -> None:
        """Select these lines, or drop them where all are selected already."""
        self.chosen = self.chosen - keys if keys <= self.chosen else self.chosen | keys
        self.refresh()

    def drop_choice(self) -> bool:
        """Drop the selection; whether there was one."""
        there = bool(self.chosen)
        self.chosen = set()
        self.refresh()
        return there

    def toggle(self) -> None:
        """Select or drop the line under the cursor and step on."""
        if self.current is not None:
            place = self._cursor
            self.chosen ^= {self.current.key}
            self.action_step(1)
            self._redraw(place)

    def point(self, key: str) -> None:
        """Put the cursor on the line of that key, where there is one."""
        for place, row in enumerate(self.rows):
            if row.key == key:
                self._go(place)

    def action_step(self, by: int) -> None:
        """Move the cursor by one line, over headings."""
        place = self._cursor + by
        while 0 <= place < len(self.rows) and self.rows[place].heading:
            place += by
        if 0 <= place < len(self.rows):
            self._go(place)
        elif by < 0:
            self.scroll_to(y=0, animate=False)
            self.refresh()

    def action_leap(self, by: int) -> None:
        """Move by a screenful."""
        step = max(1, self.size.height - 2)
        self._go(self._nearest(max(0, min(len(self.rows) - 1, self._cursor + by * step))))

    def action_end(self, by: int) -> None:
        """Go to the first or last line."""
        self._go(self._nearest(0 if by < 0 else len(self.rows) - 1))

    def action_open(self) -> None:
        """Open the line under the cursor."""
        if self.current is not None:
            self.post_message(self.Opened(self.current))

    def on_click(self, event: events.Click) -> None:
        """A click puts the cursor there; a second one opens."""
        place = event.y + self.scroll_offset.y - 1
        if event.y > 0 and 0 <= place < len(self.rows) and not self.rows[place].heading:
            if place == self._cursor:
                self.action_open()
            self._go(place)

    def on_resize(self) -> None:
        """Keep the cursor in sight."""
        self.virtual_size = Size(self.size.width, len(self.rows) + 1)
        self._show_cursor()

    def _nearest(self, place: int) -> int:
        """The line at ``place`` that is no heading, else the next one below, else above."""
        below = range(max(place, 0), len(self.rows))
        above = range(min(place, len(self.rows) - 1), -1, -1)
        one: int
        for one in (*below, *above):
            if not self.rows[one].heading:
                return one
        return 0

    def _go(self, place: int) -> None:
        before, top = self._cursor, self.scroll_offset.y
        self._cursor = place
        self._show_cursor()
        if self.scroll_offset.y == top:
            self._redraw(before, place)
        else:
            self.refresh()
        self.post_message(self.Moved(self.current))

    def _redraw(self, *places: int) -> None:
        """Draw these lines anew, and no other."""
        top = self.scroll_offset.y - 1
        self.refresh(*(Region(0, place - top, self.size.width, 1) for place in places))

    def _moved(self) -> None:
        self._show_cursor()
        self.refresh()
        self.post_message(self.Moved(self.current))

    def _show_cursor(self) -> None:
        # The first screen line is the row of titles, which does not scroll away.
        above = self._cursor
        while above > 0 and self.rows[above - 1].heading:
            above -= 1
        height = max(1, self.size.height - 1)
        top = self.scroll_offset.y
        if above < top:
            top = above
        elif self._cursor >= top + height:
            top = self._cursor - height + 1
        self.scroll_to(y=top, animate=False, immediate=True)

    def notify_style_update(self) -> None:
        """Another look: every line is drawn anew."""
        super().notify_style_update()
        self._drawn.clear()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """One line each under the headings, where a place gives the list no more room than it needs."""
        del container, viewport
        return 1 + (len(self.rows) or len(self._hints(width)))

    def _hints(self, width: int) -> list[str]:
        """What to do where there is no line, broken at words; what a key does stays beside its key."""
        found = []
        for line in self._empty.split("\n"):
            key = KEY_BEFORE.match(line)
            before = key[0] if key is not None else ""
            told = wrapped(line[len(before) :], width - EMPTY_GUTTER - len(before))
            found += [f"{before}{told[0]}", *(" " * len(before) + one for one in told[1:])]
        return found

    def render_line(self, y: int) -> Strip:
        """One line of the screen."""
        place = y - 1 + self.scroll_offset.y if y else TITLES
        if not self.rows:
            return self._nothing(y)
        if place >= len(self.rows):
            return Strip.blank(self.size.width, self.rich_style)
        here = place == self._cursor
        chosen = place != TITLES and self.rows[place].key in self.chosen
        look = _Look(place, self.size.width, here, here and self.has_focus, chosen)
        strip = self._drawn.get(look)
        if strip is None:
            strip = self._drawn[look] = self._draw(look)
        return strip

    def _nothing(self, y: int) -> Strip:
        told = self._hints(self.size.width)
        text = told[y - 1] if 0 < y <= len(told) else ""
        style = self.rich_style + tone_style(self, "dim")
        return Strip(
            [Segment(fit(" " * EMPTY_GUTTER + text, self.size.width), style)], self.size.width
        )

    def _draw(self, look: _Look) -> Strip:
        base = self.rich_style
        if look.place == TITLES:
            title = base + self.get_component_rich_style("lines--title", partial=True)
            cells = [Cell(column.heading) for column in self.columns]
            return self._cells(" " * GUTTER, cells, title, look.width)
        if look.lit:
            base += self.get_component_rich_style("lines--cursor", partial=True)
        row = self.rows[look.place]
        if row.heading:
            told = fit("  ".join(safe(cell.text) for cell in row.cells), look.width)
            return Strip([Segment(told, base + tone_style(self, "strong"))], look.width)
        marks = (CURSOR_MARK if look.here else " ") + (CHOSEN_MARK if look.chosen else " ")
        return self._cells(marks, row.cells, base, look.width)

    def _cells(self, marks: str, cells: Sequence[Cell], style: Style, width: int) -> Strip:
        """Marks, then every column with its cell, then a blank."""
        segments = [Segment(marks, style)]
        for at, room in self._widths(width):
            cell = cells[at] if at < len(cells) else Cell("")
            told = fit(cell.text, room, right=self.columns[at].right)
            segments += [Segment(told, style + tone_style(self, cell.tone)), Segment(" ", style)]
        return Strip(segments).adjust_cell_length(width, style)

    def _widths(self, width: int) -> list[tuple[int, int]]:
        """Which columns are shown, by place, and how many cells each has."""
        shown = [at for at, column in enumerate(self.columns) if column.room <= width]
        spare = width - GUTTER - sum(self.columns[at].width + 1 for at in shown)
        shares = sum(self.columns[at].grow for at in shown) or 1
        widths = []
        for at in shown:
            extra = max(0, spare) * self.columns[at].grow // shares
            widths.append((at, self.columns[at].width + extra))
        return widths
