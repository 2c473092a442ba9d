"""Milk: separate pails first, today's milkings of all by digits, held milk never sold unasked."""

from __future__ import annotations

from tests.tui.fake_farm import FakeFarm, herd_line
from tests.tui.stage import staged
from tui.pages import lactations


async def test_held_does_stand_first_in_a_group_of_their_own() -> None:
    async with staged(FakeFarm()) as stage:
        lines = (await stage.press("5")).splitlines()
    apart = next(at for at, line in enumerate(lines) if "■ Separate pail: do not sell" in line)
    opal, agate = (
        next(at for at, line in enumerate(lines) if name in line and "◷" not in line)
        for name in ("Opal", "Agate")
    )
    assert apart < opal < agate
    assert "■MILK apart" in lines[opal] and "■1.3" in lines[opal]
    assert "tank" in lines[agate] and "·" in lines[agate]


async def test_milk_sold_while_it_was_held_stands_above_all() -> None:
    async with staged(FakeFarm()) as stage:
        lines = (await stage.press("5")).splitlines()
        assert "▲ Sold while held" in lines[4] and "Coral" in lines[5] and "1.1 kg" in lines[5]
        assert "tell the buyer at once" in " ".join(" ".join(lines).split())


async def test_a_milking_of_all_does_is_digits_and_held_milk_is_not_sold() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("5", "m")
        assert "Opal ■MILK apart" in text and "morning" in text
        keys = ["1", "full_stop", "4", "enter", "1", "full_stop", "2", "enter", "ctrl+s"]
        await stage.press(*keys)
    told = {pairs_of[2][0]: pairs_of[1] for pairs_of in farm.written}
    assert told["id-agate"] == {"milk_kg": "1.4", "milking": "morning", "sold": "yes"}
    assert told["id-opal"] == {"milk_kg": "1.2", "milking": "morning", "sold": "no"}


async def test_one_held_doe_milked_from_anywhere_is_not_sold() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("2")
        stage.app.screen.lines.point("id-opal")  # type: ignore[attr-defined]
        text = await stage.press("m", "enter")
        assert "■MILK ■MEAT" in text
        await stage.press("2", "ctrl+s")
    (kind, pairs, animals), *_ = farm.written
    assert (kind, animals) == ("milk", ["id-opal"])
    assert pairs["sold"] == "no" and pairs["milking"] == "morning"


async def test_lactations_stand_behind_one_key() -> None:
    async with staged(FakeFarm(), (160, 48)) as stage:
        text = await stage.press("5", "v")
        assert "Lactations by test days" in text and "214" in text and "91.5" in text
        assert "▁▄█" in text and "4.1 (test by test 2.6 3.2 4.1)" in " ".join(text.split())
        assert "A board: line by line" in await stage.press("h")
        assert "Separate pail" in await stage.press("escape", "escape")


def test_a_doe_whose_milk_is_held_is_marked_among_the_lactations_too() -> None:
    farm = FakeFarm()
    (line,) = farm.milk_board().lactations
    held = herd_line(line.name, "doe", 900, "Pen", holds=["milk not for sale"])
    farm.animals = [held]
    page = lactations.read(farm)  # type: ignore[arg-type]
    assert page.rows[1].cells[0].text == f"{line.name} ■MILK"
