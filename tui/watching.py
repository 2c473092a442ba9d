"""The exchange by itself: while the folder or stick last used is there, what changed is exchanged.

Looking at the folder and exchanging are work of the farm's thread; here is only when, and what is said.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from herdsync.answers import Exchanged
from herdsync.desk import carrier_mark
from tui.everywhere import carrier_path
from tui.farmhand import Trouble

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.app import Dashboard

LOOKS_S = 5.0
# What this laptop wrote itself changes no folder: it is carried out at least this often.
AGAIN = timedelta(seconds=60)


class Watching:
    """Of one carrier: whether it is there, how it looked last, what was said of it."""

    def __init__(self, home: Dashboard) -> None:
        self._home = home
        self._mark = ""
        self._last: datetime | None = None
        self._looking = False
        self.said = ""

    async def look(self) -> str:
        """Exchange where the carrier came, changed or is due again; what to say, empty for nothing."""
        home = self._home
        carrier = home.carrier
        if self._looking or not carrier or not home.desk.by_itself(home.folder):
            return ""
        self._looking = True
        try:
            return await self._look(carrier)
        finally:
            self._looking = False

    async def _look(self, carrier: str) -> str:
        mark = await self._home.hand.do(lambda: carrier_mark(carrier))
        came = bool(mark) and not self._mark
        if not mark:
            gone, self._mark = bool(self._mark), ""
            return self._say(f"{carrier} is no longer there.") if gone else ""
        now = self._home.now()
        due = self._last is None or now - self._last >= AGAIN
        if mark == self._mark and not due:
            return ""
        self._last = now
        try:
            moved = await self._home.hand.ask(lambda farm: _exchanged(farm, carrier_path(carrier)))
        except Trouble as trouble:
            self._mark = mark
            told = f"The exchange through {carrier} did not go: {trouble}"
            return "" if told == self.said else self._say(told)
        self._mark = await self._home.hand.do(lambda: carrier_mark(carrier))
        if moved is None:
            return ""
        told = f"By itself through {carrier}: {moved.sent} sent, {moved.received} received."
        if moved.conflicts and moved.received:
            told += f" Conflicts to look at (6): {moved.conflicts}."
        told += "".join(f" Refused {one.what}: {one.why}" for one in moved.refused[:1])
        if moved.sent or moved.received or moved.refused:
            return self._say(told)
        if came:
            # Told on Partners alone: nothing moved, so nobody is spoken to.
            self.said = f"{carrier} is there; nothing new on it."
        return ""

    def _say(self, told: str) -> str:
        self.said = told
        return told


def _exchanged(farm: Farm, carrier: str) -> Exchanged | None:
    """One exchange; None on a laptop that may not write."""
    return None if farm.read_only else farm.exchange(carrier)
