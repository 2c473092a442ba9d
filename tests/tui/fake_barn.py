"""The animals and the work of the farm made of answers: herd, due work, clocks, kids, does in kid."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from herdsync import answers, reports, sights
from tests.tui.fake_lines import CAUTION, DOES, KIDS, NOW, claim, day, due_line, herd_line, id_of


class Barn:
    """What is looked at every morning; what is written is kept in ``written``."""

    def __init__(self, name: str = "Quillmoor Dairy") -> None:
        self.name = name
        self.keeper, self.device_name, self.read_only, self.prefix = "Oda", "house", "", "QMR"
        self.zone = ZoneInfo("UTC")
        self.written: list[tuple[Any, ...]] = []
        self.refuses = ""
        self.warned: list[str] = []
        self.fails = False
        self.lines = self._due()
        self.animals = self._animals()
        self.counts: list[sights.HeadsLine] = []

    def _due(self) -> list[answers.DueLine]:
        bench = {"caution": CAUTION, "state": "closing", "closes": day(1)}
        lines = [
            due_line("w0", "Doe barn", "Doe barn", "bedding", "chore-done", animal="",
                     preset={"item": "bedding"}, state="open"),
        ]  # fmt: skip
        lines += [
            due_line(f"w-{name}", name, "Doe barn", "hoof-trim", "hoof-trim", state="late",
                     closes=day(-2))
            for name in DOES
        ]  # fmt: skip
        lines.append(due_line("w1", "Onyx", "Kid pen", "disbudding", "disbudding", **bench))
        lines.append(due_line("w2", "Topaz", "Kid pen", "weaning", "weaning"))
        return lines

    def _animals(self) -> list[answers.HerdLine]:
        held = ["milk not for sale", "meat not for sale"]
        does = [
            herd_line(name, "doe", 900, "Doe barn", holds=held if name == "Opal" else [])
            for name in DOES
        ]
        return does + [herd_line(name, "buck", 6, "Kid pen", tattoo_left="") for name in KIDS]

    def moment(self) -> datetime:
        return NOW

    def changed(self) -> bool:
        return False

    def _check(self) -> None:
        if self.fails:
            raise ValueError("a projection broke")

    def due(self, *, every: bool = False, **_: Any) -> list[answers.DueLine]:
        self._check()
        return [line for line in self.lines if every or line.state != "ahead"]

    def herd(self, *, every: bool = False) -> list[answers.HerdLine]:
        return self.animals

    def timers(self) -> list[answers.Timer]:
        ends = [
            (2, "Opal", "milk clear"),
            (30, "Onyx", "recheck of disbudding"),
            (50, "Opal", "meat clear"),
        ]
        return [
            answers.Timer(
                id_of(name), name, what, day(-1), (NOW + timedelta(hours=hours)).isoformat(),
                hours * 3600, False, ["rec-1"],
            )
            for hours, name, what in ends
        ]  # fmt: skip

    def holds(self, ref: str) -> list[answers.Hold]:
        return self.show(ref).holds

    def heads(self, *, pen: str = "") -> list[sights.HeadsLine]:
        return [one for one in self.counts if pen in ("", one.pen)]

    def pens(self) -> list[str]:
        return ["Doe barn", "Kid pen"]

    def names(self, kind: str) -> list[str]:
        return {"animal": [*DOES, *KIDS], "pen": self.pens(), "product": ["Quillwort drench"]}.get(
            kind, []
        )

    def animal_lines(self, ids: Iterable[str]) -> list[answers.HerdLine]:
        wanted = set(ids)
        return [one for one in self.animals if one.id in wanted]

    def called(self, kind: str) -> dict[str, str]:
        assert kind == "animal"
        return {one.id: one.name for one in self.animals}

    def show(self, ref: str) -> answers.RecordAnswer:
        self._check()
        animal = next((one for one in self.animals if one.id == ref), None)
        if animal is None:
            told = {"hind_left": "nicked", "on": day(-1)}
            fields = {
                name: answers.FieldAnswer(
                    text, name == "hind_left", [claim("c", "Oda", "house", text)], text
                )
                for name, text in told.items()
            }
            return answers.RecordAnswer(ref, "hoof-trim", fields, True, "hoof trim of Agate", [ref])
        fields = {
            "name": answers.FieldAnswer(
                animal.name, False, [claim("n", "Oda", "house", animal.name)], animal.name
            ),
            "born": answers.FieldAnswer(
                animal.born, False, [claim("b", "Oda", "house", animal.born)], animal.born
            ),
        }
        holds = [
            answers.Hold(one, day(2), "dose of Quillwort drench", ["rec-1"]) for one in animal.holds
        ]
        acts = [answers.ActLine("rec-1", "hoof-trim", "hoof trim", day(-60), "hind left ok", True)]
        due = [line for line in self.lines if line.animal == ref]
        return answers.RecordAnswer(
            ref, "animal", fields, True, animal.name, [ref], animal, due, holds, [], acts
        )

    def find(self, text: str) -> list[answers.Found]:
        return [
            answers.Found(one.id, "animal", one.name, one.name)
            for one in self.animals
            if text.casefold() in one.name.casefold()
        ]

    def kids(self) -> list[reports.KidBoard]:
        task = reports.KidTask("disbudding", "Disbud", "closing", day(-2), day(1), reason="6 d old")
        return [
            reports.KidBoard(
                id_of(name), name, "buck", day(-6), 6, "Agate", [task], weight_kg=4.1,
                decision=["law: ask", "look: no pen without does"], caution="Warm a weak kid first.",
                sex_now="buck",
            )
            for name in KIDS
        ]  # fmt: skip

    def exposures(self) -> list[Any]:
        return [
            SimpleNamespace(
                doe=id_of("Marl"), doe_name="Marl", male_name="Flint", pen="Doe barn", days=3,
                sure=True, window=[day(140), day(150)], says="shared a pen 3 days", relationship=0.25,
            )
        ]  # fmt: skip

    def kidding(self) -> list[reports.KiddingLine]:
        if not self.animals:
            return []
        mated = {
            "sire": "Flint", "served": day(-134), "proof": "found bred", "heat_return": [], "check": [],
            "booster": [day(-19), day(-12)], "dry_off": day(-44), "watch_from": day(8),
            "in_milk": False, "sure": True, "says": "mated, found bred since", "records": ["rec-m"],
        }  # fmt: skip
        told: dict[str, Any] = dict(mated)
        return [
            reports.KiddingLine(
                doe=id_of("Mica"), name="Mica", pen="Doe barn", due=day(16),
                window=[day(11), day(21)], days_left=16, **told,
            )
        ]  # fmt: skip

    def kin(self, animal: answers.HerdLine) -> sights.Pedigree:
        ancestors = [
            sights.Ancestor("s", id_of("Flint"), "Flint", "S4", day(-1200)),
            sights.Ancestor("d", id_of("Agate"), "Agate", "P1", day(-900)),
            sights.Ancestor("dd", id_of("Opal"), "Opal", "N3", day(-1900), sure=False),
        ]
        told = ancestors if animal.name in KIDS else []
        return sights.Pedigree(told, 0.0625, 1, 1.25, [1.0, 0.25, 0.0, 0.0], "one generation", [])

    def sights(self, ref: str) -> sights.Sights:
        animal = next(one for one in self.animals if one.id == ref)
        weights = [
            sights.Point(day(-animal.age_days + at), at, kg)
            for at, kg in ((0, 3.5), (3, 3.9), (6, 4.6))
            if animal.age_days is not None
        ]
        mate = [sights.Point(day(-6), 0, 3.1), sights.Point(day(0), 6, 4.0)]
        young = animal.name in KIDS
        curves = [sights.Curve(animal.name, weights, animal.id)]
        curves += [sights.Curve(KIDS[1], mate, id_of(KIDS[1]))] if animal.name == KIDS[0] else []
        band = [sights.BandDay(at, 3.5 + at * 0.15, 3.5 + at * 0.227) for at in range(91)]
        milked = [
            sights.Point(day(at), 80 + at, 2.4 + at / 10, "" if at < -2 else "held")
            for at in range(-6, 1)
        ]
        return sights.Sights(
            animal.id, animal.name, animal.born,
            sights.Growth(curves, band if young else [], "183 g a day" if young else ""),
            None if young else sights.MilkCurve(
                day(-80), sights.Curve("milk of the day", milked, animal.id),
                sights.Curve("test day", [], animal.id), 4.4, f"day 0 is her kidding of {day(-80)}",
            ),
            [],
            self.kin(animal),
        )  # fmt: skip

    def marks(self, ref: str = "") -> reports.MarkBoard:
        lines = [
            reports.MarkLine(
                one.id, one.name, one.born, one.tattoo_right, one.tattoo_left, "", "9820001",
                "done", ["right", "left"], day(-30), ["left clear"],
                ["its right ear reads otherwise"] if one.name == "Mica" else [],
            )
            for one in self.animals
            if ref in ("", one.id)
        ]  # fmt: skip
        return reports.MarkBoard(None, lines)
