"""What stands around every place: head with the places, strip of clocks, a spoken line, the foot."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from herdsync.answers import Timer
from herdsync.deeds import PLACES, Deed
from tui import words
from tui.bench import bench_of
from tui.pages.page import Fact
from tui.text import fit, safe
from tui.widgets.tones import tone_style

CLOCKS_SHOWN = 3
WHOLE_NAMES, SHORT_NAMES, SHORTEST_NAMES = 20, 4, 3
KEY_NAMES = {"escape": "esc", "question_mark": "?", "slash": "/", "space": "space"}


class Head(Widget):
    """Two lines: the farm and the time, and the places with their digits."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"head--here"}

    class Chosen(Message):
        """A place was clicked."""

        def __init__(self, place: str) -> None:
            super().__init__()
            self.place = place

    def __init__(self, here: str, ways: Mapping[str, str]) -> None:
        super().__init__()
        self.here = here
        self._ways = ways  # the key that goes to each place, as printed
        self._farm = self._who = ""
        self._conflicts = 0
        self._now: datetime | None = None

    def tell(self, farm: str, who: str, conflicts: int, now: datetime) -> None:
        """Show whose farm this is, who writes, how many conflicts are open, and the time."""
        told = (farm, who, conflicts, now.replace(second=0, microsecond=0))
        if told != (self._farm, self._who, self._conflicts, self._now):
            self._farm, self._who, self._conflicts, self._now = told
            self.refresh()

    def render(self) -> Text:
        """Both lines."""
        width = self.size.width
        now = self._now
        clock = f"{words.WEEKDAYS[now.weekday()]} {now:%d %b %H:%M}" if now else ""
        right = f"{safe(self._who)}  {clock} " if width >= 70 else f"{clock} "
        left = fit(" " + (self._farm or "herdsync"), max(0, width - cell_len(right)))
        text = Text(left, style=tone_style(self, "strong"), end="")
        text.append(right, style=tone_style(self, "dim"))
        text.append("\n")
        for place, told in self._places(width):
            style = tone_style(self, "dim")
            if place == self.here:
                style = self.get_component_rich_style("head--here", partial=True)
            elif place == "conflicts" and self._conflicts:
                style = tone_style(self, "late")
            text.append(told, style=style)
        return text

    def _places(self, width: int) -> list[tuple[str, str]]:
        """Each place and its word, cut until all fit."""
        for letters in (WHOLE_NAMES, SHORT_NAMES, SHORTEST_NAMES):
            found = self._named(width, letters)
            if sum(len(told) for _, told in found) <= width:
                break
        return found

    def _named(self, width: int, letters: int) -> list[tuple[str, str]]:
        found = []
        for place in PLACES:
            told = f"{self._ways[place.id]} {place.word[:letters]}"
            if place.id == "conflicts" and self._conflicts:
                told = f"{told} {self._conflicts}!"
            found.append((place.id, f" {told} " if width >= 90 else f" {told}"))
        return found

    def on_click(self, event: events.Click) -> None:
        """A click on a place goes there."""
        at = event.x
        if event.y != 1:
            return
        for place, told in self._places(self.size.width):
            if 0 <= at < len(told):
                self.post_message(self.Chosen(place))
                return
            at -= len(told)


