"""A day of the year, for work that comes with a season."""

from __future__ import annotations

import re
from datetime import date
from typing import ClassVar

from herdsync.faults import BadBytes, Refused
from herdsync.kinds.forms import Form, Reading, Value
from herdsync.kinds.texts import NAME_LIMIT, stored_text

# 29 February is a day of the year; whoever meets it in a common year takes 1 March.
_LEAP_YEAR = 2000
_FORM = re.compile(r"(\d{2})-(\d{2})", re.ASCII)


class SeasonDay(Form, frozen=True):
    """A month and day that come every year, ``MM-DD``."""

    word: ClassVar[str] = "day of the year"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return "a month and day such as 11-01"

    def parse(self, text: str, reading: Reading) -> Value:
        """The day as ``MM-DD``. Raises Refused."""
        del reading
        typed = text.strip()
        if not _is_day(typed):
            raise Refused(f"{typed[:60]!r} is no day of the year.", f"Write {self.takes}.")
        return typed

    def check(self, value: object) -> None:
        """Raise BadBytes unless a day of the year."""
        if not _is_day(stored_text(value, NAME_LIMIT, "a day of the year")):
            raise BadBytes("Expected a day of the year such as 11-01.")


def _is_day(text: str) -> bool:
    found = _FORM.fullmatch(text)
    if not found:
        return False
    try:
        date(_LEAP_YEAR, int(found[1]), int(found[2]))
    except ValueError:
        return False
    return True


SEASON_DAY = SeasonDay()
