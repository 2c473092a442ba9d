"""Partners: laptops put out, ranked, made steward; entries judged; words rehearsed; tables taken."""

from __future__ import annotations

from pathlib import Path

from herdsync.answers import DeviceLine
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.meetings import Visited
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import staged
from tests.tui.test_real_farm import MORNING, founded, key_of, keys_elsewhere, laptop, type_in
from tui.listening import visit_words

__all__ = ["keys_elsewhere"]


async def test_a_partner_s_laptop_is_put_out_ranked_and_made_steward() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("8", "x")
        assert "another laptop first" in text and farm.written == []
        await stage.press("down", "x")
        assert "another laptop first" in stage.text and farm.written == []
        text = await stage.press("down", "x")
        assert text.index("! Caution") < text.index("Why")
        await stage.press("enter", *"lost", "ctrl+s")
        text = await stage.press("o")
        assert text.index("helper: records") < text.index("Role")
        await stage.press("enter", *["backspace"] * 6, *"reader", "ctrl+s")
        text = await stage.press("g")
        assert "Only it, or the" in text
        await stage.press("enter", "ctrl+s")
    assert farm.written == [
        ("remove", "key-2", "lost"), ("rank", "key-2", "reader", ""), ("hand-over", "key-2", ""),
    ]  # fmt: skip


async def test_unvouched_entries_are_seen_and_set_aside_with_a_reason() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("8")
        assert "! Unvouched" in text and "waiting: n" in text
        text = await stage.press("n")
        assert "hoof trim of Aga" in text and "a lets it count" in text
        text = await stage.press("z")
        assert "! Caution" in text and "nothing, safety included" in " ".join(text.split())
        text = await stage.press("enter", "ctrl+s")
        assert "only with a reason" in text and farm.written == []
        text = await stage.press(*"false", "ctrl+s")
        assert farm.written == [("set-aside", ["entry1"], "false")]
        assert "Everything written here is vouched for" in text
        assert "waiting" not in await stage.press("escape")


async def test_what_would_be_gone_with_this_laptop_stands_first() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("8")
        assert "▲ 3 entries" in text and "would be gone" in text and "2 sealed" in text
        assert "do not lose it" in text and "lacks 3" in text
        farm.only_here = 0
        stage.app.screen.reload()  # type: ignore[attr-defined]
        await stage.settle()
        assert "✓ nothing" in stage.text and "is also on another" in stage.text


async def test_partners_are_answered_over_the_network_until_told_otherwise() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        text = await stage.press("8", "t")
        assert text.index("each proves its own key") < text.index("Port")
        await stage.press("enter", *["backspace"] * 5, *"80")
        assert "'80' is no port" in await stage.press("ctrl+s")
        await stage.press("backspace", "backspace", *"47101", "ctrl+s")
        assert farm.answers_on == 47_101
        stage.app.screen.lines.point("network")  # type: ignore[attr-defined]
        await stage.settle()
        assert "port 47101" in stage.text and "192.168.1.20:47101" in stage.text
        assert "Ravi's laptop barn called: 4 received, 1 sent." in stage.text
        text = await stage.press("t")
        assert "any more" in text and farm.answers_on == 0
        await stage.press("t", "enter", "ctrl+s")
        assert farm.answers_on == 47_100
    assert farm.answers_on == 0


def test_a_laptop_that_asks_over_the_network_is_told_with_its_digits() -> None:
    asks = visit_words(Visited("Ravi's laptop barn", "", None, "123 456"))
    assert "asks to join" in asks and "123 456" in asks and "j lets it in" in asks
    refused = visit_words(Visited("192.0.2.9", "its key is not of this farm", None))
    assert refused == "Refused 192.0.2.9: its key is not of this farm"


async def test_a_farm_that_only_reads_says_so_and_the_way_on() -> None:
    farm = FakeFarm()

    def devices() -> list[DeviceLine]:
        raise Refused("This laptop does not hold this farm's key.", "Join afresh.")

    farm.devices = devices  # type: ignore[method-assign]
    async with staged(farm) as stage:
        text = await stage.press("8")
        assert "▲ Reads only" in text and "does not hold this farm's key" in text
        text = await stage.press("enter")
        assert "Begin again with the recovery words" in text


async def test_papers_for_several_are_one_key_and_tell_what_stands_in_the_way() -> None:
    farm = FakeFarm()
    async with staged(farm) as stage:
        await stage.press("2", "s")
        stage.app.screen.lines.point("id-opal")  # type: ignore[attr-defined]
        text = await stage.press("s", "f9")
        assert "Papers for Agate, Opal" in text and text.index("! Caution") < text.index("Buyer")
        await stage.press("enter", "enter", *"Marta")
        text = await stage.press("ctrl+s")
        assert "Sheet of id-agate: ✓ may be handed over" in text
        assert "Sheet of id-opal: ▲ may NOT be handed over yet" in text
        assert "in the way: milk not for sale" in text
        assert "Not to be handed over yet: 1." in await stage.press("enter")
    verb, paper, animals, more = farm.written[-1]
    assert (verb, paper, animals) == ("papers", "sale", ["id-agate", "id-opal"])
    assert more["buyer"] == "Marta" and more["pdf"] is True


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
