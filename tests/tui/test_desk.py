"""What the desk remembers: look, carrier and moved keys; and the exchange that goes by itself."""

from __future__ import annotations

import re
from pathlib import Path
from typing import cast

import pytest

from herdsync.answers import Setback
from herdsync.desk import Desk, carrier_mark
from herdsync.faults import Refused
from herdsync.meetings import Exchanged, Notice
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm, StillWall
from tests.tui.stage import Stage, staged
from tui.app import Dashboard
from tui.farmhand import Farmhand
from tui.keymap import moved_keys

FARM = Path("/nowhere")


def test_the_desk_remembers_from_run_to_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_DESK", str(tmp_path / "desk"))
    desk = Desk.here()
    assert (desk.look, desk.carrier(FARM), desk.by_itself(FARM)) == ("", "", True)
    desk.use_look("day")
    desk.use_carrier(FARM, "~/stick", by_itself=False)
    again = Desk.here()
    assert (again.look, again.carrier(FARM), again.by_itself(FARM)) == ("day", "~/stick", False)
    assert again.carrier(Path("/elsewhere")) == ""


@pytest.mark.parametrize("bytes_there", [b"", b"[]", b"{\xff", b'{"look": 7, "carriers": [1]}'])
def test_a_spoilt_desk_is_a_fresh_one(
    bytes_there: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_DESK", str(tmp_path))
    (tmp_path / "desk.json").write_bytes(bytes_there)
    assert (Desk.here().look, Desk.here().carrier(FARM)) == ("", "")


def test_a_carrier_s_mark_tells_a_change(tmp_path: Path) -> None:
    assert carrier_mark(str(tmp_path / "gone")) == ""
    empty = carrier_mark(str(tmp_path))
    (tmp_path / "one").write_text("x")
    assert empty and carrier_mark(str(tmp_path)) not in ("", empty)


def keys(tmp_path: Path, told: str) -> Desk:
    (tmp_path / "keys.toml").write_text(told)
    return Desk(tmp_path)


def test_moved_keys_are_held_against_the_table(tmp_path: Path) -> None:
    moved, said = moved_keys(keys(tmp_path, '"rounds.done" = "v"\nundo = "j"\nfly = "k"\n'))
    assert moved["rounds.done"] == "v"
    assert moved["rounds.undo"] == "j" and "herd.undo" not in moved
    assert any("'fly'" in one for one in said)
    assert any("j is picture already" in one for one in said)
    moved, said = moved_keys(keys(tmp_path, '"rounds.done" = "1"\n'))
    assert moved == {} and "1 is the way to rounds already" in said[0]
    moved, said = moved_keys(keys(tmp_path, "this is no toml"))
    assert moved == {} and "the usual keys count" in said[0]


def test_the_ways_to_places_move_too_and_never_cross_a_deed(tmp_path: Path) -> None:
    moved, said = moved_keys(keys(tmp_path, '[go]\ntrail = "0"\nmilk = "u"\nherd = "1"\n'))
    assert moved == {"go.trail": "0"}
    assert any("u is undo already; milk keeps its key" in one for one in said)
    assert any("1 is the way to rounds already; herd keeps" in one for one in said)


def test_two_places_may_trade_their_digits(tmp_path: Path) -> None:
    moved, said = moved_keys(keys(tmp_path, '[go]\nherd = "5"\nmilk = "2"\n'))
    assert (moved, said) == ({"go.herd": "5", "go.milk": "2"}, [])


async def test_a_moved_digit_goes_there_and_stands_in_head_and_help(tmp_path: Path) -> None:
    async with staged(FakeFarm(), desk=keys(tmp_path, '[go]\ntrail = "0"\n')) as stage:
        assert "0 Trail" in stage.text and "7 Trail" not in stage.text
        text = await stage.press("0")
        assert "Jun, barn" in text
        text = await stage.press("h", "end", "pageup", "pageup")
        assert re.search(r"\b0 +Trail +Who wrote", text), text


async def test_a_moved_key_works_and_stands_in_foot_and_help(tmp_path: Path) -> None:
    farm = FakeFarm()
    async with staged(farm, desk=keys(tmp_path, '[rounds]\ndone = "v"\n')) as stage:
        assert " v Done " in stage.text
        await stage.press("d")
        assert farm.written == []
        await stage.press("v")
        assert farm.written[0][0] == "chore-done"
        text = await stage.press("h")
        assert re.search(r"\bv +Done +Record the work", text), text


async def test_a_key_that_cannot_move_is_said(tmp_path: Path) -> None:
    async with staged(FakeFarm(), desk=keys(tmp_path, 'fly = "v"\n')) as stage:
        assert "no deed is called 'fly'" in stage.text


async def test_the_look_is_remembered(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    async with staged(FakeFarm(), desk=desk) as stage:
        await stage.press("f8")
    assert desk.look == "day"
    async with staged(FakeFarm(), desk=desk) as stage:
        assert stage.app.theme == "day"


async def test_a_carrier_that_comes_is_exchanged_by_itself_and_said(tmp_path: Path) -> None:
    farm, stick, desk = FakeFarm(), tmp_path / "stick", Desk()
    desk.use_carrier(FARM, str(stick))
    async with staged(farm, desk=desk, size=(160, 30)) as stage:
        await look(stage)
        assert farm.written == []
        stick.mkdir()
        await look(stage)
        assert farm.written == [("exchange", str(stick))]
        assert "2 sent, 3 received" in stage.text and "By itself" in stage.text
        await look(stage)
        assert len(farm.written) == 1
        (stick / "from-barn").write_text("news")
        await look(stage)
        assert len(farm.written) == 2
        stick.joinpath("from-barn").unlink()
        stick.rmdir()
        await look(stage)
        assert "no longer there" in stage.text


async def test_a_refusal_or_notice_is_said_once_until_it_changes_and_stands_on_partners(
    tmp_path: Path,
) -> None:
    farm, desk = FakeFarm(), Desk()
    desk.use_carrier(FARM, str(tmp_path))
    damaged = Setback("file a.bundle", "It does not authenticate.")
    silent = Notice("laptop barn", "Nothing has been heard of it.")
    async with staged(farm, desk=desk, size=(160, 30)) as stage:
        watching = stage.app.watching

        async def said(refused: list[Setback], *noticed: Notice, received: int = 0) -> str:
            farm.exchanged = Exchanged(0, received, 0, refused, 0, noticed=[*noticed])
            watching._last = None
            return await watching.look()

        told = await said([damaged], silent)
        assert "Refused file a.bundle: It does not authenticate." in told
        assert "1 more on Partners" in told and "laptop barn" not in told
        for _ in range(2):
            assert await said([damaged], silent) == ""
        await stage.press("8")
        stage.app.screen.lines.point("carrier")  # type: ignore[attr-defined]
        await stage.settle()
        text = " ".join(stage.text.split())
        assert "Refused file a.bundle" in text and "Noticed: laptop barn." in text
        # What moves is told without what was said before.
        assert (await said([damaged], silent, received=1)).endswith("0 sent, 1 received.")
        assert "laptop barn" in watching.said and "a.bundle" in watching.said
        assert await said([damaged]) == "" and "laptop barn" not in watching.said
        assert (await said([damaged], silent)).endswith(
            "Noticed: laptop barn. Nothing has been heard of it."
        )


async def test_an_exchange_that_does_not_go_is_said_once_and_not_any_more_when_it_goes(
    tmp_path: Path,
) -> None:
    farm, desk = FakeFarm(), Desk()
    desk.use_carrier(FARM, str(tmp_path))
    goes = farm.exchange

    def fails(carrier: str) -> Exchanged:
        raise Refused("The folder cannot be looked into.", "See whether it may be read.")

    async with staged(farm, desk=desk) as stage:
        watching = stage.app.watching
        farm.exchange = fails  # type: ignore[method-assign]
        assert "did not go: The folder cannot be" in await watching.look()
        watching._last = None
        assert await watching.look() == ""
        farm.exchange, farm.exchanged = goes, Exchanged(0, 0, 0, [], 0)  # type: ignore[method-assign]
        watching._last = None
        assert await watching.look() == "" and watching.said.endswith("nothing new on it.")


async def test_by_itself_can_be_left_off(tmp_path: Path) -> None:
    farm, desk = FakeFarm(), Desk()
    async with staged(farm, desk=desk) as stage:
        await stage.press("b", *"x", "enter", *["backspace"] * 3, *"no")
        await stage.press("ctrl+s")
        assert farm.written == [("exchange", "x")]
        assert (desk.carrier(FARM), desk.by_itself(FARM)) == ("x", False)


async def test_a_reading_laptop_does_not_exchange_by_itself(tmp_path: Path) -> None:
    farm, desk = FakeFarm(), Desk()
    farm.read_only = "restored"
    desk.use_carrier(FARM, str(tmp_path))
    async with staged(farm, desk=desk) as stage:
        await look(stage)
    assert farm.written == []


async def look(stage: Stage) -> None:
    """What the timer does every few seconds."""
    said = await stage.app.watching.look()
    if said:
        stage.app._say_here(said, "dim")
    await stage.settle()


def test_the_dashboard_needs_no_desk() -> None:
    farm = FakeFarm()
    app = Dashboard(Farmhand(lambda: farm), cast(Wall, StillWall()), FARM)  # type: ignore[arg-type, return-value]
    assert app.carrier == ""
    app.hand.stop()
