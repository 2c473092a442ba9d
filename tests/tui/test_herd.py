"""Herd: an animal's page by subject, what is amended there, and held milk unmistakable in every list."""

from __future__ import annotations

from pathlib import Path

from herdsync.answers import ActLine
from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm, herd_line
from tests.tui.stage import staged
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere, laptop
from tui.pages import herd, life

__all__ = ["keys_elsewhere"]


def test_of_each_subject_the_newest_acts_and_of_some_the_newest_of_each_kind() -> None:
    acts = [
        ActLine(f"a{at}", kind, kind, f"2026-03-{20 - at:02}", "", False)
        for at, kind in enumerate(
            ("eyelid-score", "condition-score", "eyelid-score", "note", "note")
        )
    ]
    kinds = ("condition-score", "eyelid-score")
    assert [act.id for act in life.told("Condition", kinds, 4, acts)] == ["a0", "a1"]
    assert [act.id for act in life.told("Notes", ("note",), 1, acts)] == ["a3"]


async def test_an_animal_s_page_tells_marks_as_read_and_what_is_wrong_with_them() -> None:
    async with staged(FakeFarm(), (160, 48)) as stage:
        text = await stage.press("f", *"mica", "enter")
        assert "▲ Marks" in text and "right QMR, left P1, chip 9820001" in text
        stage.app.screen.lines.point("marks")  # type: ignore[attr-defined]
        await stage.settle()
        assert "its right ear reads otherwise" in stage.text and "left clear" in stage.text


async def test_an_act_under_a_subject_is_amended_from_there() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("f", *"agate", "enter")
        stage.app.screen.lines.point("of rec-1")  # type: ignore[attr-defined]
        text = await stage.press("x")
        assert "Take back: hoof trim" in text
        await stage.press(*"slip", "ctrl+s")
    assert farm.written == [("retract", "rec-1", "slip")]


async def test_a_life_stands_by_subject_on_a_real_farm(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("pen", {"name": "Doe barn"})
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2022-01-01"})
        farm.record("animal", {"name": "Opal", "sex": "doe", "born": "2024-01-01", "dam": "Agate"})
        farm.record("pen-move", {"pen": "Doe barn"}, ["Opal"])
        farm.record("hoof-trim", {"front_left": "overgrown", "on": "2026-02-01"}, ["Opal"])
        farm.record("disease-test", {"disease": "CAE", "result": "negative"}, ["Opal"])
        for on, kg in (("2026-01-01", "40"), ("2026-03-01", "44")):
            farm.record("weighing", {"weight_kg": kg, "on": on}, ["Opal"])
        farm.record("note", {"about": "Opal", "text": "shy of the gate"})
        opal = farm.find("Opal")[0].id
    async with laptop(folder, (120, 44)) as stage:
        stage.app.open_record(opal)
        await stage.settle()
        lines = stage.text.splitlines()
    for subject, said in (
        ("Today", "Doe barn"), ("Line", "dam Agate"), ("Hooves", "overgrown"), ("Weight", "44 kg"),
        ("Tests", "CAE"), ("Pens", "Doe barn"), ("Notes", "shy of the gate"),
    ):  # fmt: skip
        line = next(line for line in lines if line[2:].startswith(subject))
        assert said in line, line
    assert "▁█" in next(line for line in lines if line[2:].startswith("Weight"))


def test_a_line_says_what_is_known_and_leaves_out_what_is_not() -> None:
    known = herd_line("Mica", "doe", 1000, "Pen", state=["bred", "due 2026-08-12"], breed="Saanen")
    page = herd.page(herd.Herd([known], ["Pen"], {}), MORNING)
    assert page.rows[1].cells[4].text == "bred, due 12 Aug"
    bare = herd_line("Opal", "doe", 900, "Pen", horns="unknown")
    page = herd.page(herd.Herd([bare], ["Pen"], {}), MORNING)
    assert page.rows[1].cells[4].text == ""
    assert page.facts[bare.id][0].text == "Opal: doe, horns not told"


async def test_a_hold_is_seen_in_the_smallest_window_too() -> None:
    async with staged(FakeFarm(), (60, 20)) as stage:
        lines = (await stage.press("2")).splitlines()
        assert "■MILK ■MEAT" in next(one for one in lines if one.startswith("  Opal"))


async def test_taking_back_from_an_animal_s_page_says_that_it_is_the_whole_animal() -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press("2", "enter")
        assert "Take back: Agate, the whole animal" in await stage.press("x")
