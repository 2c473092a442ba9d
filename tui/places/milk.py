"""Milk: today's milkings, held does first and unmistakable; the lactations behind one key."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from herdsync.kinds import CATALOGUE
from tui.drafts import Draft
from tui.everywhere import write_down
from tui.pages import drawn, lactations, milk
from tui.pages.page import Page
from tui.places.boards import BoardPlace
from tui.places.drawn import DrawnPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class MilkPlace(Place):
    """Milk of today and the last days; a milking of every doe is digits and enter."""

    place = "milk"
    foot = ("milk", "select", "select-pen", "yields", "picture", "give", "look", "open", "undo")
    BINDINGS = bindings("milk")

    def read(self, farm: Farm) -> milk.Told:
        """What the page is made of."""
        return milk.gather(farm)

    def page(self, told: milk.Told) -> Page:
        """Held does first, then pen by pen."""
        return milk.page(told, self.home.now())

    def do_milk(self) -> None:
        """A milking of the does selected, else of all that are in milk, in the order of the walk."""
        told: milk.Told | None = self.told
        if told is None:
            return
        chosen = {row.animal for row in self.lines.selected} if self.lines.chosen else set()
        does = [whom for whom in milk.to_milk(told) if not chosen or whom[0] in chosen]
        if not does:
            self.home.do_everywhere(self, "milk")
            return
        sold = milk.sold_last(told)
        pairs = {"sold": sold} if sold else {}
        self.start(partial(write_down, self, Draft(CATALOGUE["milk"], pairs, does)))

    def do_yields(self) -> None:
        """The lactations, summed by their test days."""
        self.app.push_screen(BoardPlace(lactations.read))

    def do_picture(self) -> None:
        """The doe under the cursor, drawn."""
        animals = self.animals()
        if animals:
            doe = animals[0][0]
            self.app.push_screen(DrawnPlace(lambda farm: drawn.of_animal(farm, doe, drawn.MILK)))
