"""Accounts side by side: who said what, when, having seen what; one of them can be pointed at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from tui.text import fit, wrapped
from tui.widgets.tones import tone_style

LEAST_WIDTH = 24
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Account:
    """One account: its id, who gave it, and lines of what it says, each with its tone."""

    id: str
    who: str
    lines: tuple[tuple[str, str], ...]


class Accounts(Widget, can_focus=True):
    """A column an account. ``at`` is the one pointed at, -1 for none."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"accounts--here"}
    at: reactive[int] = reactive(-1)

    class Pointed(Message):
        """Another account is pointed at, or none."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._choice: list[tuple[str, str]] = []
        self.accounts: list[Account] = []
        self._above: list[tuple[str, str]] = []
        self._below: list[tuple[str, str]] = []
        self._laid: dict[int, list[Strip]] = {}  # by width, until something else is told

    def tell(
        self,
        above: Sequence[tuple[str, str]],
        accounts: Sequence[Account],
        below: Sequence[tuple[str, str]] = (),
    ) -> None:
        """Show sentences (with tones) above and below the accounts; nobody is pointed at yet."""
        same = [one.id for one in accounts] == [one.id for one in self.accounts]
        self._above, self.accounts, self._below = list(above), list(accounts), list(below)
        if not same:
            self._choice = []
            self.at = -1
        self._lay_out_anew()

    def tell_choice(self, told: Sequence[tuple[str, str]]) -> None:
        """Show sentences (with tones) on what the choice at hand would change."""
        self._choice = list(told)
        self._lay_out_anew()

    def watch_at(self) -> None:
        """What was said of another account holds no longer."""
        self._choice = []
        self._lay_out_anew()
        self.post_message(self.Pointed())

    def notify_style_update(self) -> None:
        """Another look: everything is laid out anew."""
        super().notify_style_update()
        self._laid.clear()

    def _lay_out_anew(self) -> None:
        # The whole screen is laid out anew only where this takes other room than before.
        self._laid.clear()
        self.refresh(layout=self._height(self.size.width) != self.size.height)

    @property
    def chosen(self) -> Account | None:
        """The account pointed at."""
        return self.accounts[self.at] if 0 <= self.at < len(self.accounts) else None

    def point(self, by: int) -> None:
        """Point at the next or the last account."""
        if self.accounts:
            start = self.at if self.at >= 0 else (-1 if by > 0 else len(self.accounts))
            self.at = max(0, min(len(self.accounts) - 1, start + by))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many lines as there are to say in that width."""
        del container, viewport
        return self._height(width)

    def _height(self, width: int) -> int:
        return max(1, len(self._laid_out(width)))

    def render(self) -> Text:
        """All of it, for whoever copies from the screen."""
        return Text("\n".join(line.text for line in self._laid_out(self.size.width)))

    def render_line(self, y: int) -> Strip:
        """One line of the screen."""
        laid = self._laid_out(self.size.width)
        return laid[y] if y < len(laid) else Strip.blank(self.size.width, self.rich_style)

    def _laid_out(self, width: int) -> list[Strip]:
        """Sentences, then the columns that fit, the one pointed at among them: line by line."""
        if width not in self._laid:
            columns = self._side_by_side(width) if self.accounts else []
            parts = (self._above, self._choice, self._below)
            above, choice, below = (self._sentences(one, width) for one in parts)
            base = self.rich_style
            self._laid[width] = [
                Strip(Segment.apply_style(line, base)).adjust_cell_length(width, base)
                for line in (*above, *columns, *choice, *below)
            ]
        return self._laid[width]

    def _sentences(self, said: Sequence[tuple[str, str]], width: int) -> list[list[Segment]]:
        return [
            [Segment(f" {line}", tone_style(self, tone))]
            for text, tone in said
            for line in wrapped(text, width - 1)
        ]

    def _side_by_side(self, width: int) -> list[list[Segment]]:
        fitting = max(1, min(len(self.accounts), width // LEAST_WIDTH))
        first = max(0, min(self.at - fitting + 1, len(self.accounts) - fitting))
        each = width // fitting - 1
        blocks = [self._block(place, each) for place in range(first, first + fitting)]
        lines = []
        for row in range(max(len(block) for block in blocks)):
            line = []
            for block in blocks:
                told, tone = block[row] if row < len(block) else ("", "plain")
                style = tone_style(self, tone) if tone != "here" else self._here()
                line += [Segment(fit(told, each), style), Segment(" ")]
            lines.append(line)
        hidden = len(self.accounts) - fitting
        if hidden:
            more = f" {hidden} more: left and right"
            lines.append([Segment(more, tone_style(self, "dim"))])
        return lines

    def _here(self) -> Style:
        return self.get_component_rich_style("accounts--here", partial=True)

    def _block(self, place: int, width: int) -> list[tuple[str, str]]:
        account = self.accounts[place]
        here = place == self.at
        letter = LETTERS[place] if place < len(LETTERS) else str(place)
        head = f"{'▸' if here else ' '} {letter}  {account.who}"
        block = [(line, "here" if here else "strong") for line in wrapped(head, width)[:2]]
        for said, tone in account.lines:
            block += [(f"  {line}", tone) for line in wrapped(said, width - 2)]
        return block
