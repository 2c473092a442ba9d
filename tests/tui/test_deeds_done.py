"""What keys write: skips, amendments, conflicts, undo, many animals; and what a refusal leaves."""

from __future__ import annotations

from tests.tui.fake_farm import DOES, FakeFarm, id_of
from tests.tui.stage import Stage, staged


def point(stage: Stage, key: str) -> None:
    stage.app.screen.lines.point(key)  # type: ignore[attr-defined]


async def test_skip_and_postpone_ask_why() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        point(stage, "w2")
        await stage.press("z", *"ill", "ctrl+s")
        point(stage, "w2")
        await stage.press("l", "down", *"wet", "ctrl+s")
    assert farm.written == [
        ("skip", "w2", "ill", id_of("Topaz")),
        ("postpone", "w2", "tomorrow", "wet", id_of("Topaz")),
    ]


async def test_a_refusal_is_said_and_what_was_typed_stays() -> None:
    farm = FakeFarm()
    farm.refuses = "A weight of 9000 kg cannot be right."
    async with staged(farm) as stage:
        await stage.press("2", "w", *"9000")
        text = await stage.press("ctrl+s")
        assert "A weight of 9000 kg cannot be right. Write it another way." in " ".join(
            text.split()
        )
        assert "9000" in text
        farm.refuses = ""
        await stage.press("ctrl+s")
    assert farm.written == [("weighing", {"weight_kg": "9000"}, [id_of("Agate")])]


async def test_leaving_a_form_writes_nothing() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("2", "w", "9", "escape")
    assert farm.written == []


async def test_any_kind_is_found_by_a_few_letters() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("2", "r", *"condi", "enter")
        assert "Condition score: Agate" in text
        await stage.press("3", "ctrl+s")
    assert farm.written == [("condition-score", {"score": "3"}, [id_of("Agate")])]


async def test_a_word_begun_is_completed_where_one_fits() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("2", "p", "k", "enter", "ctrl+s")
    assert farm.written == [("pen-move", {"pen": "Kid pen"}, [id_of("Agate")])]


async def test_same_and_different_and_let_stand() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("6", "down")
        assert "≠" in text or "written twice" in text
        await stage.press("s")
        await stage.press("d")
        text = await stage.press("t")
        assert "no account to take" in text
        await stage.press("down", "a", *"old", "ctrl+s")
    assert farm.written == [
        ("same", "rec-1", "rec-2"),
        ("different", "rec-1", "rec-2"),
        ("resolve", "conflict-3", {"accept": True, "because": "old"}),
    ]


async def test_a_third_value_resolves_and_a_note_leaves_it() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("6", "n", *"ask", "ctrl+s")
        text = await stage.press("v")
        assert "The left hind foot." in text
        await stage.press(*"rot", "ctrl+s")
    assert farm.written == [
        ("note", {"text": "ask"}, ["rec-1"]),
        ("resolve", "conflict-1", {"value": "rot", "because": ""}),
    ]


async def test_amend_tells_only_what_changed_and_names_what_was_shown() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("f", *"opal", "enter")
        text = await stage.press("e")
        assert "Change Opal" in text
        await stage.press("x", "ctrl+s")
    assert farm.written == [("amend", id_of("Opal"), ["name=x"], "", ["n"])]


async def test_undo_and_exchange_say_what_came_of_it() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        assert "Taken back: hoof trim of Agate." in await stage.press("u")
        text = await stage.press("b", *"/m", "ctrl+s")
        assert "2 sent, 3 received. 1 conflict to look at" in text
    assert farm.written == [("undo",), ("exchange", "/m")]


async def test_a_selects_the_same_work_of_the_pen_then_all_of_it() -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press("down", "a")
        assert "12 lines selected" in stage.text
        assert "13 lines selected" in await stage.press("a")
        assert "0 lines selected" in await stage.press("a")


async def test_space_selects_and_escape_drops() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("2", "space", "space")
        assert text.count("✓") == 2
        assert "✓" not in await stage.press("escape")
        await stage.press("a", "r", *"weaning", "enter", "ctrl+s")
    assert farm.written == [("weaning", {}, [id_of(name)]) for name in DOES]


async def test_digits_typed_in_a_form_stay_in_the_form() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("2", "w", "3", "tab", "tab", "tab", "4")
        assert "Weighing: Agate" in text


async def test_the_palette_offers_the_deeds_of_the_place() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("ctrl+p", *"take back the last")
        await stage.pilot.pause(0.3)
        await stage.press("enter")
        await stage.press()
    assert farm.written == [("undo",)]


async def test_the_farm_as_an_entry_knew_it_can_be_asked_for() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("7", "w")
    assert "There is no farm in /nowhere" in text or "as entry" in text


async def test_what_a_choice_would_change_stands_under_the_account_pointed_at() -> None:
    async with staged(FakeFarm()) as stage:
        text = await stage.press("6", "right")
        assert "Taking A would change no work and no hold." in text
        text = await stage.press("right")
        assert "Taking B would change:" in text and "look again, by claim-b" in text
        assert "Taking A" not in text
        text = await stage.press("down")
        assert "Same would change:" in text and "due 2026-05-01" in text
        assert "Different would change no work" in text


async def test_the_trail_is_narrowed_by_keeper_and_day() -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press("7", "n", *"ravi", "enter", "enter", "enter", *"today")
        text = await stage.press("ctrl+s")
        assert "Only: ravi, from 2026-03-14" in text and "Jun, barn" in text
        text = await stage.press("n", "tab", *"house", "ctrl+s")
        assert "No line is of: ravi, house, from 2026-03-14" in text
