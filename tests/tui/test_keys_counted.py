"""How many keys the commonest work takes: promises to cold hands, counted."""

from __future__ import annotations

from typing import Any

from tests.tui.fake_farm import DOES, FakeFarm, id_of
from tests.tui.stage import staged


async def test_a_plain_line_is_done_with_one_key() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        stage.app.screen.lines.point("w2")  # type: ignore[attr-defined]
        text = await stage.press("d")
    assert farm.written == [("weaning", {}, [id_of("Topaz")])]
    assert "Done: weaning, Topaz" in text


async def test_a_pen_s_chore_is_done_with_one_key() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("d")
    assert farm.written == [("chore-done", {"item": "bedding"}, [id_of("Doe barn")])]


async def test_a_hazardous_line_shows_its_caution_first_and_takes_three_keys() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        stage.app.screen.lines.point("w1")  # type: ignore[attr-defined]
        text = await stage.press("d")
        assert text.index("! Caution") < text.index("applications")
        assert "A hot iron can burn the brain" in text and "prove it on wood" in text
        assert farm.written == []
        await stage.press("enter", "enter")
    assert farm.written == [("disbudding", {}, [id_of("Onyx")])]


async def test_twelve_does_are_trimmed_one_of_them_lame_in_sixteen_keys() -> None:
    farm = FakeFarm()
    keys = ("down", "a", "d", "enter", "e", *"opa", "enter", *"yes", "ctrl+s", "enter")
    assert len(keys) <= 16
    async with staged(farm) as stage:
        await stage.press(*keys)
    others: list[tuple[Any, ...]] = [
        ("hoof-trim", {}, [id_of(name)]) for name in DOES if name != "Opal"
    ]
    assert farm.written == [("hoof-trim", {"lame": "yes"}, [id_of("Opal")]), *others]


async def test_a_weight_for_each_of_ten_kids_takes_digits_and_enter() -> None:
    farm = FakeFarm()
    names = DOES[:10]
    select = ("2", *("space" for _ in names))
    figures = [key for number in range(10) for key in (str(number), "enter")]
    async with staged(farm) as stage:
        await stage.press(*select)
        await stage.press("w", *figures, "ctrl+s")
    assert [(kind, pairs["weight_kg"], ids) for kind, pairs, ids in farm.written] == [
        ("weighing", str(number), [id_of(name)]) for number, name in enumerate(names)
    ]


async def test_a_field_conflict_is_resolved_with_three_keys() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("6")
        text = await stage.press("enter", "right", "t")
    assert farm.written == [("resolve", "conflict-1", {"take": "claim-b", "because": ""})]
    assert "Ravi at barn is right" in text
