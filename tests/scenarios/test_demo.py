"""The demo herd is alive whatever day it is made, and is made whole or not at all."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.wall import Wall
from scenarios.demo import make_demo


@pytest.fixture(autouse=True)
def own_keys(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))


@pytest.mark.parametrize("today", ["2026-02-28", "2028-02-29", "2026-11-24"])
def test_rounds_is_alive_on_any_day(tmp_path: Path, today: str) -> None:
    wall = Wall(datetime.fromisoformat(f"{today}T10:00:00").replace(tzinfo=UTC))
    demo = make_demo(tmp_path / "demo", wall)
    with Farm.open(Path(demo.house), wall) as farm:
        due = {(line.name, line.item, line.state) for line in farm.due()}
        timers = {(timer.name, timer.what) for timer in farm.timers()}
        conflicts = {(line.kind, line.name) for line in farm.conflicts()}
        assert farm.verify().faults == []
        names = {line.name for line in farm.herd()}
        _every_board_has_something_to_show(farm)
    assert ("Marl", "hoof-trim", "late") in due
    assert ("Opal", "hoof-trim", "due") in due
    assert ("Onyx", "disbudding", "closing") in due
    assert ("Shale", "ring-check-d14", "due") in due
    assert {name for name, item, _ in due if item == "kidding"} == {"Mica"}
    assert {"milk clear", "meat clear"} <= {what for name, what in timers if name == "Opal"}
    assert conflicts == {("field", "Agate"), ("pair", "Beryl")}
    assert names == {
        "Basalt", "Flint", "Pumice", "Agate", "Opal", "Mica", "Beryl", "Garnet", "Marl",
        "Shale", "Jasper", "Onyx", "Topaz",
    }  # fmt: skip
    assert make_demo(tmp_path / "demo", wall).fresh is False


def _every_board_has_something_to_show(farm: Farm) -> None:
    shelf = farm.medicine()
    assert all(line.lots and line.expiry for line in shelf.products)
    assert all(line.stock_ml is not None for line in shelf.products)
    assert [line.name for line in shelf.courses] == ["Opal"]
    [trial] = farm.worms().trials
    assert trial.verdict and trial.trial == "end of summer"
    tests = farm.screening()
    assert {line.disease for line in tests.tests} == {"CAE", "CL", "Johnes"}
    assert [line.name for line in tests.newcomers] == ["Basalt"]
    assert {line.name for line in farm.kidding()} == {"Mica", "Marl"}
    assert [(line.doe_name, line.male_name) for line in farm.exposures()] == [("Marl", "Flint")]
    lactations = {line.name: line for line in farm.milk_board().lactations}
    assert lactations["Agate"].fat_kg and lactations["Opal"].cell_score
    assert {line.name for line in farm.held()} >= {"Opal", "Pumice", "Basalt"}
    assert farm.recorded_ration("Milkers").ratio > 1
    assert {line.standing for line in farm.herd(every=True)} == {"here", "sold", "dead"}
    suggestion = farm.marks().suggestion
    assert suggestion is not None and suggestion.heard
    assert [line for line in farm.kids() if line.gain_g_per_day]
    assert farm.heads() == []


def test_a_folder_with_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / "letter.txt").write_text("dear Oda")
    with pytest.raises(Refused, match="holds something"):
        make_demo(tmp_path / "demo", Wall())
    assert [one.name for one in (tmp_path / "demo").iterdir()] == ["letter.txt"]
