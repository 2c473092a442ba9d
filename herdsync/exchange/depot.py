"""A depot as a carrier: files in an existing store that a library reaches, read with suspicion.

What the store promises about them was found out by trying (see `probe`); what it does not promise is
made up for by looking before writing and reading back afterwards. Must not know which store it is, nor
what the files hold.
"""

from __future__ import annotations

import contextlib
from typing import Protocol

from herdsync.exchange.carrier import TAIL_BYTES, Shelf
from herdsync.exchange.folder import passed_over
from herdsync.exchange.probe import Guarantees
from herdsync.faults import Refused
from herdsync.safe_text import safe_text

FILES = 100_000
WRITE_TRIES = 3


class Store(Protocol):
    """What a library does for a depot. Everything raises Refused where the store cannot be reached."""

    # The depot as sentences name it, without any secret.
    where: str

    def listing(self, most: int) -> dict[str, int]:
        """The files that lie there and their sizes, at most ``most`` of them."""

    def part(self, name: str, start: int, length: int) -> bytes | None:
        """Bytes of a file from ``start``, at most so many; None where there is no such file."""

    def put(self, name: str, data: bytes) -> bool:
        """Write a file whole, or answer False where the store says that the name is taken."""

    def delete(self, name: str) -> None:
        """Take a file away, if it is there."""

    def close(self) -> None:
        """Let go of the store."""


class Depot:
    """A store as a carrier; ``guarantees`` are what it was found to promise."""

    what = "the depot"

    def __init__(self, store: Store, guarantees: Guarantees) -> None:
        self._store = store
        self._guarantees = guarantees
        self._sizes: dict[str, int] = {}

    def names(self) -> Shelf:
        """The files that are neither hidden nor unfinished, sorted, with their sizes. Raises Refused."""
        listed = self._store.listing(FILES)
        notes = []
        if len(listed) >= FILES:
            notes.append(
                f"The depot holds {FILES:,} files or more; the rest was not looked at. "
                "Use a place of its own for the exchange."
            )
        self._sizes = {name: size for name, size in listed.items() if not passed_over(name)}
        return Shelf(sorted(self._sizes), notes, dict(self._sizes))

    def tail(self, name: str) -> tuple[int, bytes] | None:
        """A file's size, as last listed, and its last 32 bytes; None where it is gone."""
        size = self._sizes.get(name)
        if size is None:
            return None
        end = self._store.part(name, max(0, size - TAIL_BYTES), TAIL_BYTES)
        return None if end is None else (size, end)

    def head(self, name: str, most: int) -> bytes | None:
        """A file's first bytes; None where it is gone."""
        return self._store.part(name, 0, most)

    def read(self, name: str, most: int) -> bytes | None:
        """A file's bytes, at most one more than ``most``; None where it is gone."""
        return self._store.part(name, 0, most + 1)

    def create(self, name: str, data: bytes) -> bool:
        """Write a new file and read it back, or answer False where the name is taken. Raises Refused.

        A file that is there with these very bytes is ours: the answer to an earlier try was lost.
        """
        if not self._guarantees.create_once:
            there = self._store.part(name, 0, len(data) + 1)
            if there is not None:
                return there == data
        made = self._store.put(name, data)
        back = self._store.part(name, 0, len(data) + 1)
        if back == data:
            return True
        if not made:
            return False
        if back is not None and self._guarantees.deletes and self._guarantees.create_once:
            with contextlib.suppress(Refused):
                self._store.delete(name)
        raise Refused(
            f"{safe_text(self._store.where)} gave back other bytes than were written.",
            "Exchange again; if it stays so, use another depot.",
        )

    def remove(self, name: str) -> None:
        """Take a file of one's own away; that it is gone already, or cannot be, is no fault."""
        with contextlib.suppress(Refused):
            self._store.delete(name)
