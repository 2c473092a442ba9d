"""Milk and medicine of the farm made of answers."""

from __future__ import annotations

from herdsync import answers, reports, sights
from tests.tui.fake_barn import Barn
from tests.tui.fake_lines import CAUTION, NOW, day, id_of

DRENCH = "Quillwort drench"


class Shelf(Barn):
    """What is milked and what stands on the shelf."""

    def milk_board(self, ref: str = "", days: int = 7) -> reports.MilkBoard:
        does = [
            reports.MilkLine(
                id_of(name), name, day(1 - days), day(0), 8, 10.5, 9.0, 1.5 if name == "Opal" else 0.0,
                True, 80, kept_kg=0.5, sold_while_held_kg=1.1 if name == "Coral" else 0.0,
            )
            for name in self.milked
        ]  # fmt: skip
        lactations = [
            reports.LactationLine(
                id_of(name), name, day(-80), day(0), True, 80, 3, 214.5, 7.5, 6.4, 3.5, 3.0, 80, 214.5,
                198.4, 205.2, 210_000, 4.1, [2.6, 3.2, 4.1], 91.5, "by the test interval method", [],
            )
            for name in self.milked[:1]
        ]  # fmt: skip
        return reports.MilkBoard(does, lactations, "Milk under a hold is not for sale.")

    @property
    def milked(self) -> list[str]:
        return [one.name for one in self.animals if one.name in ("Agate", "Opal", "Coral")]

    def milkings(self, days: int = 2) -> list[sights.Milking]:
        told = [
            ("Agate", day(-1), "evening", 1.2, True, False), ("Opal", day(-1), "evening", 1.1, False, True),
            ("Opal", day(0), "morning", 1.3, False, True), ("Coral", day(0), "morning", 1.1, True, True),
        ]  # fmt: skip
        return [
            sights.Milking(id_of(name), on, on, slot, kg, sold, held, f"rec-m{at}")
            for at, (name, on, slot, kg, sold, held) in enumerate(told)
            if name in self.milked
        ]

    def held(self, ref: str = "") -> list[reports.HeldAnimal]:
        return [
            reports.HeldAnimal(
                one.id, one.name, one.pen, self.holds(one.id), 6, f"{day(3)}T07:00:00+00:00", ["Onyx"],
                "The label and the veterinarian come first.",
            )
            for one in self.animals
            if one.holds and ref in ("", one.id)
        ]  # fmt: skip

    def medicine(self) -> reports.MedicineBoard:
        if not self.animals:
            return reports.MedicineBoard([], [], CAUTION)
        product = reports.MedicineLine(
            "rec-p", DRENCH, DRENCH, "wormer", "", "by-mouth", 50.0, 48.0, 2, 96.0, 14.0,
            "last-dose", "the label", day(40), False, ["L1"], 91.5, 17.0, "91.5 mL left (100 counted)",
            [], [],
        )  # fmt: skip
        old = reports.MedicineLine(
            "rec-o", "Fenstone vaccine", "Fenstone", "vaccine", "", "", None, None, None, None, None,
            "", "", day(-3), True, [], None, None, "what is left is not known", ["its milk withdrawal"],
            [f"Fenstone vaccine expired on {day(-3)}: do not use it."],
        )  # fmt: skip
        course = reports.CourseLine(
            id_of("Opal"), "Opal", "rec-p", DRENCH, "rec-c", 2, 2, NOW.isoformat(),
            f"{day(1)}T18:00:00+00:00", f"{day(1)}T12:00:00+00:00", f"{day(2)}T00:00:00+00:00", "ahead",
            ["rec-1"],
        )  # fmt: skip
        return reports.MedicineBoard([product, old], [course], CAUTION)

    def sickroom(self) -> sights.Sickroom:
        if not self.animals:
            return sights.Sickroom([], [], 14)
        fever = sights.FlagLine(
            id_of("Mica"), "Mica", "Doe barn", "temperature", day(-1), "temperature",
            "Mica: 40.8 C is a fever (over 40): take it again, call the vet.", "rec-t",
        )  # fmt: skip
        return sights.Sickroom(
            [fever], [sights.LastUse("rec-p", day(-1), id_of("Opal"), "Opal")], 14
        )

    def animal_line(self, ref: str) -> answers.HerdLine:
        return next(one for one in self.animals if ref in (one.id, one.name))

    def dose(
        self, animal: str, rate: str = "", strength: str = "", **more: str
    ) -> answers.DoseVolume:
        self.written.append(("dose?", animal, rate, strength, more))
        return answers.DoseVolume(
            57.5, 9, 5.75, 6.0, 4.3, 2, ["Weighed 9 days ago."], 3.0, "the label"
        )
