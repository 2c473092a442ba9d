"""Walk: one pen, animal by animal, everything due for each in big lines, one key a deed.

For one hand: digits do the work under them, space goes on. It ends with a summary.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from herdsync.answers import DueLine, HerdLine
from herdsync.deeds import WALK
from tui import put_off, words
from tui.drafts import Draft
from tui.pages.page import Page
from tui.places.place import Place, bindings
from tui.text import safe, wrapped
from tui.widgets.tones import tone_style

if TYPE_CHECKING:
    from herdsync.farm import Farm

MOST_LINES = 9
INDENT = 17
SCROLLBAR = 3  # it may come when all is drawn, and must not break a line anew


class Board(Static):
    """One animal in big letters with its work."""

    about = "Walk: a pen animal by animal, with all that is due."


class Walk(Place):
    """One pen's animals in turn."""

    place, offering = "rounds", WALK
    foot = ("onward", "backward", "number", "skip", "record", "look", "undo", "back")
    BINDINGS: ClassVar[list[BindingType]] = [
        *(one for one in bindings(WALK) if one.id != f"{WALK}.number"),  # type: ignore[union-attr]
        *(Binding(str(n), f"line({n})", show=False) for n in range(1, MOST_LINES + 1)),
    ]

    def __init__(self, pen: str, work: list[DueLine], herd: dict[str, HerdLine]) -> None:
        super().__init__()
        self.pen = pen
        self.herd = herd
        self.work: dict[str, list[DueLine]] = {}
        for line in work:
            self.work.setdefault(line.animal or line.subject, []).append(line)
        self.at = 0
        self.finished: set[str] = set()

    def body(self) -> ComposeResult:
        """The board."""
        with VerticalScroll(id="walk", can_focus=False):
            yield Board(id="board")

    def read(self, farm: Farm) -> set[str]:
        """Ids of the work of the pen still due: what is done falls out."""
        return {line.id for line in farm.due(every=True)}

    def page(self, told: set[str]) -> Page:
        """A walk has no list."""
        return Page((), [], str(len(told)))

    def show(self, told: set[str]) -> None:
        """Tick off what is done and draw the animal."""
        every = [line for lines in self.work.values() for line in lines]
        self.finished = {line.id for line in every if line.id not in told}
        self.draw()

    @property
    def ids(self) -> list[str]:
        """The animals in turn; one step past the last is the summary."""
        return list(self.work)

    def here(self) -> list[DueLine]:
        """The work of the animal in front."""
        return self.work[self.ids[self.at]] if self.at < len(self.ids) else []

    def animals(self) -> list[tuple[str, str]]:
        """The animal in front."""
        lines = self.here()
        return [(lines[0].animal, lines[0].name)] if lines and lines[0].animal else []

    def selected(self) -> list[object]:  # type: ignore[override]
        """A walk selects nothing."""
        return []

    def on_resize(self) -> None:
        """Another room, other lines."""
        self.call_after_refresh(self.draw)

    def draw(self) -> None:
        """Draw the animal in front, or the summary."""
        board = self.query_one("#board", Board)
        board.update(self._summary(board) if self.at >= len(self.ids) else self._animal(board))

    def _animal(self, board: Board) -> Text:
        lines = self.here()
        animal = self.herd.get(lines[0].animal)
        text = Text(end="")
        place = f" {self.pen or 'No pen'}   {self.at + 1} of {len(self.ids)}\n\n"
        text.append(place, style=tone_style(board, "dim"))
        name = " ".join(safe(lines[0].name or self.pen).upper())
        text.append(f"   {name}\n", style=tone_style(board, "strong"))
        if animal is not None:
            said = f"   {words.mark_of(animal)}   {animal.sex_now}, {words.age(animal.age_days)}\n"
            text.append(safe(said.rstrip("\n")) + "\n", style=tone_style(board, "dim"))
            for hold in words.not_for_sale(animal.holds):
                text.append("   ")
                told = f" {words.hold_tags([hold])} {safe(hold)} "
                text.append(told, style=tone_style(board, "held"))
                text.append("\n")
        text.append("\n")
        for number, line in enumerate(lines[:MOST_LINES], 1):
            done = line.id in self.finished
            mark = "✓ done" if done else words.state_word(line.state)
            tone = "good" if done else line.state
            text.append(f"   {number}  ", style=tone_style(board, "accent"))
            text.append(f"{mark:<10} ", style=tone_style(board, tone))
            warn = "! " if line.caution and not done else ""
            _indented(text, warn + line.work, board, "strong")
            text.append(" " * INDENT)
            _indented(text, line.reason, board, "dim")
            text.append("\n")
        text.append(
            "   space goes on, left goes back, a digit does that work",
            style=tone_style(board, "dim"),
        )
        return text

    def _summary(self, board: Board) -> Text:
        every = [line for lines in self.work.values() for line in lines]
        left = [line for line in every if line.id not in self.finished]
        text = Text(f" {safe(self.pen or 'No pen')}: the walk is over\n\n", end="")
        text.stylize(tone_style(board, "strong"))
        text.append(f"   ✓ {len(self.finished)} done\n", style=tone_style(board, "good"))
        tone = "late" if left else "good"
        text.append(f"   {len(left)} left\n\n", style=tone_style(board, tone))
        for line in left:
            told = f"   {words.state_word(line.state)}  {line.name or line.pen}: {line.work}"
            text.append(safe(told) + "\n", style=tone_style(board, line.state))
        text.append("\n   left goes back, esc ends", style=tone_style(board, "dim"))
        return text

    def action_turn(self, by: int) -> None:
        """The next or the last animal."""
        self.at = max(0, min(len(self.ids), self.at + by))
        self.say("")
        self.draw()

    def action_line(self, number: int) -> None:
        """Do the work of that number."""
        lines = self.here()
        if number <= len(lines) and lines[number - 1].id not in self.finished:
            self.home.do_work(self, [lines[number - 1]])

    def done_with(self, draft: Draft) -> None:
        """Nothing was selected; what is done is ticked off when the farm was read again."""

    def do_done(self) -> None:
        """All that is left for the animal in front."""
        if self._left():
            self.home.do_work(self, self._left())

    def do_onward(self) -> None:
        """The next animal, or the summary."""
        self.action_turn(1)

    def do_backward(self) -> None:
        """The animal before."""
        self.action_turn(-1)

    def do_number(self) -> None:
        """Chosen from the palette: say how."""
        self.say("Press the number that stands before the work.", "dim")

    def do_skip(self) -> None:
        """Leave a piece of work of the animal in front undone."""
        self.start(partial(put_off.one_of, self, self._left(), put_off.skipping))

    def do_postpone(self) -> None:
        """Put a piece of work of the animal in front off."""
        self.start(partial(put_off.one_of, self, self._left(), put_off.postponing))

    def _left(self) -> list[DueLine]:
        return [line for line in self.here() if line.id not in self.finished]


def _indented(text: Text, said: str, board: Board, tone: str) -> None:
    """Words of several lines, the later ones under the first."""
    lines = wrapped(said, board.size.width - INDENT - SCROLLBAR)
    text.append(f"\n{' ' * INDENT}".join(lines) + "\n", style=tone_style(board, tone))
