"""Partners: laptops put out, ranked, made steward; entries judged; words rehearsed; tables taken."""

from __future__ import annotations

from pathlib import Path

from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import staged
from tests.tui.test_real_farm import MORNING, founded, key_of, keys_elsewhere, laptop, type_in

__all__ = ["keys_elsewhere"]


async def test_a_partner_s_laptop_is_put_out_ranked_and_made_steward() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("8", "x")
        assert "another laptop first" in text and farm.written == []
        text = await stage.press("down", "x")
        assert text.index("! Caution") < text.index("Why")
        await stage.press("enter", *"lost", "ctrl+s")
        await stage.press("o", *["backspace"] * 6, *"reader", "ctrl+s")
        text = await stage.press("g")
        assert "Only it, or the" in text
        await stage.press("enter", "ctrl+s")
    assert farm.written == [
        ("remove", "key-2", "lost"), ("rank", "key-2", "reader", ""), ("hand-over", "key-2", ""),
    ]  # fmt: skip


async def test_unvouched_entries_are_seen_and_set_aside_with_a_reason() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        assert "1 entry waits" in await stage.press("8")
        text = await stage.press("n")
        assert "hoof trim of Aga" in text and "a lets it count" in text
        text = await stage.press("z")
        assert "! Caution" in text and "nothing, safety included" in " ".join(text.split())
        text = await stage.press("enter", "ctrl+s")
        assert "only with a reason" in text and farm.written == []
        text = await stage.press(*"false", "ctrl+s")
        assert farm.written == [("set-aside", ["entry1"], "false")]
        assert "Everything written here is vouched for" in text
        assert "waits" not in await stage.press("escape")


async def test_the_recovery_words_are_rehearsed() -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press("8", "w", *"one")
        assert "not 24 words" in await stage.press("ctrl+s")
        text = await stage.press("escape")
        assert "one" not in text.splitlines()[-2]


async def test_the_first_animals_are_tried_then_taken_from_a_table(tmp_path: Path) -> None:
    folder, table = tmp_path / "farm", tmp_path / "goats.csv"
    founded(folder)
    table.write_text("name,sex,born\nAgate,doe,2022-03-01\nOpal,goose,2022-03-01\n")
    async with laptop(folder, (100, 40)) as stage:
        assert "from a table (CSV)" in stage.text
        await stage.press("2", "e")
        await type_in(stage, str(table))
        text = await stage.press("ctrl+s")
        assert "1 record would be written" in text and "Line 3:" in text and "goose" in text
        with Farm.open(folder, Wall(MORNING)) as farm:
            assert farm.herd() == []
        text = await stage.press("ctrl+s")
        assert "1 record written" in text and "Agate" in text
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert [line.name for line in farm.herd()] == ["Agate"]


async def test_a_farm_is_won_back_with_the_words_by_keys_alone(tmp_path: Path) -> None:
    from herdsync import founding

    house, fresh, stick = tmp_path / "house", tmp_path / "fresh", tmp_path / "stick"
    for folder in (house, fresh, stick):
        folder.mkdir()
    words = founding.found(
        house, Wall(MORNING), name="Quillmoor Dairy", keeper="Oda", device="house"
    ).recovery
    with Farm.open(house, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2022-03-01"})
        farm.exchange(str(stick))
    async with laptop(fresh, (100, 40)) as stage:
        text = await stage.press("down", "down", "down", "down", "enter")
        assert "the steward's laptop is lost" not in text and "! Caution" in text
        await stage.press("enter")
        await type_in(stage, str(stick), "Oda", "attic", "house")
        await stage.pilot.press(*(key_of(letter) for letter in words))
        text = await stage.press("ctrl+s")
        assert "This laptop is the steward now" in text and "Put out: house" in text, text
        text = await stage.press("enter", "2")
        assert "Agate" in text and "Oda at attic" in text
