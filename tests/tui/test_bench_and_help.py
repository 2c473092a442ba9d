"""Timers of the bench and their bell, and the help: every key of a place, and none that does nothing."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests.tui.fake_farm import NOW, FakeFarm, StillWall, id_of
from tests.tui.stage import Stage, staged
from tui.bench import Bench, bench_of
from tui.pages.page import Row
from tui.widgets.frame import Clocks
from tui.widgets.lines import Lines


class TurningWall(StillWall):
    """A wall whose clock is turned by hand."""

    def __init__(self) -> None:
        self.moment = NOW

    def now(self) -> datetime:
        return self.moment


def rung(stage: Stage) -> list[int]:
    bells: list[int] = []
    stage.app.bell = lambda: bells.append(1)  # type: ignore[method-assign]
    return bells


async def test_the_iron_rings_once_on_any_place_and_a_touch_until_it_ends() -> None:
    wall = TurningWall()
    async with staged(FakeFarm(), wall=wall) as stage:
        bells = rung(stage)
        assert "iron heats  10:00" in await stage.press("f4", "i")
        text = await stage.press("escape", "2")
        assert "◷ iron 10:00" in text
        wall.moment += timedelta(minutes=10)
        strip = stage.app.screen.query_one(Clocks)
        for _ in range(3):
            strip._tick()
        assert len(bells) == 1
        assert "iron hot: prove it" in await stage.press("1")
        await stage.press("f4", "t")
        wall.moment += timedelta(seconds=10)
        stage.app.screen.query_one(Clocks)._tick()
        assert len(bells) == 2
        stage.app.screen._count()  # type: ignore[attr-defined]
        assert "10 s  OFF NOW" in await stage.press()
        await stage.press("t", "i")
    assert bench_of(stage.app) == Bench()


def test_a_touch_nobody_stopped_falls_silent() -> None:
    bench = Bench()
    bench.turn_touch(NOW)
    assert not bench.rings(NOW + timedelta(seconds=9))
    assert bench.rings(NOW + timedelta(seconds=10)) and bench.rings(NOW + timedelta(seconds=70))
    assert not bench.rings(NOW + timedelta(seconds=71))


@pytest.mark.parametrize(
    ("way", "told", "absent"),
    [
        (["f4"], {"Iron": "i", "Touch": "t"}, "Skip"),
        (["f3"], {"Onward": "right", "By number": "1 to 9", "Skip": "z"}, "Whole pen"),
        (["6"], {"Why": "w", "Amend": "e", "Retract": "x", "Note": "n"}, "Skip"),
        (["8", "s"], {"Open": "enter", "Find": "f"}, "Put out"),
    ],
)
async def test_help_tells_the_keys_that_do_something_here(
    way: list[str], told: dict[str, str], absent: str
) -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press(*way, "h")
        rows: list[Row] = stage.app.screen.query_one(Lines).rows
    keys = {row.cells[1].text: row.cells[0].text for row in rows if row.key.startswith("deed ")}
    missed = {word: key for word, key in told.items() if not keys.get(word, "").startswith(key)}
    assert missed == {}, keys
    assert absent not in keys


async def test_work_is_left_undone_from_the_walk_and_from_an_animal_s_page() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        stage.app.screen.lines.point("w2")  # type: ignore[attr-defined]
        await stage.press("f3", "z")
        await stage.type("sold")
        await stage.press("ctrl+s", "escape")
        await stage.press("f")
        await stage.type("agate")
        await stage.press("enter")
        stage.app.screen.lines.point("w-Agate")  # type: ignore[attr-defined]
        await stage.press("l", "down")
        await stage.type("rain")
        await stage.press("ctrl+s")
    assert farm.written == [
        ("skip", "w1", "sold", id_of("Onyx")),
        ("postpone", "w-Agate", "tomorrow", "rain", id_of("Agate")),
    ]
