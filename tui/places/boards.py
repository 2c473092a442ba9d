"""Boards of the trade, each a list over what is known of a line; reached from the place they belong to."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tui.pages.page import Page
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class BoardPlace(Place):
    """One board, read when it is opened and whenever the farm changes."""

    place = "herd"
    about = "A board: line by line what is known; enter opens the animal."
    foot = ("back", "open", "record", "look", "find", "undo")
    BINDINGS = bindings("herd")

    def __init__(self, reader: Callable[[Farm], Page]) -> None:
        super().__init__()
        self._reader = reader

    def read(self, farm: Farm) -> Page:
        """The board."""
        return self._reader(farm)

    def page(self, told: Page) -> Page:
        """As read."""
        return told
