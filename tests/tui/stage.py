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
STILL_TURNS = 4
WAITED_FOR = {"reading", "doing", "looking", "writing", "apart", "default", "way", "keys"}


def _ready() -> int:
    """How many callbacks the running loop has to go on with at once; asyncio tells it to nobody."""
    return len(cast(Any, asyncio.get_running_loop())._ready)


def _waits(pump: Any) -> bool:
    """Whether one of Textual's message pumps has nothing to do but to wait for a message."""
    ended = pump._task is None or pump._task.done()
    queue = pump._message_queue
    return ended or (queue.empty() and bool(queue.ready_event._waiters))


class Stage:
    """A running dashboard."""

    def __init__(self, app: Dashboard, pilot: Pilot[int]) -> None:
        self.app = app
        self.pilot = pilot

    async def press(self, *keys: str) -> str:
        """Press keys one by one, each after what the last one set off; the screen as text."""
        await self.settle()
        for key in keys:
            self._send(key)
            await self.settle()
        return self.text

    async def type(self, text: str) -> str:
        """Type quickly, as on a line of a form; the screen as text."""
        for letter in text:
            self._send(KEY_NAMES.get(letter, letter), letter)
        await self.settle()
        return self.text

    def _send(self, key: str, character: str = "") -> None:
        told = character or SIGNS.get(key) or (key if len(key) == 1 else None)
        self.app.post_message(events.Key(KEY_NAMES.get(key, key), told))

    async def settle(self) -> None:
        """Wait until nothing but an open question is under way, and all is drawn."""
        async with asyncio.timeout(WAITS_MOST_S):
            still = 0
            while still < STILL_TURNS:
                await asyncio.sleep(0 if self._quiet else 0.002)
                if self._quiet and self._drawing_left:
                    # What the screen's own timer does when it comes round.
                    self.app.screen._on_timer_update()
                    still = 0
                else:
                    still = still + 1 if self._quiet else 0

    @property
    def _quiet(self) -> bool:
        """Whether no worker, no message and nothing else but drawing is left to go on with.

        Timers are not waited for: the clock on the screen is never done. Textual tells this to
        nobody, so it is read where it keeps it.
        """
        return not (self._busy or _ready() or self._messages_left)

    @property
    def _messages_left(self) -> bool:
        pumps: list[Any] = [self.app, *self.app.screen_stack, *self.app._registry]
        return any(one._next_callbacks or not _waits(one) for one in pumps)

    @property
    def _drawing_left(self) -> bool:
        # A widget that wants to be drawn says so in a message; the screen then waits for a timer.
        screen = self.app.screen
        return bool(screen._dirty_widgets or screen._callbacks or screen._layout_required)

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
