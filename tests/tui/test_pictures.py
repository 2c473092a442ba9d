"""Pictures: figures in their places, shape before colour, the same figures as lines beside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from rich.cells import cell_len

from herdsync.farm import Farm
from herdsync.sights import Ancestor, Pedigree
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import staged
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere, laptop
from tui.pages import boxes, charts, drawn, kin, weeks
from tui.pages.canvas import Canvas, Line, plain

__all__ = ["keys_elsewhere"]


def told(lines: Sequence[Line]) -> list[str]:
    return [plain(line) for line in lines]


def test_points_stand_at_the_ends_of_both_axes() -> None:
    lines = told(charts.points({"one": [(0, 0), (10, 4)]}, 40, 10, "kg"))
    assert lines[0].startswith("   4.0 │") and lines[0].endswith("●")
    assert lines[6].startswith("   0.0 │●")
    assert lines[8].strip().startswith("0") and lines[8].endswith("10")


def test_each_series_has_its_own_mark_and_name() -> None:
    series = {"Shale": [(0.0, 3.0)], "Jasper": [(0.0, 1.0)]}
    text = "\n".join(told(charts.points(series, 40, 10, "kg")))
    assert "● Shale  a Jasper" in text and text.count("●") == 2 and "│a" in text


def test_the_usual_band_lies_under_the_points_and_between_its_figures() -> None:
    band = [(0, 2.0, 4.0), (10, 4.0, 8.0)]
    lines = told(charts.points({"one": [(0, 3.0), (10, 6.0)]}, 40, 13, "kg", band=band))
    rows = lines[:10]
    column = [row[8:9] for row in rows]
    assert column.count("░") + column.count("●") == 3
    last = [row[39:40] for row in rows]
    assert last[0] == "░" and "●" in last and last[-1] != "░"
    assert any("░ usual" in line for line in lines)


def test_a_bar_a_day_and_held_days_filled_otherwise() -> None:
    days = [(0, 2.0, ""), (1, 1.0, ""), (2, 2.0, "held"), (3, 2.0, "part")]
    lines = told(charts.bars(days, [(3.0, 1.0)], 20, 8, "kg"))
    text = "\n".join(lines)
    assert "█" in text and "▒" in text and "▓" in text and "T test day" in text
    axis = next(line for line in lines if "└" in line)
    assert axis.count("■") == 2 and axis.index("■") > axis.index("─")


def test_many_days_share_a_bar_and_a_held_one_among_them_shows() -> None:
    days = [(day, 3.0, "held" if day == 200 else "") for day in range(305)]
    lines = told(charts.bars(days, [], 60, 12, "kg"))
    assert max(len(line) for line in lines) <= 60
    assert any("█ mean of" in line for line in lines)
    assert sum(line.count("■") for line in lines if "└" in line) == 1


def test_a_calendar_shows_due_days_within_their_window() -> None:
    spans = [("2026-04-01", "2026-04-20", "━"), ("2026-04-10", "", "●")]
    lines = told(weeks.calendar([("Mica", spans)], date(2026, 3, 14), 60))
    assert "Mar" in lines[0] and "Apr" in lines[0]
    mark, row = lines[1:3]
    assert mark.index("▾") == row.index("│") < row.index("━") < row.index("●") < row.rindex("━")


@pytest.mark.parametrize("width", [20, 60, 100])
def test_boxes_never_run_out_of_the_screen(width: int) -> None:
    groups = [
        ("A very long name of a pen indeed", [("Agate", "plain")]), ("Two", []),
        ("Three", [("Opal", "held")] * 5),
    ]  # fmt: skip
    lines = told(boxes.boxes(groups, width))
    assert max(len(line) for line in lines) <= width
    assert sum(line.count("Opal") for line in lines) == 5


def test_four_generations_stand_in_eight_rows() -> None:
    paths = ["s", "ss", "sss", "ssss", "sssd", "d", "dd", "ddd", "dddd"]
    kin_of = [Ancestor(path, path, path.upper(), sure=path != "dd") for path in paths]
    lines = told(kin.tree(Pedigree(kin_of, 0.25, 1, 1.0, [1.0, 0.5], "", []), 78))
    assert len(lines) == 8
    assert lines[0].split()[0] == "S" and "SSS" in lines[0] and "← SSSS × SSSD" in lines[0]
    assert lines[4].startswith("D ") and "? DD" in lines[6]
    assert lines[7].endswith("← · × DDDD") and "└─DDD" in lines[7]


def test_wide_and_combining_names_move_no_other_cell() -> None:
    canvas = Canvas(8, 1)
    canvas.put(0, 0, "羊e\u0301x", "strong")
    canvas.put(6, 0, "|")
    (line,) = canvas.lines()
    assert cell_len("".join(text for text, _ in line)) == 8
    assert plain(line) == "羊e\u0301x  |"


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (160, 48)])
async def test_the_pen_map_and_the_calendar_have_their_lines(size: tuple[int, int]) -> None:
    async with staged(FakeFarm(), size) as stage:
        text = await stage.press("2", "j")
        assert "Who stands where" in text and "Doe barn (12)" in text and "Kid pen (2)" in text
        text = await stage.press("escape", "3", "j")
        assert "Kidding calendar" in text and "●" in text and "2026-03-30" in text
        assert "watch her from here" in text


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (160, 48)])
async def test_milk_leads_where_milk_is_asked_for(size: tuple[int, int]) -> None:
    async with staged(FakeFarm(), size) as stage:
        text = await stage.press("5", "j")
        assert "Milk of Opal, day by day" in text or "Milk of Coral, day by day" in text
        assert "■" in text and "held, not for sale" in text
        text = await stage.press("right", "right")
        assert "Family of" in text and "Inbred 6.25 %" in text


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
        assert "Growth of Onyx with litter mates   1 of 2" in text
        assert "● Onyx  a Topaz  ░ usual" in text and "151 to 227 g" in text
        assert "2026-03-10" in text and "8.5 kg" in text
        text = await stage.press("right")
        assert "Flint" in text and "Agate" in text and "Inbred 0.00 %" in text
        assert "parents 100 %" in text


def test_only_what_is_held_stands_out_beside_the_pen_map(tmp_path: Path) -> None:
    founded(tmp_path / "farm")
    with Farm.open(tmp_path / "farm", Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        farm.record("animal", {"name": "Opal", "sex": "doe", "born": "2020-03-01"})
        farm.record("disease-test", {"disease": "CAE", "result": "positive"}, animals=["Opal"])
        (map,) = drawn.pens(farm)
    assert map.page is not None
    tones = {row.name: row.cells[-1].tone for row in map.page.rows}
    assert tones == {"Agate": "plain", "Opal": "tag"}