class Clocks(Widget):
    """One line with the clocks that run out next; counts down by itself."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        super().__init__()
        self._now = now
        self._clocks: Sequence[Timer] = ()

    def on_mount(self) -> None:
        """Count once a second; the farm is not asked."""
        self.set_interval(1, self._tick)

    def _tick(self) -> None:
        if self.screen.is_active and bench_of(self.app).rings(self._now()):
            self.app.bell()
        self.refresh()

    def tell(self, timers: Sequence[Timer]) -> None:
        """Count these down, soonest first."""
        self._clocks = timers
        self.refresh()

    def render(self) -> Text:
        """The next clocks that fit."""
        now = self._now()
        bench = bench_of(self.app).strip(now)
        if not self._clocks and not bench:
            return Text(" No clock is running.", style=tone_style(self, "dim"), end="")
        text = Text(end="")
        for what, said, over in bench:
            text.append(f" ◷ {what} ", style=tone_style(self, "dim"))
            text.append(said, style=tone_style(self, "late" if over else "strong"))
            text.append(" ")
        for timer in self._clocks[:CLOCKS_SHOWN]:
            left = words.seconds_left(timer.ends, now)
            told = f" ◷ {safe(timer.name)} {safe(timer.what)} "
            said = words.countdown(left) + (" check date" if timer.doubtful else "")
            if cell_len(text.plain + told + said) > self.size.width - 1:
                break
            text.append(told, style=tone_style(self, "dim"))
            text.append(said, style=tone_style(self, "late" if left <= 0 else "strong"))
            text.append(" ")
        more = len(self._clocks) - CLOCKS_SHOWN
        if more > 0 and cell_len(text.plain) + 9 < self.size.width:
            text.append(f" +{more} F4", style=tone_style(self, "dim"))
        return text


class Aside(Static):
    """What is known of the line under the cursor: labels and sentences, wrapped."""

    _facts: Sequence[Fact] = ()
    _roomy = False

    def tell(self, facts: Sequence[Fact], *, roomy: bool) -> None:
        """Show these facts; ``roomy`` sets each label on a line of its own."""
        self._facts, self._roomy = facts, roomy
        self._draw()

    def on_resize(self) -> None:
        """Another room, other facts."""
        self._draw()

    def _draw(self) -> None:
        # Each fact takes a line at least: what cannot be seen is not laid out at every key.
        text = Text(end="")
        for fact in self._facts[: self.size.height]:
            said = "\n".join(safe(line) for line in fact.text.split("\n"))
            style = tone_style(self, fact.tone)
            if self._roomy:
                text.append(f"{fact.label}\n" if fact.label else "", style=tone_style(self, "dim"))
                text.append(
                    f"{said}\n\n" if fact.label and said else said and f"{said}\n", style=style
                )
            else:
                text.append(f"{fact.label}: " if fact.label else "", style=tone_style(self, "dim"))
                text.append(f"{said}\n", style=style)
        self.update(text, layout=False)


class Spoken(Static):
    """One line or a few that say what just happened or went wrong."""

    _said = ("", "good")

    @property
    def said(self) -> str:
        """What is being said."""
        return self._said[0]

    def tell(self, said: str, tone: str = "good") -> None:
        """Say it until the next thing is said; an empty sentence makes room again."""
        before, self._said = self._said, (said, tone)
        if not said and not before[0]:
            return  # every deed begins with silence: nothing is laid out anew for that
        self.set_class(bool(said), "-told")
        mark = {"late": "! ", "good": "✓ "}.get(tone, "")
        told = safe(said.replace("\n", " "))
        self.update(Text(f"{mark}{told}" if said else "", style=tone_style(self, tone), end=""))


class Foot(Widget):
    """The keys that matter here, as many as fit; the rest stand in the help."""

    def __init__(self, deeds: Sequence[Deed], last: Deed) -> None:
        super().__init__()
        self._deeds = deeds
        self._last = last

    def tell(self, deeds: Sequence[Deed]) -> None:
        """Show other keys from now on."""
        if deeds != self._deeds:
            self._deeds = deeds
            self.refresh()

    def render(self) -> Text:
        """Key and word, key and word."""
        last_key = f" {key_name(self._last.key)} "
        last = last_key + self._last.word
        text = Text(end="")
        for deed in self._deeds:
            key, word = key_name(deed.key), deed.word
            if cell_len(text.plain) + len(key) + len(word) + 3 > self.size.width - len(last):
                break
            text.append(f" {key} ", style=tone_style(self, "accent"))
            text.append(f"{word} ", style=tone_style(self, "dim"))
        text.append(last_key, style=tone_style(self, "accent"))
        text.append(self._last.word, style=tone_style(self, "dim"))
        return text


def key_name(key: str) -> str:
    """A key as it is printed."""
    return KEY_NAMES.get(key, key.upper() if key[:1] == "f" and key[1:].isdigit() else key)
