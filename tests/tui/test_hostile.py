"""Names, notes and devices that try to drive the terminal, and farms that fail: no harm, one sentence."""

from __future__ import annotations

import pytest

from herdsync import answers, sights
from herdsync.faults import DamagedFarm, Refused
from tests.tui import fake_farm
from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import Stage, staged
from tui.text import fit, safe

HOSTILE = (
    "[/red][@click=app.quit]x[/] \x1b]0;t\x07 \x9b2J \u202eevil\u2066 \r\n[a=b]" + "\u0301" * 40
)


class HostileFarm(FakeFarm):
    """Every name of it is hostile."""

    def __init__(self) -> None:
        super().__init__(HOSTILE)
        self.keeper = self.device_name = HOSTILE
        self.lines = [
            answers.DueLine(
                "w", fake_farm.id_of("x"), HOSTILE, HOSTILE, HOSTILE, HOSTILE, "weaning", "late",
                "2026-03-01", "", "2026-03-02", "", HOSTILE, HOSTILE, [HOSTILE], "s", HOSTILE, HOSTILE,
            )
        ]  # fmt: skip
        self.animals = [
            fake_farm.herd_line(
                HOSTILE, HOSTILE, 90, HOSTILE, state=[HOSTILE], holds=["milk " + HOSTILE]
            )
        ]
        self.counts = [sights.HeadsLine("n", HOSTILE, HOSTILE, 1, 2, [HOSTILE], HOSTILE, HOSTILE)]
        one = fake_farm.claim("c1", HOSTILE, HOSTILE, HOSTILE, HOSTILE)
        self.disputes = [
            answers.ConflictLine(
                "c", "field", "rec-1", HOSTILE, [one, one], "", True, HOSTILE, HOSTILE, ["rec-1"],
                HOSTILE, "a", HOSTILE,
            )
        ]  # fmt: skip

    def pens(self) -> list[str]:
        return [HOSTILE]

    def names(self, kind: str) -> list[str]:
        return [HOSTILE]

    def timers(self) -> list[answers.Timer]:
        return [answers.Timer("a", HOSTILE, HOSTILE, "", "2026-03-15", 9, True, [])]

    def find(self, text: str) -> list[answers.Found]:
        return [answers.Found("rec-1", HOSTILE, HOSTILE, HOSTILE)]

    def show(self, ref: str) -> answers.RecordAnswer:
        field = answers.FieldAnswer(
            HOSTILE, True, [fake_farm.claim("c", HOSTILE, HOSTILE, HOSTILE)], HOSTILE
        )
        acts = [answers.ActLine("a", HOSTILE, HOSTILE, HOSTILE, HOSTILE, True)]
        return answers.RecordAnswer(
            ref, "animal", {HOSTILE: field, "name": field}, True, HOSTILE, [ref], self.animals[0],
            self.lines, [answers.Hold("milk", HOSTILE, HOSTILE, [])], self.timers(), acts,
        )  # fmt: skip

    def devices(self) -> list[answers.DeviceLine]:
        return [answers.DeviceLine(HOSTILE, HOSTILE, HOSTILE, True, False, 1, HOSTILE, HOSTILE)]

    def settings(self) -> list[answers.SettingLine]:
        return [answers.SettingLine(HOSTILE, HOSTILE, HOSTILE)]

    def plan(self) -> list[answers.PlanLine]:
        return [answers.PlanLine(HOSTILE, HOSTILE, HOSTILE, HOSTILE)]

    def trail_all(self, limit: int = 200) -> list[answers.TrailLine]:
        return [
            answers.TrailLine(
                "e", HOSTILE, HOSTILE, HOSTILE, HOSTILE, HOSTILE, HOSTILE, 1, HOSTILE, [HOSTILE],
                HOSTILE, HOSTILE, "bad", "r", HOSTILE,
            )
        ]  # fmt: skip


def harmless(stage: Stage) -> None:
    """Nothing on the screen can act on a terminal or turn its lines around."""
    for letter in stage.text.replace("\n", ""):
        assert letter >= " " and not "\x7f" <= letter <= "\x9f", repr(stage.text)
        assert letter not in "\u202e\u2066\u200f\u061c"


@pytest.mark.parametrize("size", [(80, 24), (160, 48)])
async def test_hostile_names_are_harmless_in_every_place(size: tuple[int, int]) -> None:
    async with staged(HostileFarm(), size) as stage:
        for key in "12345678":
            await stage.press(key)
            harmless(stage)
        assert stage.app.is_running


async def test_hostile_names_are_harmless_in_every_form_and_page() -> None:
    async with staged(HostileFarm()) as stage:
        for keys in (
            ("1", "d"), ("z",), ("l",), ("2", "w"), ("g", "enter"), ("p",), ("f", "x"), ("r",),
            ("6", "v"), ("7", "n"), ("8", "s"), ("l",), ("f3",), ("f4",), ("h",), ("ctrl+p",),
        ):  # fmt: skip
            await stage.press(*keys)
            harmless(stage)
            await stage.press("escape", "escape")
        await stage.press("1", "enter")
        harmless(stage)
        await stage.press("e")
        harmless(stage)


async def test_a_projection_that_fails_leaves_the_screen_and_a_way_on() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        farm.fails = True
        await stage.press("2")
        text = await stage.press("1")
        assert "could not be worked out (ValueError)" in text and "Traceback" not in text
        farm.fails = False
        assert "Agate" in await stage.press("2")


@pytest.mark.parametrize(
    "fault", [Refused("There is no farm here.", ""), DamagedFarm("Its bytes are wrong.", "")]
)
async def test_no_farm_or_a_damaged_one_opens_the_first_morning(fault: Exception) -> None:
    def opening() -> FakeFarm:
        raise fault

    async with staged(opening) as stage:
        text = stage.text
    damaged = isinstance(fault, DamagedFarm)
    assert ("Found a farm" in text) != damaged
    assert ("Its bytes are wrong." in text and "Fold it again" in text) == damaged


def test_text_is_cut_by_cells_not_letters() -> None:
    assert fit("\u5c71\u7f8a\u5c71\u7f8a", 5) == "\u5c71\u7f8a…"
    assert fit("abc", 5) == "abc  " and fit("abc", 5, right=True) == "  abc"
    assert "\x1b" not in safe(HOSTILE)
