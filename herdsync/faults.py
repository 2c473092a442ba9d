"""The families of fault. Each is a sentence: what was found, why it cannot stand, how to mend it.

A third family, our own mistakes, is Python's ``AssertionError``: the program stops.
"""

from __future__ import annotations


class Fault(Exception):
    """A fault a keeper can read: ``what`` happened and the next step to ``mend`` it."""

    def __init__(self, what: str, mend: str = "") -> None:
        super().__init__(what, mend)
        self.what = what
        self.mend = mend

    def __str__(self) -> str:
        return f"{self.what} {self.mend}".strip()


class Refused(Fault):
    """What the keeper asked cannot stand; nothing was written."""


class BadBytes(Fault):
    """Bytes that came from elsewhere (a carrier, a file, a partner) are wrong; they were set aside."""


class DamagedFarm(Fault):
    """This farm's own stored bytes are wrong; the farm opens to read at most."""
