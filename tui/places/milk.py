"""Milk: does in milk, held ones first and unmistakable."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.pages import drawn, milk
from tui.pages.page import Page
from tui.places.drawn import DrawnPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class MilkPlace(Place):
    """Milk of the last days; a milking of every selected doe is digits and enter."""

    place = "milk"
    foot = ("milk", "select", "select-pen", "give", "look", "record", "open", "undo")
    BINDINGS = bindings("milk")

    def read(self, farm: Farm) -> Page:
        """The page itself: what it is made of is not needed again."""
        return milk.read(farm, self.home.now())

    def page(self, told: Page) -> Page:
        """As read."""
        return told

    def do_picture(self) -> None:
        """The doe under the cursor, drawn."""
        animals = self.animals()
        if animals:
            self.app.push_screen(DrawnPlace(lambda farm: drawn.of_animal(farm, animals[0][0])))
