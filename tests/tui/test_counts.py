"""Heads counted that do not agree are seen where the keeper works, and counted again with one key."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.sights import HeadsLine
from herdsync.wall import Wall
from tests.tui.fake_farm import DOES, FakeFarm
from tests.tui.stage import staged
from tests.tui.test_plain import printed
from tests.tui.test_real_farm import MORNING, founded, laptop

SHORT = "11 counted, 12 on record: look who is missing"
WHOLE = (
    f"11 heads were counted in Doe barn on 2026-03-13, the records put 12 there ({', '.join(DOES)})"
)


class Miscounted(FakeFarm):
    """One head is missing in the doe barn, and one too many stands in a pen without work."""

    def __init__(self) -> None:
        super().__init__()
        self.counts = [
            HeadsLine("c1", "Doe barn", "2026-03-13", 11, 12, list(DOES), WHOLE, SHORT),
            HeadsLine("c2", "Hill", "2026-03-12", 1, 0, [], "1 head was counted on the Hill",
                      "1 counted, 0 on record: look who is not written down"),
        ]  # fmt: skip


@pytest.fixture(autouse=True)
def keys_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))


async def test_a_count_that_does_not_agree_is_work_on_its_pen() -> None:
    async with staged(Miscounted(), (100, 40)) as stage:
        text = await stage.press("down")
        lines = text.splitlines()
        heading = next(at for at, line in enumerate(lines) if "Doe barn  14 to do" in line)
        assert "▲ count" in lines[heading + 1] and "11 counted, 12 on" in lines[heading + 1]
        assert "Hill  1 to do, 1 press" in text and "1 counted, 0 on" in text
        stage.app.screen.lines.point("heads c1")  # type: ignore[attr-defined]
        told = " ".join((await stage.press()).split())
        assert SHORT in told and "11 heads were counted in Doe" in told
        # In the order of what presses it comes first.
        assert "▲ count" in (await stage.press("o")).splitlines()[4]


async def test_the_lines_of_a_pen_are_selected_without_its_count() -> None:
    async with staged(Miscounted()) as stage:
        stage.app.screen.lines.point("heads c1")  # type: ignore[attr-defined]
        await stage.press("a")
        assert stage.app.screen.lines.chosen == {"w0", *(f"w-{name}" for name in DOES)}  # type: ignore[attr-defined]


@pytest.mark.parametrize("size", [(80, 40), (160, 48)])
async def test_herd_and_pen_map_tell_it_beside_the_pen(size: tuple[int, int]) -> None:
    async with staged(Miscounted(), size) as stage:
        text = await stage.press("2")
        assert f"Doe barn  12 animals  ▲ {SHORT}" in text
        assert "Hill  0 animals  ▲ 1 counted, 0 on record" in text
        text = await stage.press("j")
        assert "▲ 11 counted, 12 here" in text


@pytest.mark.parametrize("word", ["rounds", "herd", "pens", "walk:Doe barn"])
def test_it_is_printed_too(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(Miscounted, word, capsys)
    assert SHORT in told
    if word != "herd":
        assert WHOLE in told


async def test_it_is_counted_again_by_keys_alone(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("pen", {"name": "Barn"})
        for name in ("Agate", "Opal"):
            farm.record("animal", {"name": name, "sex": "doe", "born": "2022-01-01"})
            farm.record("pen-move", {"pen": "Barn", "on": "2026-03-01"}, [name])
        count = farm.record("counted-heads", {"pen": "Barn", "on": "2026-03-13", "heads": "1"}).id
    async with laptop(folder, (100, 40)) as stage:
        assert "1 counted, 2 on record" in stage.text
        lines = stage.app.screen.lines  # type: ignore[attr-defined]
        lines.point(f"heads {count}")
        assert "count of heads in Barn" in await stage.press("enter")
        await stage.press("escape")
        lines.point(f"heads {count}")
        text = await stage.press("d")
        assert "Count Barn" in text
        await stage.type("2")
        text = await stage.press("ctrl+s")
        assert "1 counted" not in text and "▲ count" not in text
    with Farm.open(folder, Wall(MORNING)) as farm:
        assert farm.heads() == []
