"""Clocks: every running timer, and timers for the bench, which are nobody's records."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.widgets import Static

from herdsync.answers import Timer
from herdsync.deeds import CLOCKS
from tui import words
from tui.bench import TOUCH_MOST_S, bench_of
from tui.pages import clocks
from tui.pages.page import Page
from tui.places.place import Place, bindings
from tui.text import content
from tui.widgets.lines import Lines

if TYPE_CHECKING:
    from herdsync.farm import Farm


class ClocksPlace(Place):
    """All clocks; ``i`` starts the iron, ``t`` counts the seconds of one touch."""

    about = "Clocks: every running clock, and timers for the bench."
    place, offering = "medicine", CLOCKS
    foot = ("back", "iron", "touch", "open", "give", "undo")
    BINDINGS = bindings(CLOCKS)

    def body(self) -> ComposeResult:
        """The list over the bench."""
        yield Lines(id="lines")
        yield Static("", id="bench")

    def on_mount(self) -> None:
        """Count every second."""
        super().on_mount()
        self.set_interval(1, self._count)
        self._count()

    def read(self, farm: Farm) -> list[Timer]:
        """All timers."""
        return farm.timers()

    def page(self, told: list[Timer]) -> Page:
        """A line a clock."""
        return clocks.page(told, self.home.now())

    def do_iron(self) -> None:
        """Start or stop the iron's heating time."""
        bench_of(self.home).turn_iron(self.home.now())
        self._count()

    def do_touch(self) -> None:
        """Start or stop counting one touch."""
        bench_of(self.home).turn_touch(self.home.now())
        self._count()

    def _count(self) -> None:
        now = self.home.now()
        if self.told is not None and self.is_current:
            self.show(self.told)
        told = f"{self._heating(now)}\n{self._touching(now)}"
        self.query_one("#bench", Static).update(content(told))

    def _heating(self, now: datetime) -> str:
        bench = bench_of(self.home)
        if bench.iron is None:
            return " i  iron heats: 10 minutes at least, then prove it on wood"
        left = bench.heating_s(now)
        if left > 0:
            return f" i  iron heats  {words.countdown(left)}   it rings on any place; i stops it"
        return " i  iron: its time is over. Prove it on wood before it meets a kid."

    def _touching(self, now: datetime) -> str:
        bench = bench_of(self.home)
        if bench.touch is None:
            return " t  one touch: counts seconds, rings at 10"
        gone = bench.touching_s(now)
        if gone >= TOUCH_MOST_S:
            return f" t  {gone} s  OFF NOW: let the head cool"
        return f" t  touching  {gone} s"
