"""Kidding: does in kid, meetings with males, kids and their windows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.forms.asking import Asked, Asking
from tui.pages import boards, drawn, kidding, kids
from tui.pages.page import Page
from tui.places.boards import BoardPlace
from tui.places.drawn import DrawnPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class KiddingPlace(Place):
    """Does and kids."""

    place = "kidding"
    foot = ("kid", "kids", "breed", "weigh", "record", "bucks", "match", "picture", "undo")
    BINDINGS = bindings("kidding")

    def read(self, farm: Farm) -> Page:
        """The page itself: what it is made of is not needed again."""
        return kidding.read(farm, self.home.now())

    def page(self, told: Page) -> Page:
        """As read."""
        return told

    def do_picture(self) -> None:
        """The kidding calendar."""
        self.app.push_screen(DrawnPlace(drawn.kiddings))

    def do_kids(self) -> None:
        """The windows of every kid; of the one under the cursor alone, where it is a kid."""
        row = self.lines.current
        only = row.animal if row is not None and row.key.startswith("kid ") else ""
        self.app.push_screen(BoardPlace(lambda farm: kids.read(farm, self.home.now(), only)))

    def do_bucks(self) -> None:
        """All bucks for the doe under the cursor."""
        animals = self.animals()
        if animals:
            self.app.push_screen(BoardPlace(lambda farm: boards.bucks(farm, animals[0][0])))

    def do_match(self) -> None:
        """What would follow from mating two animals; nothing is written."""

        def match(farm: Farm, told: Asked) -> str:
            mating = farm.match(told["doe"], told["buck"])
            window = " to ".join(mating.window)
            share = f"{mating.inbreeding * 100:.3g} %"
            said = f"Kids would be inbred {share}, due {mating.due} ({window})."
            return " ".join([said, *mating.warnings])

        animals = self.animals()
        questions = (("doe", "Doe", animals[0][1] if animals else ""), ("buck", "Buck", ""))
        at = "buck" if animals else "doe"
        form = Asking("If these two were mated", questions, match, word="Work it out", at=at)
        self.home.ask(self, form)
