"""A picture of a place as an SVG file, for papers about the program: ``python -m tui.picture``.

Takes the farm's folder, the place, the file to write, and a size such as 100x30.
"""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from textual.pilot import Pilot

from herdsync.deeds import PLACES
from herdsync.farm import Farm
from herdsync.wall import Wall
from tui.app import Dashboard
from tui.farmhand import Farmhand

SETTLES_S = 1.5


async def picture(folder: Path, place: str, out: Path, size: tuple[int, int]) -> None:
    """Open the dashboard unseen, go to the place, write what it shows."""
    wall = Wall()
    app = Dashboard(Farmhand(lambda: Farm.open(folder, wall)), wall, folder)

    async def pilot_there(pilot: Pilot[object]) -> None:
        await pilot.pause(SETTLES_S)
        await pilot.press(next(one.key for one in PLACES if one.id == place))
        await pilot.pause(SETTLES_S)
        out.write_text(app.export_screenshot(title="herdsync"), encoding="utf-8")
        app.exit(0)

    await app.run_async(headless=True, size=size, auto_pilot=pilot_there)


def main() -> None:
    """Read the arguments and draw."""
    folder, place, out, size = sys.argv[1:5]
    columns, _, lines = size.partition("x")
    asyncio.run(picture(Path(folder), place, Path(out), (int(columns), int(lines))))


if __name__ == "__main__":
    main()
