"""The dashboard exchanges by itself on a real farm: a stick that comes, a damaged file, an emptied stick."""

from __future__ import annotations

from pathlib import Path

from herdsync import founding
from herdsync.desk import Desk
from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.stage import Stage
from tests.tui.test_real_farm import MORNING, founded, keys_elsewhere
from tui.app import Dashboard
from tui.farmhand import Farmhand

__all__ = ["keys_elsewhere"]
WALL = Wall(MORNING)


def joined(folder: Path, stick: Path) -> None:
    """Barn joins house's farm over the stick; both have everything."""
    founded(folder / "house")
    stick.mkdir()
    asking = founding.join(folder / "barn", WALL, stick, keeper="Ravi", device="barn")
    with Farm.open(folder / "house", WALL) as farm:
        farm.admit(str(stick), asking.code)
    founding.exchange_joining(folder / "barn", WALL, stick)


async def looked(stage: Stage) -> str:
    """What is said when the timer looks and the minute is over."""
    stage.app.watching._last = None
    return await stage.app.watching.look()


async def test_what_a_stick_brings_is_taken_and_said_and_a_damaged_file_once(
    tmp_path: Path,
) -> None:
    stick, house = tmp_path / "stick", tmp_path / "house"
    joined(tmp_path, stick)
    with Farm.open(tmp_path / "barn", WALL) as barn:
        barn.record("animal", {"name": "Basalt", "sex": "buck"})
        barn.exchange(str(stick))
    stick.rename(tmp_path / "pocket")
    desk = Desk()
    desk.use_carrier(house, str(stick))
    app = Dashboard(Farmhand(lambda: Farm.open(house, WALL)), WALL, house, desk=desk)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        stage = Stage(app, pilot)
        await stage.settle()
        assert await looked(stage) == ""
        (tmp_path / "pocket").rename(stick)
        assert "1 received" in await looked(stage)
        assert "Basalt" in await stage.press("2")
        newest = sorted(stick.glob("*.bundle"))[-1]
        raw = newest.read_bytes()
        (stick / f"{newest.stem[:-1]}9.bundle").write_bytes(raw[:-1] + bytes([raw[-1] ^ 1]))
        assert "Refused file" in await looked(stage)
        assert await looked(stage) == ""
        assert "Refused file" in app.watching.said
        for file in stick.iterdir():
            file.unlink()
        # What the carrier lost is noticed and left anew.
        said = await looked(stage)
        assert (
            "Noticed: laptop" in said and "shows an older state" in said and " 0 sent" not in said
        )
