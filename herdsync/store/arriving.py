"""Entries on their way into the log's tables: each has its place at once, their rows are written together."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from zlib import crc32

from herdsync.log.chain import Chain, Settled
from herdsync.log.entry import Entry, pack
from herdsync.log.trust import AUTHORITY_VERBS

AtHand = Callable[[tuple[bytes, int, int, int, int]], object]


class Arriving:
    """Entries that follow position ``last``; ``at_hand`` is told where each stands before it is stored."""

    def __init__(self, connection: sqlite3.Connection, last: int, at_hand: AtHand) -> None:
        self._db = connection
        self._last = last
        self._at_hand = at_hand
        self._entries: list[tuple[object, ...]] = []
        self._contacts: list[tuple[int, int, int, int]] = []
        self._chains: dict[int, Chain] = {}
        self._authority: list[tuple[int]] = []

    def add(self, entry: Entry, settled: Settled, checked: int) -> None:
        """Take an entry that found its place, to be written with the next `store`."""
        id, header, chain, packed = entry.id, entry.header, settled.chain.number, pack(entry)
        sequence, height = header.sequence, header.height
        self._last = pos = self._last + 1
        self._at_hand((id, pos, chain, sequence, height))
        row = (pos, id, chain, sequence, height, packed, crc32(packed), checked)
        self._entries.append(row)
        self._chains[chain] = settled.chain
        if settled.contacts:
            self._contacts += [(c.chain, c.sequence, c.other, c.reach) for c in settled.contacts]
        if header.verb in AUTHORITY_VERBS:
            self._authority.append((self._last,))

    def store(self) -> None:
        """Write what was taken since the last time."""
        if not self._entries:
            return
        many = self._db.executemany
        many("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)", self._entries)
        many(
            "INSERT OR REPLACE INTO chain VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (
                    c.number,
                    c.device,
                    c.parent,
                    c.split,
                    c.tip,
                    c.tip_sequence,
                    c.tip_height,
                    c.first,
                )
                for c in self._chains.values()
            ],
        )
        if self._contacts:
            many("INSERT OR REPLACE INTO contact VALUES (?, ?, ?, ?)", self._contacts)
        if self._authority:
            many("INSERT INTO authority VALUES (?)", self._authority)
        for written in (self._entries, self._contacts, self._chains, self._authority):
            written.clear()
