"""Every place, board, picture and form as kept, at three sizes.

Where a change is right, write the frames anew: ``python -m tests.tui.test_barn_frames``.
"""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import staged

SIZES = [(80, 24), (60, 20), (160, 48)]
FRAMES = Path(__file__).parent / "frames" / "barn"
# On a busy machine the last line beside a list may be drawn a moment after its keys.
WAITS_MOST, WAIT_S = 20, 0.05
# From the place before: the keys, and what the frame is called.
WALK: tuple[tuple[tuple[str, ...], str], ...] = (
    (("2",), "herd"),
    (("j",), "pens"),
    (("escape", "end", "enter"), "animal"),
    (("j",), "growth"),
    (("right",), "family"),
    (("escape", "escape", "3"), "kidding"),
    (("t",), "kid-board"),
    (("escape", "j"), "calendar"),
    (("escape", "4"), "medicine"),
    (("v",), "volume"),
    (("escape", "5"), "milk"),
    (("v",), "lactations"),
    (("escape", "j"), "milk-drawn"),
    (("escape", "m"), "milking"),
    (("escape", "8"), "partners"),
    (("b",), "exchange"),
    (("escape", "l"), "plan"),
    (("escape", "s"), "settings"),
    (("escape", "7"), "trail"),
    (("n",), "narrowed"),
    (("escape", "6"), "conflicts"),
    (("v",), "another-value"),
    (("escape", "f4"), "clocks"),
    (("escape", "1"), "rounds"),
    (("h",), "help"),
    (("escape", "r"), "record"),
    (("escape", "f"), "find"),
    (("escape", "f3"), "walk"),
    (("right",), "walk-on"),
)


async def frames(size: tuple[int, int], *, wanted: bool = True) -> dict[str, str]:
    """Every frame of the walk at a size, by name; a frame that is ``wanted`` is waited for."""
    found = {}
    async with staged(FakeFarm(), size) as stage:
        for keys, name in WALK:
            await stage.press(*keys)
            for _ in range(WAITS_MOST):
                if wanted and kept(name, size).read_text("utf-8") == stage.text:
                    break
                await stage.pilot.pause(WAIT_S)
            found[name] = stage.text
    return found


def kept(name: str, size: tuple[int, int]) -> Path:
    return FRAMES / f"{name}-{size[0]}x{size[1]}.txt"


@pytest.mark.parametrize("size", SIZES)
async def test_every_frame_is_as_kept(size: tuple[int, int]) -> None:
    found = await frames(size)
    differing = {
        name: text for name, text in found.items() if kept(name, size).read_text("utf-8") != text
    }
    assert list(differing) == [], "\n\n".join(differing.values())
    assert all(len(text.splitlines()) <= size[1] for text in found.values())


def write_anew() -> None:
    """Keep the frames as they are now."""
    FRAMES.mkdir(parents=True, exist_ok=True)
    for size in SIZES:
        for name, text in asyncio.run(frames(size, wanted=False)).items():
            kept(name, size).write_text(text, "utf-8")


if __name__ == "__main__":
    write_anew()
