"""Forms: cautions on top, a slip said under its line, nothing lost where a form is left."""

from __future__ import annotations

from herdsync.kinds import CATALOGUE
from tests.tui.fake_farm import NOW, FakeFarm
from tests.tui.stage import Stage, staged
from tui.drafts import Draft
from tui.drawer import KEPT_MOST, Drawer
from tui.forms.reading import AtTheDesk, fault_of, line_refused


async def weighing(stage: Stage) -> str:
    await stage.press("2")
    return await stage.press("w")


def under(text: str, label: str) -> str:
    lines = text.splitlines()
    at = next(at for at, line in enumerate(lines) if line.strip().lstrip("*").startswith(label))
    return lines[at + 1]


async def test_a_slip_is_said_under_its_line_and_goes_when_it_is_mended() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await weighing(stage)
        text = await stage.press(*"4o", "enter")
        assert "! 'o' is no unit known here. Write kg" in under(text, "weight (kg)")
        text = await stage.press("up", *"44", "enter")
        assert "!" not in under(text, "weight (kg)")
        await stage.press("ctrl+s")
    assert farm.written == [("weighing", {"weight_kg": "44"}, ["id-agate"])]


async def test_what_the_farm_refuses_is_said_under_the_line_it_names() -> None:
    farm = FakeFarm()
    farm.refuses = "weight_kg: 900 kg is no goat."
    async with staged(farm) as stage:
        await weighing(stage)
        text = await stage.press(*"900", "ctrl+s")
        assert "900 kg is no goat" in under(text, "weight (kg)")
        assert "! Nothing was written: mend the line marked so." in text
        farm.refuses = "The farm is away."
        text = await stage.press("ctrl+s")
        assert "! The farm is away." in text.split("Write it down")[1]
    assert farm.written == []


async def test_what_was_typed_waits_in_the_form_that_was_left() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await weighing(stage)
        text = await stage.press(*"44", "enter", *"scale", "escape")
        assert "What you typed waits in the same form" in " ".join(text.split())
        text = await stage.press("down", "w")
        assert "here again" not in text and "scale" not in text.split("Write it down")[0]
        text = await stage.press("escape", "up", "w")
        assert "What you had typed is here again" in text
        await stage.press("ctrl+s")
        assert farm.written == [("weighing", {"weight_kg": "44", "how": "scale"}, ["id-agate"])]
        text = await stage.press("w")
        assert "here again" not in text


async def test_a_form_left_untouched_keeps_nothing_and_says_nothing() -> None:
    async with staged(FakeFarm()) as stage:
        await weighing(stage)
        assert "waits" not in await stage.press("escape")


async def test_every_kind_that_can_hurt_begins_with_its_caution() -> None:
    hurting = {name for name, kind in CATALOGUE.items() if kind.caution and kind.subject}
    assert {"dose", "disbudding", "castration", "kidding"} <= hurting
    assert not any(Draft(CATALOGUE[name], {}, [("id", "Agate")]).plain for name in hurting)
    async with staged(FakeFarm()) as stage:
        text = await stage.press("2", "r", *"dose", "enter")
        assert text.index("! Caution") < text.index("I have read this") < text.index("amount (mL)")


def test_the_drawer_keeps_the_newest_forms_once_each() -> None:
    drawer = Drawer()
    for number in range(KEPT_MOST + 5):
        drawer.keep(f"form {number}", {"note": str(number)})
    assert drawer.take("form 0") == {}
    assert drawer.take(f"form {KEPT_MOST + 4}") == {"note": str(KEPT_MOST + 4)}
    assert drawer.take(f"form {KEPT_MOST + 4}") == {}
    drawer.keep("form 9", {})
    assert drawer.take("form 9") == {}


def test_a_line_is_read_as_the_farm_reads_it() -> None:
    reading = AtTheDesk(NOW, FakeFarm().zone)
    fields = CATALOGUE["weighing"].fields
    assert fault_of(fields["weight_kg"], "44lb", reading) == ""
    assert fault_of(fields["weight_kg"], "", reading) == ""
    assert "'stone' is no unit" in fault_of(fields["weight_kg"], "44 stone", reading)
    assert fault_of(fields["animal"], "Nobody", reading) == ""
    assert fault_of(fields["on"], "last week", reading)
    assert line_refused("weight_kg: no.") == "weight_kg"
    assert line_refused("A record of dose needs product. product: the product given.") == "product"
    assert line_refused("The farm is away.") == ""


async def test_a_caution_read_on_the_form_does_not_hide_what_is_new_after_it() -> None:
    farm = FakeFarm()
    caution = CATALOGUE["dose"].caution
    farm.warned = [caution, "Ravi wrote one like it an hour ago."]
    async with staged(farm) as stage:
        await stage.press("2", "g", "enter", "enter", *"Drench")
        text = " ".join((await stage.press("ctrl+s")).split())
        assert "Dose written down for Agate. u takes it back. ! Ravi wrote one like it" in text
        assert caution[:30] not in text


async def test_what_is_said_over_several_lines_stands_under_its_beginning() -> None:
    async with staged(FakeFarm()) as stage:
        stage.app.screen.say("word " * 40)  # type: ignore[attr-defined]
        lines = [line for line in (await stage.press()).splitlines() if "word word" in line]
        assert len(lines) == 3 and all(line.startswith(" ") for line in lines)


async def test_a_mating_to_try_begins_where_something_is_still_to_be_told() -> None:
    async with staged(FakeFarm()) as stage:
        await stage.press("3")
        await stage.press("v")
        doe, buck = stage.app.screen.entries  # type: ignore[attr-defined]
        assert doe.text == "Mica" and buck.typing.has_focus


async def test_a_farm_that_opens_to_read_says_why_before_anything_is_typed() -> None:
    farm = FakeFarm()
    farm.read_only = "This farm's folder was restored or copied. It opens to read."
    async with staged(farm) as stage:
        await stage.press("2")
        text = await stage.press("w")
        assert "! This farm's folder was restored or copied. It opens to read." in text
        assert "Weighing" not in text
    assert farm.written == []


async def test_a_long_refusal_is_seen_whole() -> None:
    farm = FakeFarm()
    farm.refuses = (
        "It cannot be written. " + "Why it cannot be written is a long story. " * 4 + "End."
    )
    async with staged(farm, (80, 24)) as stage:
        await stage.press("2", "g", "enter", "enter", *"Drench")
        text = " ".join((await stage.press("ctrl+s")).split())
        assert "End. Write it another way." in text


async def test_what_to_look_at_after_an_act_is_seen_to_its_end_each_behind_a_mark() -> None:
    farm = FakeFarm()
    farm.warned = [f"Look at the {name} of this dose once more, please." for name in "abcdef"]
    async with staged(farm) as stage:
        await stage.press("2", "g", "enter", "enter", *"Drench")
        text = " ".join((await stage.press("ctrl+s")).split())
        assert text.count("! Look at the") == 6 and "f of this dose once more, please." in text


async def test_a_castration_asks_by_which_method_before_it_can_be_written() -> None:
    # The rechecks of a ring hang on it: a record without the method starts no clock.
    async with staged(FakeFarm()) as stage:
        await stage.press("2", "r", *"castr", "enter", "enter")
        method = stage.app.screen.entries[0]  # type: ignore[attr-defined]
        assert method.field == "method" and method.typing.has_focus
