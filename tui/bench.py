"""Timers for the bench, which are nobody's records: the iron heating, and the seconds of one touch.

They run on whatever place is open. Nothing here reads a clock: now is an argument.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from weakref import WeakKeyDictionary

from tui import words

# Both figures stand with their source in the shipped care plan, item "disbudding".
IRON_HEATS_S = 600
TOUCH_MOST_S = 10
# A touch nobody stopped is not rung for ever.
RINGS_MOST_S = 60


@dataclass
class Bench:
    """What runs at the bench of one dashboard, each since a moment."""

    iron: datetime | None = None
    touch: datetime | None = None
    _iron_rung = False

    def turn_iron(self, now: datetime) -> None:
        """Start the iron's heating time, or stop it."""
        self.iron = None if self.iron is not None else now
        self._iron_rung = False

    def turn_touch(self, now: datetime) -> None:
        """Start counting one touch, or stop."""
        self.touch = None if self.touch is not None else now

    def rings(self, now: datetime) -> bool:
        """Whether the bell is due: once for the iron, each second for a touch that must end."""
        iron = self.iron is not None and self.heating_s(now) <= 0 and not self._iron_rung
        self._iron_rung = self._iron_rung or iron
        over = self.touching_s(now) - TOUCH_MOST_S if self.touch is not None else -1
        return iron or 0 <= over <= RINGS_MOST_S

    def heating_s(self, now: datetime) -> int:
        """Seconds the iron still needs."""
        return IRON_HEATS_S - _since(self.iron, now)

    def touching_s(self, now: datetime) -> int:
        """Seconds of the touch so far."""
        return _since(self.touch, now)

    def strip(self, now: datetime) -> list[tuple[str, str, bool]]:
        """What the strip of clocks shows first: what, how long, whether it is over."""
        found = []
        if self.touch is not None:
            gone = self.touching_s(now)
            over = gone >= TOUCH_MOST_S
            found.append(("touch", f"{gone} s OFF NOW" if over else f"{gone} s", over))
        if self.iron is not None:
            left = self.heating_s(now)
            found.append(
                ("iron", words.countdown(left) if left > 0 else "hot: prove it", left <= 0)
            )
        return found


def _since(start: datetime | None, now: datetime) -> int:
    return int((now - start).total_seconds()) if start is not None else 0


_BENCHES: WeakKeyDictionary[object, Bench] = WeakKeyDictionary()


def bench_of(home: object) -> Bench:
    """The bench of a dashboard."""
    return _BENCHES.setdefault(home, Bench())
