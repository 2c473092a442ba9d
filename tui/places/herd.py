"""Herd: all animals, pen by pen."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from tui.forms.papering import print_papers
from tui.pages import boards, drawn, herd
from tui.pages.page import Page
from tui.places.boards import BoardPlace
from tui.places.drawn import DrawnPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class HerdPlace(Place):
    """Every animal of the herd; enter opens its page."""

    place = "herd"
    foot = (
        "open",
        "select",
        "record",
        "weigh",
        "trim",
        "give",
        "move",
        "papers",
        "picture",
        "every",
    )
    BINDINGS = bindings("herd")
    every = False

    def read(self, farm: Farm) -> herd.Herd:
        """The herd."""
        return herd.read(farm, every=self.every)

    def page(self, told: herd.Herd) -> Page:
        """Animals pen by pen."""
        return herd.page(told, self.home.now())

    def do_picture(self) -> None:
        """Who stands where, drawn."""
        self.app.push_screen(DrawnPlace(drawn.pens))

    def do_marks(self) -> None:
        """The next mark, and the marks of all."""
        self.app.push_screen(BoardPlace(boards.marks))

    def do_papers(self) -> None:
        """Papers for the animals selected, to sell, register or show the vet."""
        self.start(partial(print_papers, self, self.animals()))

    def do_every(self) -> None:
        """Show those that left, died or stand outside the herd too, or hide them again."""
        self.every = not self.every
        self.reload()
        self.say("All animals on record." if self.every else "The herd of today.", "dim")
