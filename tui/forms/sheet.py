"""A form: caution on top, lines to fill in, one thing to press. What is refused is said, not lost.

A form writes through the farmhand itself, so that a refusal leaves everything typed in place.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.message import Message
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Static

from tui.farmhand import Trouble
from tui.forms.entry import Entry, Typing
from tui.forms.reading import AtTheDesk, line_refused
from tui.text import content
from tui.working import work_on

if TYPE_CHECKING:
    from tui.app import Dashboard

HERE_AGAIN = "What you had typed is here again."


class Press(Static, can_focus=True):
    """Something to press with enter; it shows where it stands by a mark, not by colour alone."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "press", show=False),
        Binding("up,shift+tab", "app.focus_previous", show=False),
        Binding("down,tab", "app.focus_next", show=False),
    ]

    class Pressed(Message):
        """It was pressed."""

        def __init__(self, press: Press) -> None:
            super().__init__()
            self.press = press

    def __init__(self, said: str, *, id: str) -> None:
        super().__init__(content(f"  {said}"), id=id)
        self.said = said

    def action_press(self) -> None:
        """Press it."""
        self.post_message(self.Pressed(self))

    def on_click(self) -> None:
        """A click presses it too."""
        self.action_press()

    def on_focus(self) -> None:
        """Show the mark."""
        self.update(content(f"▸ {self.said}  (enter)"))

    def on_blur(self) -> None:
        """Take the mark away."""
        self.update(content(f"  {self.said}"))


class Sheet(ModalScreen[str | None]):
    """A form over the place it was called from; answers what to say, None where it was left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", show=False),
        Binding("ctrl+s,f2", "write", show=False),
    ]
    ready = False  # whether keys find their line: until then they wait
    title_text = ""
    about = ""
    caution = ""
    write_word = "Write it down"
    keeps = False  # whether what was typed waits for the keeper where the form is left
    left = False
    keys = "enter: next line   ctrl+s: write   esc: leave, nothing is written"

    def __init__(self) -> None:
        super().__init__()
        self._writing = False

    def compose(self) -> ComposeResult:
        """Title, caution, lines, what to press, what may be typed, what went wrong."""
        with VerticalScroll(id="sheet"):
            yield Static(content(self.title_text), id="title")
            yield Static(content(self.about), id="about")
            if self.caution:
                yield Static(content(f"! Caution\n{self.caution}"), id="caution")
                yield Press("I have read this", id="read")
            yield from self.lines()
            yield Press(self.write_word, id="write")
            yield Static("", id="wrong")
        yield Static("", id="hint")
        yield Static(content(self.keys), id="keys")

    def lines(self) -> Iterable[Widget]:
        """The lines of the form."""
        return ()

    async def write(self) -> str:
        """Write it down; answers what to say. Raises Trouble."""
        raise AssertionError("a form writes something")

    @property
    def home(self) -> Dashboard:
        """The app."""
        return cast("Dashboard", self.app)

    @property
    def entries(self) -> list[Entry]:
        """All lines to type on, top to bottom."""
        return list(self.query(Entry))

    def on_mount(self) -> None:
        """Begin with the caution, else where the keeper has to type first."""
        if self.caution:
            self.query_one("#read").focus()
        else:
            self.begin()
        self._refill()
        self.app.call_later(self.now_ready)

    def _refill(self) -> None:
        """What was typed when this form was left stands there again."""
        told = self.home.drawer.take(self._kept_as) if self.keeps else {}
        for entry in self.entries:
            if entry.field in told:
                entry.typing.value = told[entry.field]
                entry.display = True
        if told:
            self.query_one("#about", Static).update(content(f"{self.about}  {HERE_AGAIN}".strip()))

    @property
    def _kept_as(self) -> str:
        return f"{type(self).__name__} {self.title_text}"

    def now_ready(self) -> None:
        """The cursor is where it belongs: keys typed ahead may come."""
        self.ready = True
        self.home.typed_ahead.give()

    def begin(self) -> None:
        """The first line there is, else what is to be pressed."""
        entries = [entry for entry in self.entries if entry.display]
        self.go_to(next(iter(entries), None))

    def go_to(self, entry: Entry | None) -> None:
        """The cursor on a line; without one on what is to be pressed."""
        (entry.typing if entry is not None else self.query_one("#write")).focus()

    def past_caution(self) -> None:
        """Where to go once the caution was read."""
        self.begin()

    def given(self) -> dict[str, str]:
        """What was typed, by field."""
        return {entry.field: entry.text for entry in self.entries if entry.text}

    def unread(self, warnings: Iterable[str]) -> list[str]:
        """What the keeper has not read on top of this form: said after it, it would hide the rest."""
        read = self.caution.split("\n")
        return [one for one in warnings if one not in read]

    def on_typing_gone(self, event: Typing.Gone) -> None:
        """From line to line; past the last one to what is to be pressed."""
        for entry in self.entries:
            if entry.typing.has_focus:
                entry.complete()
                entry.look(AtTheDesk(self.home.now(), self.home.zone))
        if event.by > 0:
            self.focus_next()
        else:
            self.focus_previous()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Say what may be typed on this line."""
        entry = event.widget.parent
        hint = entry.told() if isinstance(entry, Entry) else content("")
        # The lines for it are always there: nothing is laid out anew for it.
        self.query_one("#hint", Static).update(hint, layout=False)

    def on_press_pressed(self, event: Press.Pressed) -> None:
        """Caution read, or write."""
        if event.press.id == "read":
            self.past_caution()
        elif event.press.id == "write":
            self.action_write()

    def action_leave(self) -> None:
        """Leave; nothing is written, and what was typed waits in this form where it keeps."""
        if self.keeps:
            typed = {entry.field: entry.typing.value for entry in self.entries if entry.changed}
            self.home.drawer.keep(self._kept_as, typed)
            self.left = bool(typed)
        self.dismiss(None)

    def action_write(self) -> None:
        """Write once; a second press while writing does nothing."""
        if not self._writing:
            self._writing = True
            self.query_one("#wrong", Static).update(content("  writing..."))
            work_on(self, self._write, "writing", fatal=True)

    async def _write(self) -> None:
        try:
            said = await self.write()
        except Trouble as trouble:
            self.wrong(str(trouble))
        else:
            self.dismiss(said)
        finally:
            self._writing = False

    def wrong(self, said: str) -> None:
        """Say what was refused and how to mend it: under the line it is about, else under all."""
        wrong = self.query_one("#wrong", Static)
        line = self.line_of(said)
        if line is None:
            wrong.update(content(f"! {said}"))
            # Only once it is laid out is it known how many lines it takes.
            self.call_after_refresh(wrong.scroll_visible, animate=False)
            return
        wrong.update(content("! Nothing was written: mend the line marked so."))
        line.display = True
        line.amiss(said)
        line.typing.focus()
        line.scroll_visible()

    def line_of(self, said: str) -> Entry | None:
        """The line a refusal is about: one that cannot be read, else the one it names."""
        reading = AtTheDesk(self.home.now(), self.home.zone)
        amiss = [entry for entry in self.entries if entry.look(reading)]
        named = [entry for entry in self.entries if entry.field == line_refused(said)]
        return next(iter([*amiss, *named]), None)
