"""Driving the dashboard in tests: open it on a farm, press keys, read the screen as text."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, cast

from textual.pilot import Pilot

from herdsync.desk import Desk
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm, StillWall
from tui.app import Dashboard
from tui.farmhand import Farmhand

SETTLED_PAUSES = 200
WAITED_FOR = {"reading", "doing", "looking", "writing", "apart", "default", "way"}


class Stage:
    """A running dashboard."""

    def __init__(self, app: Dashboard, pilot: Pilot[int]) -> None:
        self.app = app
        self.pilot = pilot

    async def press(self, *keys: str) -> str:
        """Press keys one by one, each after what the last one set off; the screen as text."""
        for key in keys:
            await self.pilot.press(key)
            await self.settle()
        return self.text

    async def settle(self) -> None:
        """Wait until nothing but an open question is under way."""
        for _ in range(SETTLED_PAUSES):
            await self.pilot.pause()
            asked = len(self.app.screen_stack) > 1 and self.app.screen.is_modal
            busy = {"reading", "looking", "writing"} if asked else WAITED_FOR
            if not any(worker.is_running and worker.group in busy for worker in self.app.workers):
                break
            await self.pilot.pause(0.005)
        await self.pilot.pause()

    @property
    def text(self) -> str:
        """What the screen shows, line by line."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(piece.text for piece in strip).rstrip() for strip in strips)


@asynccontextmanager
async def staged(
    farm: FakeFarm | Callable[[], Any],
    size: tuple[int, int] = (80, 24),
    wall: Any = None,
    desk: Desk | None = None,
) -> AsyncIterator[Stage]:
    """The dashboard on a farm; a call is how the farm is opened."""
    opening = farm if callable(farm) else lambda: farm
    own = cast(Wall, wall if wall is not None else StillWall())
    app = Dashboard(Farmhand(cast(Any, opening)), own, Path("/nowhere"), desk=desk)
    async with app.run_test(size=size, notifications=True) as pilot:
        stage = Stage(app, pilot)
        await stage.settle()
        yield stage
