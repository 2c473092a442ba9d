"""Driving the dashboard in tests: open it on a farm, press keys, read the screen as text."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, cast

from textual import events
from textual.pilot import Pilot

from herdsync.desk import Desk
from herdsync.wall import Wall
from tests.tui.fake_farm import FakeFarm, StillWall
from tui.app import Dashboard
from tui.farmhand import Farmhand

WAITS_MOST_S = 60.0  # for what never ends; what is slow on a busy machine is waited for
KEY_NAMES = {" ": "space", "/": "slash", "-": "minus", "_": "underscore", ".": "full_stop"}
SIGNS = {name: sign for sign, name in KEY_NAMES.items()}
ROUNDS = 3
WAITED_FOR = {"reading", "doing", "looking", "writing", "apart", "default", "way", "keys"}


class Stage:
    """A running dashboard."""

    def __init__(self, app: Dashboard, pilot: Pilot[int]) -> None:
        self.app = app
        self.pilot = pilot

    async def press(self, *keys: str) -> str:
        """Press keys one by one, each after what the last one set off; the screen as text."""
        for key in keys:
            self._send(key)
            await self.settle()
        await self._drawn()
        return self.text

    async def type(self, text: str) -> str:
        """Type quickly, as on a line of a form; the screen as text."""
        for letter in text:
            self._send(KEY_NAMES.get(letter, letter), letter)
        await self.settle()
        await self._drawn()
        return self.text

    def _send(self, key: str, character: str = "") -> None:
        told = character or SIGNS.get(key) or (key if len(key) == 1 else None)
        self.app.post_message(events.Key(KEY_NAMES.get(key, key), told))

    async def settle(self) -> None:
        """Wait until nothing but an open question is under way."""
        async with asyncio.timeout(WAITS_MOST_S):
            await self._passed_on()
            while self._busy:
                await asyncio.sleep(0.002)
                await self._passed_on()

    async def _passed_on(self) -> None:
        """Until every message there is now was taken, and those it led to."""
        for _ in range(ROUNDS):
            # A key goes from the widget that has the focus up to the app, from one queue to the next.
            focused = self.app.screen.focused or self.app.screen
            for one in focused.ancestors_with_self:
                taken = asyncio.Event()
                if one.call_later(taken.set):
                    await taken.wait()

    async def _drawn(self) -> None:
        """Until what was asked to be laid out and drawn is."""
        for _ in range(2):
            drawn = asyncio.Event()
            if self.app.screen.call_after_refresh(drawn.set):
                await drawn.wait()
            await self.pilot._wait_for_screen()

    @property
    def _busy(self) -> bool:
        asked = len(self.app.screen_stack) > 1 and self.app.screen.is_modal
        groups = {"reading", "looking", "writing", "keys"} if asked else WAITED_FOR
        under_way = any(one.is_running and one.group in groups for one in self.app.workers)
        return under_way or not self.app.typed_ahead.idle

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
        await stage.press()
        yield stage
