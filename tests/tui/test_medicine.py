"""Medicine: held with its milkings, what to look at, courses given by one key, the shelf, a volume."""

from __future__ import annotations

from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import Stage, staged


def point(stage: Stage, key: str) -> None:
    stage.app.screen.lines.point(key)  # type: ignore[attr-defined]


def beside(stage: Stage) -> str:
    """What is told beside the list of a wide screen, in one line."""
    lines = [line.partition("▏")[2] or line[114:] for line in stage.text.splitlines()]
    return " ".join(" ".join(lines).replace("▏", " ").split())


async def test_held_milk_says_what_to_discard_and_which_kids_share_it() -> None:
    async with staged(FakeFarm(), (160, 48)) as stage:
        await stage.press("4")
        assert "6 milkings after the last dose; first to sell: Tue 17 Mar" in beside(stage)
        assert "meat held with hers: Onyx" in beside(stage)


async def test_a_fever_stands_among_what_to_look_at() -> None:
    async with staged(FakeFarm(), (160, 48)) as stage:
        text = await stage.press("4")
        assert "Look at  last 14 days" in text
        point(stage, "flag rec-t")
        await stage.settle()
        assert "40.8 C is a fever (over 40)" in beside(stage)


async def test_the_next_dose_of_a_course_is_given_from_its_line() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("4")
        point(stage, "course id-opal rec-c")
        text = await stage.press("g")
        assert "Dose 2 of 2, Quillwort drench (dose): Opal" in text
        assert text.index("! Caution") < text.index("product")
        await stage.press("enter", "ctrl+s")
    kind, pairs, animals = farm.written[-1]
    assert (kind, animals) == ("dose", ["id-opal"])
    assert pairs == {"product": "Quillwort drench", "course": "rec-c"}


async def test_the_shelf_tells_stock_expiry_last_use_and_what_a_sheet_lacks() -> None:
    async with staged(FakeFarm(), (160, 48)) as stage:
        text = await stage.press("4")
        assert "91.5 mL" in text and "lot L1" in text and "last 13 Mar" in text
        assert "▲ expired" in text and "not counted" in text
        point(stage, "product rec-o")
        await stage.settle()
        assert "do not use it" in beside(stage) and "its milk withdrawal" in beside(stage)


async def test_a_volume_is_worked_out_under_its_caution_and_then_written() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("4")
        point(stage, "product rec-p")
        text = await stage.press("v")
        assert text.index("! Caution") < text.index("Rate") and "never from here" in text
        await stage.press("enter", *"Opal", "enter")
        text = await stage.press("ctrl+s")
        assert "6 mL on the syringe (+4.3 %)" in text and "in 2 places, 3 mL each" in text
        assert "! Weighed 9 days ago." in text and "Write this dose down" in text
        assert [one[0] for one in farm.written] == ["dose?"]
        text = await stage.press("enter")
        assert "Read the label" in text or "! Caution" in text
        await stage.press("enter", "ctrl+s")
    kind, pairs, animals = farm.written[-1]
    assert (kind, animals) == ("dose", ["id-opal"])
    assert pairs == {"product": "Quillwort drench", "amount_ml": "6", "said_by": "the label"}


async def test_nothing_worked_out_writes_nothing() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("4", "v", "escape")
        assert "On the shelf" in text or "Not for sale" in text
    assert farm.written == []
