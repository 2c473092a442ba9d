"""Keys typed ahead: what is pressed while a form is on its way, or while a line is being written.

Such a key is meant for what comes next, not for the old screen: it is held, and given on in order
once that is there. Without this a second ``d`` would do a line twice that is done already.
Must not know what any key means, but that escape drops what is held.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from textual import events
from textual.worker import Worker

from tui.working import work_on

if TYPE_CHECKING:
    from tui.app import Dashboard

HELD_MOST = 64
# Between two keys given on: each must have done its work before the next is aimed.
APART_S = 0.02
DROPS = "escape"
ALWAYS_THROUGH = frozenset({"ctrl+q", "ctrl+c", DROPS})


class TypedAhead:
    """The keys held for one dashboard, and the deeds under way that make it hold them."""

    def __init__(self, home: Dashboard) -> None:
        self._home = home
        self._deeds: list[Worker[Any]] = []
        self._held: list[events.Key] = []
        self._given: events.Key | None = None
        self._giving = False

    @property
    def holding(self) -> bool:
        """Whether a key pressed now would meet a screen that is about to change."""
        if not self._home.screen_stack:
            return False
        screen = self._home.screen
        if screen.is_modal:
            return not getattr(screen, "ready", True)
        self._deeds = [deed for deed in self._deeds if not deed.is_finished]
        return bool(self._deeds)

    @property
    def idle(self) -> bool:
        """Whether nothing is held and nothing is on its way."""
        return not (self.holding or self._held or self._giving)

    def wait_for(self, deed: Worker[Any]) -> None:
        """Until this deed asks something or is done, keys wait."""
        self._deeds.append(deed)

    def take(self, key: events.Key) -> bool:
        """Whether a key is held back; escape drops what is held."""
        if key.key == DROPS:
            self._held.clear()
        behind = bool(self._held) and key is not self._given
        if key.key in ALWAYS_THROUGH or not (behind or (self.holding and not self._taken(key))):
            return False
        if len(self._held) < HELD_MOST:
            self._held.append(key)
        return True

    def _taken(self, key: events.Key) -> bool:
        """Whether the form in front goes on with this key while it looks something up."""
        takes = getattr(self._home.screen, "takes", None)
        return takes is not None and bool(takes(key))

    def give(self) -> None:
        """Give on what was held, once the screen is ready for it."""
        if self._held and not self._giving and not self.holding:
            self._giving = True
            work_on(self._home, self._give, "keys")

    async def _give(self) -> None:
        try:
            while self._held and not self.holding:
                key = self._held.pop(0)
                self._given = events.Key(key.key, key.character)
                self._home.post_message(self._given)
                await asyncio.sleep(APART_S)
        finally:
            self._giving = False
