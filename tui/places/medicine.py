"""Medicine: what is held, what runs, what is to be given, what is on the shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.forms.asking import Asked, Asking
from tui.pages import boards, medicine
from tui.pages.page import Page
from tui.places.boards import BoardPlace
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm

NEVER_PRESCRIBED = (
    "This only multiplies what you type. Rate and strength come from the label or your "
    "veterinarian's written instruction, never from here."
)


class MedicinePlace(Place):
    """Holds, clocks, doses, products."""

    place = "medicine"
    foot = ("give", "record", "dose", "clocks", "look", "open", "undo")
    BINDINGS = bindings("medicine")

    def read(self, farm: Farm) -> medicine.Medicine:
        """Holds, clocks, doses, products."""
        return medicine.read(farm)

    def page(self, told: medicine.Medicine) -> Page:
        """One page of all of them."""
        return medicine.page(told, self.home.now())

    def do_eggs(self) -> None:
        """Worm scores and counts."""
        self.app.push_screen(BoardPlace(boards.worms))

    def do_screening(self) -> None:
        """Disease tests."""
        self.app.push_screen(BoardPlace(boards.tests))

    def do_dose(self) -> None:
        """Work a volume out from typed figures; nothing is written and nothing prescribed."""

        def volume(farm: Farm, told: Asked) -> str:
            found = farm.dose(
                told["animal"], told["rate"], told["strength"], step=told["step"],
                weight=told["weight"],
            )  # fmt: skip
            said = (
                f"{found.volume_ml:g} mL for {found.weight_kg:g} kg, on the syringe "
                f"{found.rounded_ml:g} mL, {found.sites} site{'s' if found.sites != 1 else ''}."
            )
            return " ".join([said, *found.warnings])

        animals = self.animals()
        questions = (
            ("animal", "Animal", animals[0][1] if animals else ""),
            ("rate", "Rate, mg per kg", ""),
            ("strength", "Strength, mg per mL", ""),
            ("step", "Syringe marks, mL", ""),
            ("weight", "Weight, if not the last", ""),
        )
        form = Asking(
            "Volume from your own figures",
            questions,
            volume,
            caution=NEVER_PRESCRIBED,
            word="Work it out",
        )
        self.home.ask(self, form)
