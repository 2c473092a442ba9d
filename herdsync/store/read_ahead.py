"""What is read of many things in few questions, before it is asked for one by one.

It holds for as long as nothing is written; whoever writes says so. Must not know what records tell.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Container, Sequence
from typing import Any

from herdsync.merge.newest import Row as Place
from herdsync.store import statements
from herdsync.store.log_table import ASKED_AT_ONCE

# State, or position, id, chain, sequence, packed bytes and checksum of the entry that is the state.
Kept = Sequence[Any]
# Places by the number of the kind, in order.
Rows = dict[int, list[Place]]

# The newest acts of so many things, and the states of so many records, are kept at hand.
THINGS_MOST = 2_000
STATES_MOST = 20_000


class ReadAhead:
    """States of records not decoded yet, and the places of the newest acts of things.

    ``at_hand``: the ids of records of which no state is wanted.
    """

    def __init__(self, connection: sqlite3.Connection, at_hand: Container[bytes]) -> None:
        self._db = connection
        self._at_hand = at_hand
        self._kept: dict[bytes, Kept] = {}
        self._rows: dict[tuple[bytes, int], Rows] = {}

    def clear(self) -> None:
        """Forget everything."""
        self._kept.clear()
        self._rows.clear()

    def forget(self, record: bytes) -> None:
        """Forget a record's state, and where anything lies: this one may lie elsewhere now."""
        self._kept.pop(record, None)
        self._rows.clear()

    def state(self, record: bytes) -> Kept | None:
        """What is kept of a record, once; None where it was not read."""
        return self._kept.pop(record, None)

    def newest(self, id: bytes, most: int) -> Rows:
        """The last ``most`` places of each kind of act that names a thing."""
        rows = self._rows.pop((id, most), None)
        if rows is None:
            rows = {}
            for kind, at, record, *kept in self._db.execute(
                statements.RECENT, {"ref": id, "most": most}
            ):
                rows.setdefault(kind, []).append((at, record))
                self._keep(record, kept)
            for places in rows.values():
                places.sort()
        return rows

    def read(self, ids: Sequence[bytes], most: int, every: Container[int], *, short: bool) -> None:
        """Read the same of many things, with the states of the last of each kind, of some of ``every``.

        Of ``short`` histories it is quicker to read all than to seek the end of each kind.
        """
        self.clear()
        asked = statements.PLACES if short else statements.RECENT_PLACES
        wanted = []
        for id in ids[:THINGS_MOST]:
            rows: Rows = {}
            for kind, at, record in self._db.execute(asked, {"ref": id, "most": most}):
                rows.setdefault(kind, []).append((at, record))
            for kind, places in rows.items():
                places.sort()
                rows[kind] = places[-most:]
                read = places[-most:] if kind in every else places[-1:]
                wanted += [record for _, record in read]
            self._rows[id, most] = rows
        for begin in range(0, len(wanted), ASKED_AT_ONCE):
            some = wanted[begin : begin + ASKED_AT_ONCE]
            for record, *kept in self._db.execute(statements.several(len(some)), some):
                self._keep(record, kept)

    def _keep(self, record: bytes, kept: Kept) -> None:
        told = kept[0] is not None or kept[1] is not None
        if told and record not in self._at_hand:
            if len(self._kept) >= STATES_MOST:
                self._kept.clear()
            self._kept[record] = kept
