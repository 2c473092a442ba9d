"""The form that works a volume out from typed figures, and offers to write that dose down.

It prescribes nothing: rate and strength are the keeper's, from label or script.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.widget import Widget
from textual.widgets import Static

from herdsync.answers import DoseVolume, HerdLine
from tui import words
from tui.farmhand import Trouble
from tui.forms.entry import Entry
from tui.forms.recording import Names
from tui.forms.sheet import Press, Sheet
from tui.text import content

if TYPE_CHECKING:
    from herdsync.farm import Farm

NEVER_PRESCRIBED = (
    "This only multiplies what you type. Rate and strength come from the label or your veterinarian's "
    "written instruction, never from here. Weigh, do not guess; read the label again before you draw up."
)
LINES: tuple[tuple[str, str, str], ...] = (
    ("animal", "Animal", "Whom it is for: its newest weight counts."),
    ("product", "Product", "Takes rate and strength from its sheet; blank, you type both below."),
    ("rate", "Rate (mg per kg)", "As the label or the veterinarian wrote it."),
    ("strength", "Strength (mg per mL)", "As the label says."),
    ("weight", "Weight", "If not the newest on record: 54, or 120lb."),
    ("step", "Syringe marks (mL)", "The distance of two marks: 0.1, 0.5. Blank: by the syringe that fits."),
    ("ceiling", "Most (mg per kg)", "The prescriber's ceiling, where there is one."),
    ("sites", "Sites at least", "Where the prescriber wants it parted over several places."),
)  # fmt: skip


class Volume(Sheet):
    """Works out; the dose itself is written in its own form, with its own caution."""

    title_text = "Volume from your own figures"
    caution = NEVER_PRESCRIBED
    write_word = "Work it out"
    keys = "enter: next line   ctrl+s: work it out   esc: leave, nothing is written"

    def __init__(self, names: Names, animal: str = "", product: str = "") -> None:
        super().__init__()
        self._names = names
        self._first = {"animal": animal, "product": product}
        self.worked: DoseVolume | None = None
        self.whom: HerdLine | None = None

    def lines(self) -> Iterable[Widget]:
        """The figures, and room for what comes of them."""
        for name, label, hint in LINES:
            choices = self._names.get(name, ())
            first, needed = self._first.get(name, ""), name == "animal"
            yield Entry(name, label, value=first, hint=hint, choices=choices, needed=needed)
        yield Static("", id="worked")
        dose = Press("Write this dose down", id="dose")
        dose.display = False
        yield dose

    async def _write(self) -> None:
        told = {name: "" for name, _, _ in LINES} | self.given()

        def volume(farm: Farm) -> tuple[DoseVolume, HerdLine]:
            found = farm.dose(
                told["animal"], told["rate"], told["strength"], step=told["step"],
                weight=told["weight"], product=told["product"], ceiling=told["ceiling"],
                sites=told["sites"],
            )  # fmt: skip
            return found, farm.animal_line(told["animal"])

        try:
            self.worked, self.whom = await self.home.hand.ask(volume)
        except Trouble as trouble:
            self.wrong(str(trouble))
        else:
            self._show()
        finally:
            self._writing = False

    def _show(self) -> None:
        assert self.worked is not None and self.whom is not None, "worked out just now"
        self.query_one("#wrong", Static).update("")
        lines = worked_lines(self.worked, self.whom.name)
        self.query_one("#worked", Static).update(content("\n".join(lines)))
        dose = self.query_one("#dose", Press)
        dose.display = bool(self.given().get("product"))
        (dose if dose.display else self.query_one("#write")).focus()
        self.call_after_refresh(self.query_one("#sheet").scroll_end, animate=False)

    def on_press_pressed(self, event: Press.Pressed) -> None:
        """On to the form of the dose."""
        if event.press.id == "dose":
            self.dismiss("dose")

    @property
    def pairs(self) -> dict[str, str]:
        """The dose as it would be written down."""
        assert self.worked is not None, "nothing is offered before it was worked out"
        pairs = {"product": self.given()["product"], "amount_ml": f"{self.worked.rounded_ml:g}"}
        return pairs | ({"said_by": self.worked.said_by} if self.worked.said_by else {})


def worked_lines(found: DoseVolume, name: str) -> list[str]:
    """What came of it: the volume, on the syringe, in how many places, what to look at."""
    age = "as you typed it"
    if found.weight_age_days is not None:
        age = (
            f"weighed {words.span(found.weight_age_days)} ago"
            if found.weight_age_days
            else "weighed today"
        )
    lines = [
        f"{name}: {found.weight_kg:g} kg, {age}",
        f"  {found.volume_ml:g} mL worked out",
        f"▸ {found.rounded_ml:g} mL on the syringe ({found.change_percent:+.1f} %)",
    ]
    if found.sites > 1:
        each = f", {found.each_ml:g} mL each" if found.each_ml else ""
        lines.append(f"  in {found.sites} places{each}")
    if found.said_by:
        lines.append(f"  said by {found.said_by}")
    return [*lines, *(f"! {one}" for one in found.warnings)]
