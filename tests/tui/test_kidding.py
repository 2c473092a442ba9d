"""Kidding: when to watch, a kidding with its kids in one go, each kid's windows, a buckling's decision."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.reports import KidBoard, KidTask
from herdsync.wall import Wall
from tests.tui.fake_farm import NOW, FakeFarm, day
from tests.tui.stage import staged
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere, laptop, type_in
from tui.pages import kidding, kids

__all__ = ["keys_elsewhere"]


@pytest.mark.parametrize(
    ("ahead", "said"),
    [(20, "due 3 Apr"), (8, "◆ watch: due"), (3, "◆ any hour: due"), (-8, "▲ over: due")],
)
def test_a_doe_near_her_time_says_watch_before_any_colour(ahead: int, said: str) -> None:
    (line,) = FakeFarm().kidding()
    moved = {
        "due": day(ahead), "window": [day(ahead - 5), day(ahead + 5)], "days_left": ahead,
        "watch_from": day(ahead - 10),
    }  # fmt: skip
    farm = FakeFarm()
    told = type(line)(**({name: getattr(line, name) for name in line.__struct_fields__} | moved))
    farm.kidding = lambda: [told]  # type: ignore[method-assign]
    page = kidding.read(farm, NOW)  # type: ignore[arg-type]
    row = next(row for row in page.rows if row.key == line.doe)
    assert said in row.cells[2].text
    labels = [fact.label for fact in page.facts[line.doe]]
    # Of 80 by 24 three lines are seen: of a doe that is watched the call for help is among them.
    assert labels[0] == "Kids between" and (labels[1] == "! Caution") == (ahead < 20)
    assert labels.count("! Caution") == 1


async def test_windows_of_one_kid_and_of_all_behind_one_key() -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press("3")
        text = await stage.press("t")
        assert "Onyx  buck, 6 d" in text and "Topaz  buck, 6 d" in text
        await stage.press("escape")
        stage.app.screen.lines.point("kid id-topaz")  # type: ignore[attr-defined]
        text = await stage.press("t")
        assert "Topaz" in text and "Onyx" not in text.replace("◷ Onyx", "")
        assert "To weigh up before he is castrated" in text


def test_a_decision_stands_under_what_is_open_and_above_what_is_ahead() -> None:
    tasks = [
        KidTask("wean", "Wean", "ahead", day(60), day(80)),
        KidTask("castrate", "Decide", "open", day(-2), day(40)),
        KidTask("navel", "Dip the navel", "done", "", "", day(-6)),
    ]
    decision = ["ring: free, an example of law", "stop: no pen without does"]
    board = KidBoard("id-onyx", "Onyx", "buck", day(-6), 6, "Agate", tasks, decision=decision)
    farm = FakeFarm()
    farm.kids = lambda: [board]  # type: ignore[method-assign]
    rows = kids.read(farm, NOW).rows  # type: ignore[arg-type]
    assert [row.cells[1].text for row in rows[1:]] == [
        "Decide", kids.DECIDE, "free, an example of law", "no pen without does", "Wean",
        "Dip the navel",
    ]  # fmt: skip
    assert rows[4].cells[0].text == "▲ stop"


async def test_a_kidding_and_its_kids_with_weight_and_colostrum_by_keys_alone(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Mica", "sex": "doe", "born": "2023-01-01"})
        farm.record("animal", {"name": "Flint", "sex": "buck", "born": "2023-01-01"})
        farm.record("mating", {"buck": "Flint", "on": "2025-10-15", "how": "hand"}, ["Mica"])
        farm.record("pen", {"name": "Straw pen"})
        farm.record("pen-move", {"pen": "Straw pen", "on": "2026-03-01"}, ["Mica"])
    async with laptop(folder, (100, 40)) as stage:
        text = await stage.press("3")
        assert "◆ any hour" in text
        await stage.press("k", "enter", "enter")
        text = " ".join((await stage.press("ctrl+s")).split())
        assert "How many were born alive is not told, so no kid is asked for" in text
        await stage.press("u")
        stage.app.screen.lines.action_end(-1)  # type: ignore[attr-defined]
        await stage.press("k", "enter", "enter")
        await type_in(stage, "some-help", "2")
        text = await stage.press("ctrl+s")
        assert "Kid 1 of 2 of Mica" in text and "does not suck" in text
        assert "born                 2026-03-14 06:30\n" in text and "Straw pen" in text
        assert "Flint" in text
        await type_in(stage, "buck", "Onyx", "", "3.4", "60", "breech", "turned")
        text = await stage.press("ctrl+s")
        assert "Kid 2 of 2 of Mica" in text and "no pen" not in text
        await type_in(stage, "doe", "Topaz", "", "x kg")
        text = await stage.press("ctrl+s")
        assert "! Nothing was written" in text
        lines = text.splitlines()
        at = next(at for at, line in enumerate(lines) if "weight at birth" in line)
        assert "! " in lines[at + 1] and "x kg" in lines[at + 1]
        await stage.press("escape")
    with Farm.open(folder, Wall(MORNING)) as farm:
        onyx = farm.show("Onyx")
        told = {
            name: onyx.fields[name].shown for name in ("sire", "dam", "presentation", "birth_help")
        }
        assert told == {
            "sire": "Flint",
            "dam": "Mica",
            "presentation": "breech",
            "birth_help": "turned",
        }
        assert {act.kind for act in onyx.acts} >= {"weighing", "feeding", "pen-move"}
        assert farm.animal_line("Onyx").pen == "Straw pen"
        assert onyx.fields["birth_order"].value == 1
        assert len(farm.show("Mica").kids) == 2
