"""What nobody vouches for yet: a line an entry, to let it count after all or for nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from tui import words
from tui.forms.asking import Asked, Asking
from tui.pages import trail
from tui.pages.page import Page
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm

ENDS_HOLDS = (
    "What is set aside counts for nothing, safety included: a hold that rests on it ends. Make sure "
    "that no dose stands behind it. It stays in the trail."
)


class UnvouchedPlace(Place):
    """Entries that count for safety alone until a keeper judges them."""

    place = "partners"
    foot = ("back", "adopt", "set-aside", "open", "undo")
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("partners"),
        Binding("space", "deed('select')", show=False),
    ]

    def read(self, farm: Farm) -> trail.Trail:
        """What waits."""
        return trail.unvouched(farm)

    def page(self, told: trail.Trail) -> Page:
        """A line an entry."""
        page = trail.unvouched_page(told, self.home.now())
        if page.rows:
            self.say("space selects; a lets it count, z sets it aside with a reason.", "dim")
        return page

    def do_adopt(self) -> None:
        """Let the selected entries count after all."""
        self._judge("adopt")

    def do_set_aside(self) -> None:
        """Let the selected entries count for nothing."""
        self._judge("set-aside")

    def _judge(self, verb: str) -> None:
        entries = list(dict.fromkeys(row.key.split(" ")[0] for row in self.lines.selected))
        if not entries:
            return
        count = words.count(len(entries), "entry", "entries")

        def judge(farm: Farm, told: Asked) -> str:
            (farm.adopt if verb == "adopt" else farm.set_aside)(entries, told["because"])
            counts = "for nothing" if verb == "set-aside" else "from now on"
            return f"{count} {'counts' if len(entries) == 1 else 'count'} {counts}."

        title = f"Let {count} count" if verb == "adopt" else f"Set {count} aside"
        caution = ENDS_HOLDS if verb == "set-aside" else ""
        form = Asking(title, (("because", "Why", ""),), judge, caution=caution, word=title)
        self.home.ask(self, form)
