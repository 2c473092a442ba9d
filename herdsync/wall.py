"""The outside world at its edge: the only reader of clock, randomness and environment."""

from __future__ import annotations

import functools
import os
import platform
import secrets
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

MACHINE_LETTERS = 64


class Wall:
    """Clock and randomness of one run.

    ``at`` sets this run's clock by hand; with ``ticking`` it goes on from there (a dashboard),
    otherwise it stands still (a command).
    """

    def __init__(self, at: datetime | None = None, *, ticking: bool = False) -> None:
        if at is not None and at.tzinfo is None:
            raise ValueError("the moment set by hand needs an offset")
        self._at = at
        self._ticking = ticking
        self._started = time.monotonic()

    @property
    def by_hand(self) -> bool:
        """Whether a person set this run's clock."""
        return self._at is not None

    def now(self) -> datetime:
        """The moment in UTC, to the millisecond (what an entry can carry)."""
        if self._at is None:
            moment = datetime.now(UTC)
        elif self._ticking:
            moment = self._at + timedelta(seconds=time.monotonic() - self._started)
        else:
            moment = self._at
        moment = moment.astimezone(UTC)
        return moment.replace(microsecond=moment.microsecond // 1000 * 1000)

    def entropy(self, count: int) -> bytes:
        """``count`` bytes of the system's randomness."""
        return secrets.token_bytes(count)


def environment(name: str) -> str | None:
    """The value of an environment variable, or None where it is unset or empty."""
    return os.environ.get(name) or None


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@functools.cache
def machine() -> str:
    """A name that tells this machine from another: the system's own id, else its network name.

    At most `MACHINE_LETTERS` long.
    """
    for path in (Path("/etc/machine-id"), Path("/var/lib/dbus/machine-id")):
        try:
            told = path.read_text().strip()
        except OSError:
            continue
        if told:
            return told[:MACHINE_LETTERS]
    return platform.node()[:MACHINE_LETTERS]
