"""What an exchange asks of a carrier: a shelf of immutable files that it may not trust.

A carrier can lose, double, rename, cut, alter or withhold files; it learns no plaintext and cannot make
anything count. Must not know what the files hold.
"""

from __future__ import annotations

from typing import Protocol

from msgspec import Struct

TAIL_BYTES = 32


class Shelf(Struct, frozen=True):
    """The names on a carrier, and a sentence for each thing that kept it from being seen whole."""

    names: list[str]
    notes: list[str]
    # Where asking for each file's end would be a journey of its own, the sizes as the listing told them.
    sizes: dict[str, int] = {}


class Carrier(Protocol):
    """A folder, a stick, a depot. Everything but ``names`` raises BadBytes where a file cannot be read.

    ``what`` is the word for it in a sentence: the folder, the depot.
    """

    what: str

    def names(self) -> Shelf:
        """The files worth looking at. Raises Refused where the carrier is not there at all."""

    def tail(self, name: str) -> tuple[int, bytes] | None:
        """A file's size and its last 32 bytes (fewer where it is shorter); None where it is gone."""

    def head(self, name: str, most: int) -> bytes | None:
        """A file's first ``most`` bytes; None where it is gone."""

    def read(self, name: str, most: int) -> bytes | None:
        """A file's bytes, at most ``most`` and one more; None where it is gone."""

    def create(self, name: str, data: bytes) -> bool:
        """Write a new file durably and whole, or answer False where the name is taken.

        Raises Refused where the carrier cannot be written; nothing half-written is left under ``name``.
        """

    def remove(self, name: str) -> None:
        """Take a file of one's own away; that it is gone already, or cannot be, is no fault."""
