"""Rounds, the home: the work of this chore in the order of the walk, done with few keys."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import DueLine
from herdsync.kinds import CATALOGUE
from tui import put_off, words
from tui.drafts import Draft
from tui.everywhere import write_down
from tui.pages import counts, rounds
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings
from tui.places.walk import Walk

if TYPE_CHECKING:
    from herdsync.farm import Farm


class RoundsPlace(Place):
    """Due work, line by line."""

    place = "rounds"
    foot = ("done", "select", "select-pen", "skip", "postpone", "record", "walk", "find", "undo")
    BINDINGS = bindings("rounds")
    every = False
    by_walk = True

    def read(self, farm: Farm) -> rounds.Rounds:
        """Due work and who it is for."""
        return rounds.read(farm, every=self.every)

    def page(self, told: rounds.Rounds) -> Page:
        """Lines by pen or by what presses."""
        return rounds.page(told, self.home.now(), by_walk=self.by_walk)

    def work(self) -> list[DueLine]:
        """The pieces of work a deed is for."""
        keys = {row.key for row in self.lines.selected}
        return [line for line in self.told.due if line.id in keys] if self.told else []

    def do_select_pen(self) -> None:
        """Select the same work in the whole pen; asked again, all work of that pen."""
        row = self.lines.current
        if row is None:
            return
        due = {line.id for line in self.told.due if line.pen == row.pen} if self.told else set()
        pen = {one.key for one in self.lines.rows if one.key in due}
        same = {one.key for one in self.lines.rows if one.key in pen and one.record == row.record}
        if same <= self.lines.chosen and not pen <= self.lines.chosen:
            self.lines.choose(pen - self.lines.chosen)
        else:
            self.lines.choose(pen if pen <= self.lines.chosen else same)
        self.say(
            f"{words.count(len(self.lines.chosen), 'line')} selected; a again for more.", "dim"
        )

    def do_done(self) -> None:
        """Write down the selected work: at once where nothing is to be asked, else in a form."""
        work, row = self.work(), self.lines.current
        if work:
            self.home.do_work(self, work)
        elif row is not None and row.key.startswith(counts.KEY):
            again = Draft(CATALOGUE["counted-heads"], {"pen": row.pen}, [], "", f"Count {row.pen}")
            self.start(partial(write_down, self, again))

    def do_skip(self) -> None:
        """Leave the selected work undone, with a reason."""
        if self.work():
            self.home.ask(self, put_off.skipping(self.work()))

    def do_postpone(self) -> None:
        """Put the selected work off until a day, with a reason."""
        if self.work():
            self.home.ask(self, put_off.postponing(self.work()))

    def do_every(self) -> None:
        """Show what lies ahead too, or hide it again."""
        self.every = not self.every
        self.reload()
        self.say("All work, also what lies ahead." if self.every else "Only what is due.", "dim")

    def do_order(self) -> None:
        """Order by the walk or by what presses."""
        self.by_walk = not self.by_walk
        if self.told is not None:
            self.show(self.told)
            self.lines.action_end(-1)
        said = "the walk through the pens" if self.by_walk else "what presses most"
        self.say(f"In the order of {said}.", "dim")

    def do_walk(self) -> None:
        """Go through the pen under the cursor, animal by animal."""
        row = self.lines.current
        if row is not None and self.told is not None:
            work = [line for line in self.told.due if line.pen == row.pen]
            self.app.push_screen(Walk(row.pen, work, self.told.herd))

    def opened(self, row: Row) -> None:
        """The animal the work is for; the count that does not agree."""
        if row.animal or row.key.startswith(counts.KEY):
            self.home.open_record(row.animal or row.record)
