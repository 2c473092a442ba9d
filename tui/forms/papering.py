"""The form that prints papers for animals: sale sheet, registry, vet. What stands in the way is told."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tui import words
from tui.drafts import Whom
from tui.forms.asking import Asked, Asking
from tui.forms.telling import Telling

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.places.place import Place

SORTS: dict[str, str] = {
    "sale": "all an animal needs to be sold",
    "sale-sheet": "the sheet that goes with it",
    "transfer": "worksheet for the registry's transfer",
    "service-memo": "memorandum of a doe's service",
    "kid-registration": "application to register a kid",
    "history": "one page for the veterinarian",
}
BEFORE_IT_GOES = (
    "Read the tattoo on the animal, not in the record. Tell whoever takes it of every hold on milk or "
    "meat that still runs. What may not be handed over is printed, marked as such, and not signed. Marks, "
    "papers and movement are bound by law in most places."
)
HINTS = {
    "paper": "; ".join(f"{sort}: {says}" for sort, says in SORTS.items()),
    "buyer": "Who takes it; blank leaves a line to write on.",
    "seller": "Who sells; blank is this laptop's keeper.",
    "folder": "A folder for the files; it is made where it is not there. Nothing there is replaced.",
    "pdf": "Pages to print, beside the plain text: yes or no.",
}
TEXT_SHOWN = 40


class Papering(Asking):
    """Prints, then keeps what came of it in ``printed``: files, and what stands in the way."""

    def __init__(self, animals: Sequence[Whom], folder: str) -> None:
        self.printed: list[str] = []
        names = ", ".join(name for _, name in animals)
        questions = (
            ("paper", "Paper", "sale"), ("buyer", "Buyer", ""), ("seller", "Seller", ""),
            ("folder", "Write it to", folder), ("pdf", "As pages (PDF)", "yes"),
        )  # fmt: skip

        def write(farm: Farm, told: Asked) -> str:
            lines = farm.papers(
                told["paper"] or "sale", [id for id, _ in animals], seller=told["seller"],
                buyer=told["buyer"], out=Path(told["folder"] or ".").expanduser(),
                pdf=not told["pdf"].casefold().startswith("n"),
            )  # fmt: skip
            self.printed = []
            for one in lines:
                fit = "✓ may be handed over" if one.fit else "▲ may NOT be handed over yet"
                self.printed += [f"{one.title}: {fit}"]
                self.printed += [f"   in the way: {said}" for said in one.blocks]
                self.printed += [f"   look: {said}" for said in one.marks]
                self.printed += [f"   {file}" for file in one.files]
            held_back = sum(not one.fit for one in lines)
            said = f"{words.count(len(lines), 'paper')} written to {told['folder'] or '.'}."
            return said + (f" Not to be handed over yet: {held_back}." if held_back else "")

        super().__init__(
            f"Papers for {names}", questions, write, caution=BEFORE_IT_GOES, word="Write them",
            hints=HINTS, choices={"paper": tuple(SORTS), "pdf": ("yes", "no")},
        )  # fmt: skip


async def print_papers(place: Place, animals: Sequence[Whom]) -> None:
    """Ask which papers, write them, then tell what each came to."""
    if not animals:
        place.say("Put the cursor on an animal first, or select several with s.", "late")
        return
    form = Papering(animals, f"papers-{place.home.now():%Y-%m-%d-%H%M}")
    said = await place.home.push_screen_wait(form)
    if said is not None:
        await place.home.push_screen_wait(Telling("Papers", "\n".join(form.printed), word="Seen"))
        place.say(said)
