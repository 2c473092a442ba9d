"""What this laptop remembers of its exchanges: bundles seen, frontiers heard, numbers spent, notes.

None of it is part of the farm: it stays on this laptop, and what is true of the log never rests on it.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager

import msgspec

from herdsync.store.carried import Sighting
from herdsync.store.view import View

Frontier = list[tuple[bytes, int, bytes]]

_heard = msgspec.msgpack.Decoder(tuple[int, Frontier])
_sighting = msgspec.msgpack.Decoder(Sighting)


class Remembering(ABC):
    """The part of a store that keeps what exchanges leave behind."""

    @abstractmethod
    def reading(self) -> AbstractContextManager[View]:
        """One consistent view of everything stored."""

    @abstractmethod
    def _transaction(self) -> AbstractContextManager[View]:
        """One transaction."""

    def sighted(self, name: str, size: int, tail: bytes | None) -> Sighting | None:
        """The bundle of this name and size seen before; ``tail`` None: the one there is, if only one."""
        sql = (
            "SELECT told FROM sighting WHERE name = ?1 AND size = ?2 AND (?3 IS NULL OR tail = ?3)"
        )
        with self.reading() as view:
            rows = view.connection.execute(f"{sql} LIMIT 2", (name, size, tail)).fetchall()
            return _sighting.decode(rows[0][0]) if len(rows) == 1 else None

    def sightings(self) -> list[Sighting]:
        """Every bundle remembered."""
        with self.reading() as view:
            rows = view.connection.execute("SELECT told FROM sighting").fetchall()
            return [_sighting.decode(told) for (told,) in rows]

    def remember(self, sighting: Sighting) -> None:
        """Remember a bundle."""
        told = msgspec.msgpack.encode(sighting)
        row = (sighting.name, sighting.size, sighting.tail, told)
        with self._transaction() as view:
            view.connection.execute("INSERT OR REPLACE INTO sighting VALUES (?, ?, ?, ?)", row)

    def forget(self, sighting: Sighting) -> None:
        """Forget a bundle that was taken away."""
        sql = "DELETE FROM sighting WHERE name = ? AND size = ? AND tail = ?"
        with self._transaction() as view:
            view.connection.execute(sql, (sighting.name, sighting.size, sighting.tail))

    def take_bundle_number(self) -> int:
        """The next number for a bundle of this device; never given twice."""
        with self._transaction() as view:
            number = int(view.about("bundle") or b"0") + 1
            view.note("bundle", str(number).encode())
            return number

    def noted(self, name: str) -> bytes | None:
        """A note an exchange left, or None."""
        with self.reading() as view:
            return view.about(f"exchange-{name}")

    def note(self, name: str, told: bytes) -> None:
        """Keep a note of an exchange; one that is the same already costs nothing."""
        if self.noted(name) != told:
            with self._transaction() as view:
                view.note(f"exchange-{name}", told)

    def wrong_codes(self, request: bytes) -> int:
        """How many wrong codes a request to join has met."""
        with self.reading() as view:
            return int(view.about(f"wrong-{request.hex()}") or b"0")

    def count_wrong_code(self, request: bytes) -> None:
        """One more."""
        with self._transaction() as view:
            name = f"wrong-{request.hex()}"
            view.note(name, str(int(view.about(name) or b"0") + 1).encode())

    def heard(self, device: bytes, frontier: Frontier, clock_ms: int) -> None:
        """Keep the newest frontier a device has signed."""
        told = msgspec.msgpack.encode((clock_ms, frontier))
        with self._transaction() as view:
            earlier = _heard_in(view).get(device)
            if earlier is None or _reach(earlier[1]) <= _reach(frontier):
                view.connection.execute(
                    "INSERT OR REPLACE INTO heard VALUES (?, ?)", (device, told)
                )

    def last_heard(self) -> dict[bytes, tuple[int, Frontier]]:
        """What each other device was last known to have, with its own clock's reading (ms)."""
        with self.reading() as view:
            return _heard_in(view)


def _heard_in(view: View) -> dict[bytes, tuple[int, Frontier]]:
    rows = view.connection.execute("SELECT device, told FROM heard").fetchall()
    return {device: _heard.decode(told) for device, told in rows}


def _reach(frontier: Frontier) -> int:
    return sum(sequence + 1 for _, sequence, _ in frontier)
