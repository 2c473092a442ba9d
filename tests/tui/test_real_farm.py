"""The first morning and the main work on real farms, by keys alone: found, join, write, meet, resolve."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from herdsync import founding
from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.stage import Stage
from tui.app import Dashboard
from tui.farmhand import Farmhand

PLAIN = ("bedding", "troughs")
ITEM = "water-and-feed-morning"
MORNING = datetime(2026, 3, 14, 6, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def keys_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))


@asynccontextmanager
async def laptop(
    folder: Path, size: tuple[int, int] = (80, 30), wall: Wall | None = None
) -> AsyncIterator[Stage]:
    wall = wall or Wall(MORNING)
    app = Dashboard(Farmhand(lambda: Farm.open(folder, wall)), wall, folder)
    async with app.run_test(size=size, notifications=True) as pilot:
        stage = Stage(app, pilot)
        await stage.settle()
        yield stage


def founded(folder: Path) -> None:
    folder.mkdir()
    founding.found(folder, Wall(MORNING), name="Quillmoor Dairy", keeper="Oda", device="house")


async def type_in(stage: Stage, *lines: str) -> str:
    """Fill the lines of a form in turn."""
    for line in lines:
        if line:
            await stage.pilot.press(*(key_of(letter) for letter in line))
        await stage.pilot.press("enter")
    return stage.text


def key_of(letter: str) -> str:
    return {" ": "space", "/": "slash", "-": "minus", "_": "underscore", ".": "full_stop"}.get(
        letter, letter
    )


async def test_founding_and_the_first_animal_by_keys_alone(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    folder.mkdir()
    async with laptop(folder) as stage:
        assert "There is no farm in this folder yet" in stage.text
        await stage.press("enter")
        await type_in(stage, "Quillmoor", "Oda", "house", "QMR")
        text = await stage.press("ctrl+s")
        assert "They are shown this once" in " ".join(text.split())
        words = dict(re.findall(r"\b(\d+) ([a-z]{3,})\b", text))
        assert {int(number) for number in words} == set(range(1, 25))
        text = await stage.press("enter")
        assert "Read three words back" in text
        await stage.type("wrong")
        assert "Look at the paper again" in " ".join((await stage.press("ctrl+s")).split())
        assert "They are shown this once" in " ".join((await stage.press("escape")).split())
        await stage.press("enter")
        for place in re.findall(r"Word (\d+)", stage.text):
            await stage.press("ctrl+u")
            await stage.type(words[place])
            await stage.press("down")
        text = await stage.press("ctrl+s")
        assert "No animal is written down yet" in text
        await stage.press("r", *"animal", "enter")
        await type_in(stage, "Agate", "doe", "2024-03-01")
        text = await stage.press("ctrl+s")
        assert "Animal written down" in text
        text = await stage.press("2")
        assert "Agate" in text and "2 y" in text
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert [line.name for line in farm.herd()] == ["Agate"]


async def test_another_command_s_writing_is_seen(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    async with laptop(folder) as stage:
        await stage.press("2")
        with Farm.open(folder, Wall(MORNING)) as other:
            other.record("animal", {"name": "Marl", "sex": "doe", "born": "2025-01-01"})
        for _ in range(40):
            stage.app._poll()
            await stage.settle()
            if "Marl" in stage.text:
                break
        assert "Marl" in stage.text


async def test_a_partner_joins_both_write_and_the_conflict_is_resolved(tmp_path: Path) -> None:
    house, barn, stick = tmp_path / "house", tmp_path / "barn", tmp_path / "stick"
    founded(house)
    barn.mkdir()
    stick.mkdir()
    carrier = str(stick)
    async with laptop(barn) as stage:
        await stage.press("down", "enter")
        await type_in(stage, carrier, "Ravi", "barn")
        text = await stage.press("ctrl+s")
        code = re.search(r"\n\s+([a-z0-9A-Z-]{8,})\s*\n", text.split("code out")[1])
        assert code is not None, text
    async with laptop(house) as stage:
        await stage.press("8", "j")
        await type_in(stage, carrier, code.group(1))
        text = await stage.press("ctrl+s")
        assert "Let in: Ravi at barn" in text
    async with laptop(barn) as stage:
        await stage.press("down", "down", "enter")
        await type_in(stage, carrier)
        text = await stage.press("ctrl+s")
        assert "Quillmoor Dairy" in text and "Ravi at barn" in text
    with Farm.open(house, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Beryl", "sex": "doe", "born": "2023-01-01"})
        farm.exchange(carrier)
    with Farm.open(barn, Wall(MORNING)) as farm:
        farm.exchange(carrier)
        trim = farm.record("hoof-trim", {"hind_left": "soft"}, ["Beryl"]).id
        farm.exchange(carrier)
    with Farm.open(house, Wall(MORNING)) as farm:
        farm.exchange(carrier)
        farm.amend(trim, ["hind_left=nicked"])
        farm.exchange(carrier)
    with Farm.open(barn, Wall(MORNING)) as farm:
        farm.amend(trim, ["hind_left=rot"])
    async with laptop(barn) as stage:
        await stage.press("b")
        await type_in(stage, carrier)
        text = await stage.press("ctrl+s")
        assert "1 conflict to look at" in text
        text = await stage.press("6")
        assert "nicked" in text and "rot" in text and "Until it is resolved" in text
        text = await stage.press("enter", "right", "t")
        assert "is right. Were it wrong after all, amend" in " ".join(text.split())
    with Farm.open(barn, Wall(MORNING)) as farm:
        assert farm.conflicts() == []


async def test_a_pen_trimmed_and_undone_on_a_real_farm(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("pen", {"name": "Doe barn"})
        for name in ("Agate", "Opal"):
            farm.record("animal", {"name": name, "sex": "doe", "born": "2022-01-01"})
            farm.record("pen-move", {"pen": "Doe barn"}, [name])
    async with laptop(folder, (100, 40)) as stage:
        hooves = [row for row in stage.app.screen.lines.rows if row.record == "hoof-trim"]  # type: ignore[attr-defined]
        stage.app.screen.lines.point(hooves[0].key)  # type: ignore[attr-defined]
        text = await stage.press("a", "d", "enter", "enter")
        assert "written down for 2 animals" in text
        text = await stage.press("u")
        assert "Taken back" in text
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert [act for act in farm.show("Agate").acts if act.kind == "hoof-trim"] == []


async def test_another_care_plan_is_looked_at_then_taken_and_an_item_is_tried(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Marl", "sex": "doe", "born": "2024-01-01"})
        farm.record("hoof-trim", {"animal": "Marl", "on": "2026-02-10"})
    async with laptop(folder, (100, 30)) as stage:
        await stage.press("8", "l", "p")
        await stage.type("wet")
        text = await stage.press("enter")
        assert "only looked at" in text and "Trim the hooves" in text and "~ moved" in text
        text = await stage.press("d")
        assert "Let the plan wet-pasture-1 count" in text
        text = await stage.press("ctrl+s")
        assert "counts from now on" in text
        told = " ".join(text.split())
        assert "would change" in told  # the farm has it now: nothing is left to move
        await stage.press("escape")
        stage.app.screen.lines.point("plan hoof-trim")  # type: ignore[attr-defined]
        await stage.press("enter", "f6")
        entry = next(one for one in stage.app.screen.entries if one.field == "every_days")  # type: ignore[attr-defined]
        entry.typing.focus()
        await stage.type("20")
        assert "Marl: Trim the hooves" in await stage.press("f5")
        await stage.press("escape")
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert {one.key: one.value for one in farm.settings()}["plan"] == "wet-pasture-1"
        assert next(one for one in farm.plan() if one.id == "hoof-trim").when != "every 20 days"


async def test_work_for_the_whole_farm_is_done_once_by_keys(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
    async with laptop(folder) as stage:
        text = await stage.press("end")
        assert "Whole farm" in text and "Take a copy of the records" in text
        text = await stage.press("d")
        assert "The veterinarian's yearly visit. u takes it back" in text
        assert "Take a copy of the records" in await stage.press("end")
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert "vet-visit" not in {line.item for line in farm.due()}


async def test_a_founding_that_is_refused_says_so_under_the_line_and_loses_nothing(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "farm"
    folder.mkdir()
    async with laptop(folder) as stage:
        await stage.press("enter")
        text = await stage.press("ctrl+s")
        assert "*Farm" in text and "! The farm's name is missing or unfit." in text
        lines = text.splitlines()
        at = next(at for at, line in enumerate(lines) if "*Farm" in line)
        assert "is missing or unfit" in lines[at + 1]
        await type_in(stage, "Quillmoor", "Oda", "house", "QMR")
        await stage.press("ctrl+u")
        await stage.type("Mars/Olympus")
        lines = (await stage.press("ctrl+s")).splitlines()
        at = next(at for at, line in enumerate(lines) if "Time zone" in line)
        assert "cannot be the farm's zone" in lines[at + 1]
        await stage.press("escape")
        text = " ".join((await stage.press("enter")).split())
        assert "Mars/Olympus" in text and "What you had typed is here again" in text
        zone = next(one for one in stage.app.screen.entries if one.field == "zone")  # type: ignore[attr-defined]
        zone.typing.focus()
        await stage.press("ctrl+u")
        await stage.type("Europe/Berlin")
        text = await stage.press("ctrl+s")
        assert "They are shown this once" in " ".join(text.split())


async def test_undo_leaves_what_the_founding_set_and_says_which_chore_it_took_back(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    async with laptop(folder) as stage:
        assert "nothing that could be undone" in await stage.press("u")
        with Farm.open(folder, Wall(MORNING)) as farm:
            farm.record("chore-done", {"item": "milking-gear"})
        text = await stage.press("u")
        assert "Taken back: chore done (milking gear) on 2026-03-14." in " ".join(text.split())
        await stage.press("u")
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert {one.key for one in farm.settings() if one.value} >= {"plan", "plan-hash", "zone"}


async def test_who_is_called_so_is_found_before_who_only_has_the_letters(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        for name in ("Pumice", "Mica"):
            farm.record("animal", {"name": name, "sex": "doe", "tattoo_left": f"{name[0]}1"})
        farm.record("note", {"about": "Pumice", "text": "micaceous"})
    async with laptop(folder) as stage:
        text = await stage.press("f", *"mic")
        mica, pumice, note = (text.index(one) for one in ("Mica ", "Pumice ", "note of Pumice"))
        assert mica < pumice < note
        assert "doe, M1, here" in text and "text: micaceous" in text and "note: text" not in text


def agate_in_her_barn(folder: Path) -> None:
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("pen", {"name": "Doe barn"})
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        farm.record("pen-move", {"pen": "Doe barn", "on": "2026-03-10"}, ["Agate"])


async def test_what_was_missed_is_written_down_at_its_time_not_now(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    late = Wall(MORNING.replace(hour=20))
    agate_in_her_barn(folder)

    def missed(farm: Farm) -> list[str]:
        return [line.id for line in farm.due() if (line.item, line.state) == (ITEM, "missed")]

    with Farm.open(folder, late) as farm:
        (id,) = missed(farm)
    async with laptop(folder, wall=late) as stage:
        stage.app.screen.lines.point(id)  # type: ignore[attr-defined]
        assert "was 06:30" in stage.text
        text = await stage.press("d")
        assert "Water, hay and a look at everyone" in text and "2026-03-14 06:30" in text
        text = await stage.press("ctrl+s")
        assert "u takes it back" in text and "was 06:30" not in text
    with Farm.open(folder, late) as farm:
        assert missed(farm) == []


async def test_what_was_done_or_left_of_several_at_once_is_taken_back_at_once(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    agate_in_her_barn(folder)

    def work() -> set[str]:
        with Farm.open(folder, Wall(MORNING)) as farm:
            return {line.id for line in farm.due()}

    before = work()
    async with laptop(folder) as stage:
        lines = stage.app.screen.lines  # type: ignore[attr-defined]
        chores = [row for row in lines.rows if row.name == "Doe barn" and row.record in PLAIN]
        assert len(chores) > 1
        for row in chores:
            lines.point(row.key)
            await stage.press("space")
        text = await stage.press("d")
        assert "Done: " in text and "u takes it back" in text
        assert work() == before - {row.key for row in chores}
        await stage.press("u")
        assert work() == before
        for row in chores:
            lines.point(row.key)
            await stage.press("space")
        await stage.press("z", *"storm", "ctrl+s")
        assert work() == before - {row.key for row in chores}
        await stage.press("u")
        assert work() == before
