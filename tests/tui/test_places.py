"""Every place at every size: what must be readable there, and that nothing runs out of the screen."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from herdsync.answers import Timer
from tests.tui.fake_farm import NOW, FakeFarm, herd_line
from tests.tui.stage import staged
from tui.pages.page import Page
from tui.widgets.lines import Lines

SIZES = [(80, 24), (60, 20), (160, 48)]
PLACES = {
    "1": ("Doe barn", "▲ late", "Agate", "hoof trim", "2 d late"),
    "2": ("Doe barn", "12 animals", "Opal", "doe", "2 y"),
    "3": ("Kids", "Onyx", "◆ closing: Disbud", "Shared a pen"),
    "4": ("Not for sale", "Opal ■MILK", "Opal ■MEAT", "recheck of dis"),
    "5": ("Separate pail", "Opal", "■MILK apart", "10.5"),
    "6": ("two accounts", "A  Oda at house", "soft", "nicked", "B  Ravi at barn"),
    "7": ("Jun, barn", "amend", "hoof trim of Aga"),
    "8": ("Oda", "house", "keeper, steward", "Ravi"),
}
PLACE_NAMES = ("Rounds", "Herd", "Kidding", "Medicine", "Milk", "Conflicts", "Trail", "Partners")
FRAMES = Path(__file__).parent / "frames"


@pytest.mark.parametrize("size", SIZES)
async def test_every_place_says_what_it_must(size: tuple[int, int]) -> None:
    async with staged(FakeFarm(), size) as stage:
        for key, wanted in PLACES.items():
            text = await stage.press(key)
            assert [word for word in wanted if word not in text] == [], f"place {key}:\n{text}"
            for number, place in enumerate(PLACE_NAMES, 1):
                assert f"{number} {place[:3]}" in text.splitlines()[1]
            assert "Quillmoor Dairy" in text and "h Help" in text
            assert len(text.splitlines()) <= size[1]


@pytest.mark.parametrize(("key", "place"), [("1", "rounds"), ("6", "conflicts"), ("4", "medicine")])
async def test_frames_are_as_kept(key: str, place: str) -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press(key)
    kept = FRAMES / f"{place}.txt"
    assert text == kept.read_text(), f"where this is right, write it to {kept.name}:\n{text}"


async def test_wide_screens_show_why_beside_the_list() -> None:
    async with staged(FakeFarm(), (160, 48)) as stage:
        text = await stage.press("down", "down")
    right = "\n".join(line[114:] for line in text.splitlines())
    assert "last done long ago" in right and "opens" in right


async def test_milk_held_is_a_word_wherever_the_animal_stands() -> None:
    async with staged(FakeFarm()) as stage:
        for key in ("1", "2", "4", "5"):
            text = await stage.press(key)
            line = next(line for line in text.splitlines() if "Opal" in line and "◷" not in line)
            assert "■MILK" in line


async def test_the_frame_is_worked_out_once_a_turn_while_nothing_is_written() -> None:
    farm, asked = FakeFarm(), []
    timers = farm.timers

    def counted() -> list[Timer]:
        asked.append(1)
        return timers()

    farm.mark = lambda: len(farm.written)  # type: ignore[method-assign]
    farm.timers = counted  # type: ignore[method-assign]
    async with staged(farm) as stage:
        assert len(asked) == 1
        text = await stage.press("2", "4", "6", "7", "8", "1")
        assert len(asked) == 1 and "◷ Opal milk clear" in text
        farm.written.append(("by another command",))
        await stage.press("2")
        assert len(asked) == 2
        stage.app._refresh_place()
        await stage.settle()
        assert len(asked) == 3
        later = SimpleNamespace(now=lambda: NOW + timedelta(seconds=60))
        stage.app.wall = later  # type: ignore[assignment]
        await stage.press("7")
        assert len(asked) == 4


async def test_an_empty_farm_says_what_to_do_next() -> None:
    farm = FakeFarm()
    farm.lines, farm.animals, farm.disputes = [], [], []
    farm.timers = farm.kids = farm.exposures = farm.trail_all = lambda *_, **__: []  # type: ignore[method-assign]
    farm.names = lambda kind: []  # type: ignore[method-assign]
    async with staged(farm) as stage:
        assert "write down the first" in stage.text
        for key, said in (("3", "kidding"), ("4", "product"), ("6", "agrees"), ("7", "Nothing")):
            assert said in await stage.press(key)


async def test_order_by_what_presses_and_back() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("o")
        lines = text.splitlines()
        assert "closing" in lines[4] and "to do" not in text
        assert "Doe barn  13 to do" in await stage.press("o")


async def test_the_help_lists_keys_places_and_marks() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("h")
        assert "Record the work under the cursor as done." in text
        text = await stage.press("end")
        assert "■MEAT" in text and "not for slaughter" in text
        assert "Doe barn" in await stage.press("escape")


async def test_an_animal_s_page_holds_and_history() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("f", *"opal", "enter")
        assert "Opal  (animal)  ■MILK ■MEAT" in text
        assert "Due" in text and "hoof trim" in text
        assert "1 Rounds" in await stage.press("escape")


async def test_a_family_four_generations_deep_never_loops() -> None:
    farm = FakeFarm()
    farm.animals = [
        herd_line(
            "Agate", "doe", 900, "Doe barn", dam="id-agate", dam_name="Agate", sire="id-agate"
        )
    ]
    async with staged(farm, (160, 48)) as stage:
        text = await stage.press("f", *"agate", "enter")
    assert "Family" in text


async def test_walking_a_pen_one_hand_and_its_summary() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        stage.app.screen.lines.point("w2")  # type: ignore[attr-defined]
        text = await stage.press("f3")
        assert "O N Y X" in text and "1 of 2" in text
        text = await stage.press("space")
        assert "T O P A Z" in text
        text = await stage.press("1")
        assert "✓ done" in text
        text = await stage.press("space")
        assert "✓ 1 done" in text and "1 left" in text and "Onyx: disbudding" in text
    assert farm.written[0][0] == "weaning"


async def test_clocks_count_down_and_the_bench_rings() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("f4")
        assert "2 h 00 min" in text and "Opal ■MILK" in text
        assert "iron heats  10:00" in await stage.press("i")


@pytest.mark.parametrize("look", ["night", "day", "contrast"])
async def test_the_looks_change_with_one_key(look: str) -> None:
    async with staged(FakeFarm()) as stage:
        for _ in range(3):
            if stage.app.theme == look:
                break
            await stage.press("f8")
        assert stage.app.theme == look and "▲ late" in stage.text


async def test_what_to_do_where_there_is_nothing_is_broken_at_words_not_cut() -> None:
    async with staged(FakeFarm(), (60, 20)) as stage:
        lines = stage.app.screen.query_one(Lines)
        lines.fill(Page((), [], "Nothing.\n\n2 e  " + "take many at once " * 5))
        told = [line for line in (await stage.press()).splitlines() if "many" in line]
        assert told[0].startswith("  2 e  take many") and told[1].startswith(" " * 7)
        assert "…" not in "".join(told)
        assert " ".join(" ".join(told).split()) == "2 e " + " ".join(["take many at once"] * 5)
