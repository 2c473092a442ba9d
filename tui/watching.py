"""The exchange by itself: while the folder or stick last used is there, what changed is exchanged.

Looking at the folder and exchanging are work of the farm's thread; here is only when, and what is said.
What was refused or noticed is said once, until it changes; on Partners it stands as long as it holds.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from herdsync.desk import carrier_mark
from herdsync.meetings import Exchanged
from tui.everywhere import carrier_path
from tui.farmhand import Trouble

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.app import Dashboard

LOOKS_S = 5.0
# What this laptop wrote itself changes no folder: it is carried out at least this often.
AGAIN = timedelta(seconds=60)


class Watching:
    """Of one carrier: whether it is there, how it looked last, what was said of it, what still holds."""

    def __init__(self, home: Dashboard) -> None:
        self._home = home
        self._carrier = ""
        self._mark = ""
        self._last: datetime | None = None
        self._looking = False
        self._told = ""
        self._fault = ""
        self._standing: list[str] = []

    @property
    def said(self) -> str:
        """The last word of this carrier, and every sentence that still holds."""
        holds = [one for one in self._standing if one not in self._told]
        return " ".join([self._told, *holds]).strip()

    async def look(self) -> str:
        """Exchange where the carrier came, changed or is due again; what to say, empty for nothing."""
        home = self._home
        carrier = home.carrier
        if self._looking or not carrier or not home.desk.by_itself(home.folder):
            return ""
        if carrier != self._carrier:
            self._carrier, self._mark, self._last = carrier, "", None
            self._told, self._fault, self._standing = "", "", []
        self._looking = True
        try:
            return await self._look(carrier)
        finally:
            self._looking = False

    async def _look(self, carrier: str) -> str:
        mark = await self._home.hand.do(lambda: carrier_mark(carrier))
        came = bool(mark) and not self._mark
        if not mark:
            return self._gone(carrier)
        now = self._home.now()
        due = self._last is None or now - self._last >= AGAIN
        if mark == self._mark and not due:
            return ""
        self._last = now
        try:
            moved = await self._home.hand.ask(lambda farm: _exchanged(farm, carrier_path(carrier)))
        except Trouble as trouble:
            self._mark = mark
            known, self._fault = self._fault, str(trouble)
            told = f"The exchange through {carrier} did not go: {trouble}"
            return self._say(told) if self._fault != known else ""
        self._mark = await self._home.hand.do(lambda: carrier_mark(carrier))
        mended, self._fault = bool(self._fault), ""
        return self._went(carrier, moved, came=came or mended) if moved is not None else ""

    def _gone(self, carrier: str) -> str:
        gone, self._mark = bool(self._mark), ""
        # What holds there is worth a word again when it comes back.
        self._fault, self._standing = "", []
        return self._say(f"{carrier} is no longer there.") if gone else ""

    def _went(self, carrier: str, moved: Exchanged, *, came: bool) -> str:
        known, self._standing = self._standing, moved.told
        new = [one for one in moved.told if one not in known]
        if moved.sent or moved.received or new:
            told = [f"By itself through {carrier}: {moved.sent} sent, {moved.received} received."]
            if moved.conflicts and moved.received:
                told.append(f"Conflicts to look at (6): {moved.conflicts}.")
            more = [f"{len(new) - 1} more on Partners (8)."] if len(new) > 1 else []
            return self._say(" ".join([*told, *new[:1], *more]))
        if came:
            # Told on Partners alone: nothing moved, so nobody is spoken to.
            self._told = f"{carrier} is there; nothing new on it."
        return ""

    def _say(self, told: str) -> str:
        self._told = told
        return told


def _exchanged(farm: Farm, carrier: str) -> Exchanged | None:
    """One exchange; None on a laptop that may not write."""
    return None if farm.read_only else farm.exchange(carrier)
