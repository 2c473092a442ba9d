"""Joining by keys alone over the network: both screens show digits to compare, and only the same let in."""

from __future__ import annotations

import re
from pathlib import Path

from herdsync.farm import Farm
from herdsync.meetings import Joining
from herdsync.wall import Wall
from tests.tui.stage import Stage
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere, laptop
from tui.places.first_morning import told_asked

__all__ = ["keys_elsewhere"]
SIZE = (100, 40)


def said(stage: Stage) -> str:
    """The screen's words without its frames."""
    return " ".join(re.sub("[│┃|]", " ", stage.text).split())


async def listens(stage: Stage) -> str:
    """The steward's dashboard answers over the network; its address on this machine."""
    from tests.exchange.servers import free_port

    port = str(free_port())
    await stage.press("8", "t", "enter", *["backspace"] * 5)
    await stage.type(port)
    assert f"Answering on port {port}" in await stage.press("ctrl+s")
    return f"127.0.0.1:{port}"


async def ask(stage: Stage, address: str) -> None:
    """The new laptop's first morning: join, through the address, as Ravi's barn."""
    await stage.press("down", "enter")
    for line in (address, "Ravi", "barn"):
        await stage.type(line)
        await stage.press("enter")
    await stage.press("ctrl+s")


async def let_in(stage: Stage, code: str, digits: str) -> str:
    """The steward types code and digits with nothing in the line Through."""
    await stage.press("j")
    await stage.press("enter")
    await stage.type(code)
    await stage.press("enter", "enter")
    await stage.type(digits)
    await stage.press("ctrl+s")
    return said(stage)


async def test_both_screens_show_the_digits_and_the_farm_comes_over_the_network(
    tmp_path: Path,
) -> None:
    house, barn = tmp_path / "house", tmp_path / "barn"
    founded(house)
    barn.mkdir()
    with Farm.open(house, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2022-03-01"})
    async with laptop(house, SIZE) as steward, laptop(barn, SIZE) as joiner:
        address = await listens(steward)
        await ask(joiner, address)
        shown = re.search(r"Code ([a-z0-9-]+) Digits (\d{3} \d{3})", said(joiner), re.IGNORECASE)
        assert shown is not None, said(joiner)
        code, digits = shown[1], shown[2]
        await steward.settle()
        assert f"its screen must show {digits}" in said(steward), said(steward)
        other = f"{(int(digits.replace(' ', '')) + 1) % 1_000_000:06d}"
        assert "digits" in await let_in(steward, code, other)
        await steward.press("escape")
        assert "Let in: Ravi at barn" in await let_in(steward, code, digits)
        await joiner.press("enter", "down", "enter", "ctrl+s")
        text = await joiner.press("2")
        assert "Agate" in text and "Ravi at barn" in text, text


def test_a_folder_shows_a_code_alone() -> None:
    told = told_asked(Joining("abcd.join", "1234-5678"))
    assert "1234-5678" in told and "Digits" not in told and "Bring the stick back" in told
