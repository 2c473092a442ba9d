"""Boards of the trade on a real farm: worms, tests, bucks, marks; a tattoo begins with the next one."""

from __future__ import annotations

from pathlib import Path

from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere, laptop

__all__ = ["keys_elsewhere"]


async def test_each_board_is_reached_by_one_key_from_where_it_belongs(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2022-01-01"})
        farm.record("animal", {"name": "Flint", "sex": "buck", "born": "2022-01-01"})
        farm.record("mating", {"buck": "Flint", "on": "2026-01-10"}, ["Agate"])
        farm.record("eyelid-score", {"score": "4", "on": "2026-03-10"}, ["Agate"])
        mark = farm.marks("Agate").suggestion
    assert mark is not None
    async with laptop(folder, (110, 36)) as stage:
        assert "eyelid 4" in await stage.press("4", "e")
        assert "Papers to keep" in await stage.press("escape", "t")
        text = await stage.press("escape", "3", "d")
        assert "Flint" in text and "ok: kids 0 % inbred" in text
        text = await stage.press("escape", "2", "v")
        assert "Next mark" in text and "Agate" in text
        stage.app.open_record(farm_id(folder))
        await stage.settle()
        text = await stage.press("r", *"tattoo", "enter")
        assert f"Next mark here: left {mark.left}" in text


def farm_id(folder: Path) -> str:
    with Farm.open(folder, Wall(MORNING)) as farm:
        return farm.find("Agate")[0].id
