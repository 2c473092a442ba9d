"""A picture of the dashboard as an SVG file, for papers about the program: ``python -m tui.picture``.

Takes the farm's folder, the place, the file to write, a size such as 100x30, and keys to press there.
The clock is this machine's, or stands at HERDSYNC_AT: a moment with its offset.
"""

from __future__ import annotations

import asyncio
import re
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from textual.pilot import Pilot

from herdsync.deeds import PLACES, place_named
from herdsync.desk import Desk
from herdsync.farm import Farm
from herdsync.wall import Wall, environment
from tui.app import HOME, Dashboard
from tui.farmhand import Farmhand

USAGE = "python -m tui.picture FARM PLACE OUT.svg 100x30 [KEY ...]"
UNDER_WAY = frozenset({"default", "reading", "doing", "looking", "keys"})
SETTLES_S, WAITS_MOST_S = 0.2, 60
MISUSED = 2
# Fonts fetched from elsewhere: the reader's own monospace does, and nothing is fetched.
FETCHED_FONTS = re.compile(r"@font-face \{.*?\}\s*", re.DOTALL)
# The knobs of a window that no terminal of ours has.
KNOBS = re.compile(r'<g transform="translate\(26,22\)">.*?</g>\s*', re.DOTALL)


async def picture(
    folder: Path, place: str, out: Path, size: tuple[int, int], keys: Sequence[str] = ()
) -> None:
    """Open the dashboard unseen, go to the place, press the keys, write what it shows."""
    at = environment("HERDSYNC_AT")
    wall = Wall(datetime.fromisoformat(at) if at else None)
    app = Dashboard(Farmhand(lambda: Farm.open(folder, wall)), wall, folder, desk=Desk())
    way = [] if place == HOME else [one.key for one in PLACES if one.id == place]

    async def pilot_there(pilot: Pilot[object]) -> None:
        await _settled(app, pilot)
        for key in (*way, *keys):
            await pilot.press(key)
            await _settled(app, pilot)
        drawn = app.export_screenshot(title="herdsync")
        out.write_text(plainly(drawn), encoding="utf-8")
        app.exit(0)

    await app.run_async(headless=True, size=size, auto_pilot=pilot_there)


def plainly(drawn: str) -> str:
    """The screen alone: it fetches nothing from anywhere, and is the same text whenever it is made."""
    told = (
        KNOBS.sub("", FETCHED_FONTS.sub("", drawn))
        .replace("<text ", '<text xml:space="preserve" ')
        .replace("Fira Code", "DejaVu Sans Mono")
    )
    return re.sub(r"terminal-\d+", "herdsync", told)


async def _settled(app: Dashboard, pilot: Pilot[object]) -> None:
    """Until nothing is under way but a question that is open."""
    async with asyncio.timeout(WAITS_MOST_S):
        await pilot.pause(SETTLES_S)
        while not app.screen.is_modal and any(
            one.is_running and one.group in UNDER_WAY for one in app.workers
        ):
            await pilot.pause(SETTLES_S)
    await pilot.pause(SETTLES_S)


def main(words: Sequence[str]) -> int:
    """Read the arguments and draw; the exit code."""
    size = re.fullmatch(r"(\d{2,3})x(\d{2,3})", words[3]) if len(words) > 3 else None
    place = place_named(words[1]) if size is not None else None
    if size is None or place is None:
        print(f"Say: {USAGE}", file=sys.stderr)
        return MISUSED
    room = int(size[1]), int(size[2])
    asyncio.run(picture(Path(words[0]), place.id, Path(words[2]), room, words[4:]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
