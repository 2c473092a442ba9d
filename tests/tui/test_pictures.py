"""Pictures: figures in their places, shape before colour, the same figures as lines beside."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.fake_farm import DOES, FakeFarm
from tests.tui.stage import staged
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere, laptop
from tui.pages import charts

__all__ = ["keys_elsewhere"]


def test_points_stand_at_the_ends_of_both_axes() -> None:
    lines = [text for text, _ in charts.points({"one": [(0, 0), (10, 4)]}, 40, 10, "kg", "days")]
    assert lines[0].startswith("   4.0 │") and lines[0].endswith("●")
    assert lines[6].startswith("   0.0 │●")
    assert lines[8].strip().startswith("0") and lines[8].endswith("days 10")


def test_each_series_has_its_own_mark_and_name() -> None:
    told = {"Shale": [(0.0, 3.0)], "Jasper": [(0.0, 1.0)]}
    text = "\n".join(line for line, _ in charts.points(told, 40, 10, "kg", "days"))
    assert "● Shale  a Jasper" in text and text.count("●") == 2 and "│a" in text


def test_a_calendar_shows_due_days_within_their_window() -> None:
    spans = [("2026-04-01", "2026-04-20", "━"), ("2026-04-10", "", "●")]
    lines = [text for text, _ in charts.calendar([("Mica", spans)], date(2026, 3, 14), 60)]
    assert "Mar" in lines[0] and "Apr" in lines[0]
    row = lines[1]
    assert row.index("│") < row.index("━") < row.index("●") < row.rindex("━")


@pytest.mark.parametrize("width", [20, 60, 100])
def test_boxes_never_run_out_of_the_screen(width: int) -> None:
    told = [("A very long name of a pen indeed", ["Agate"]), ("Two", []), ("Three", ["Opal"] * 5)]
    lines = [text for text, _ in charts.boxes(told, width)]
    assert max(len(line) for line in lines) <= width
    assert sum(line.count("Opal") for line in lines) == 5


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (160, 48)])
async def test_the_pen_map_and_the_calendar_have_their_lines(size: tuple[int, int]) -> None:
    async with staged(FakeFarm(), size) as stage:
        text = await stage.press("2", "j")
        assert "Who stands where" in text and "Doe barn (12)" in text and "Kid pen (2)" in text
        assert text.count(DOES[0]) >= 2
        text = await stage.press("escape", "3", "j")
        assert "Kidding calendar" in text and "●" in text and "2026-03-30" in text


async def test_growth_with_a_litter_mate_and_the_family_are_drawn(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2022-01-01"})
        farm.record("animal", {"name": "Flint", "sex": "buck", "born": "2022-01-01"})
        for name, kg in (("Onyx", "3.2"), ("Topaz", "3.0")):
            born = {"sex": "buck", "born": "2026-02-01", "dam": "Agate", "sire": "Flint"}
            farm.record("animal", {"name": name} | born)
            farm.record("weighing", {"weight_kg": kg, "on": "2026-02-01"}, [name])
            farm.record("weighing", {"weight_kg": "8.5", "on": "2026-03-10"}, [name])
        onyx = farm.find("Onyx")[0].id
    async with laptop(folder, (100, 40)) as stage:
        stage.app.open_record(onyx)
        await stage.settle()
        text = await stage.press("j")
        assert "Growth with litter mates   1 of 2" in text and "● Onyx  a Topaz" in text
        assert "2026-03-10" in text and "8.5 kg" in text
        text = await stage.press("right")
        assert "└─ dam: Agate" in text and "Inbred 0.000" in text
