"""The log in tables: entries as they are packed, chains, contacts, parked entries."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any, NamedTuple
from zlib import crc32

from herdsync.faults import BadBytes
from herdsync.log.chain import Chain, Chains, Contact, Known, Settled
from herdsync.log.entry import NO_ID, RECORD_BYTES, Entry, Place, pack, read, trusted_unpack, unpack
from herdsync.log.limits import PARKED_BYTES, PARKED_ENTRIES
from herdsync.store.arriving import Arriving
from herdsync.store.database import damaged

UNCHECKED = 0
GOOD = 1
BAD = -1

COLUMNS = "pos, id, chain, seq, packed, sum"
_CLAIM = "substr(id, 1, 16)"
# So many places of entries are kept at hand.
PLACES_AT_HAND = 50_000
REFOLDED_AT_ONCE = 10_000
# So many ids are asked for in one statement.
ASKED_AT_ONCE = 500


class Row(NamedTuple):
    """One stored entry's row."""

    pos: int
    id: bytes
    chain: int
    seq: int
    packed: bytes
    sum: int


class Read(NamedTuple):
    """A stored entry by its id, chain and kept height; None with the reason where its bytes are damaged."""

    id: bytes
    chain: int
    height: int
    entry: Entry | None
    why: str


# An entry's id, its position, and its place: chain, sequence, height.
Found = tuple[bytes, int, int, int, int]


class LogTable:
    """The log on one connection; holds the chains in memory and refreshes them when told."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._db = connection
        self.chains = Chains(self.place_of)
        self._places: dict[bytes, Found] = {}
        self._farm = b""
        self._arriving: Arriving | None = None
        self.refresh()

    def refresh(self) -> None:
        """Read what someone else may have written since: chains anew, of contacts those that came."""
        rows = self._db.execute("SELECT * FROM chain").fetchall()
        if any(part is None for row in rows for place, part in enumerate(row) if place != 2):
            raise damaged("what is kept of a device's log has gaps")
        chains = [Chain(*row) for row in rows]
        contacts: list[Contact] = []
        for chain in chains:
            # A chain only grows, and what its writer had seen at an entry never changes.
            earlier = self.chains.all.get(chain.number)
            since = earlier.tip_sequence if earlier is not None else -1
            if since < chain.tip_sequence:
                sql = "SELECT * FROM contact WHERE chain = ? AND seq > ? ORDER BY seq"
                news = self._db.execute(sql, (chain.number, since))
                contacts += [Contact(*row) for row in news]
        self.chains.restore(chains, contacts)

    def place_of(self, id: bytes) -> Known | None:
        """Where a stored entry stands, or None."""
        found = self._found(id[:RECORD_BYTES])
        return Known(*found[2:]) if found is not None and found[0] == id else None

    def place_of_claim(self, claim: bytes) -> Known | None:
        """Where the entry with these first 16 bytes stands, or None."""
        found = self._found(claim)
        return Known(*found[2:]) if found is not None else None

    def _found(self, claim: bytes) -> Found | None:
        """Where an entry is, by the first 16 bytes of its id. No stored entry moves."""
        at_hand = self._places.get(claim)
        if at_hand is not None:
            return at_hand
        sql = f"SELECT id, pos, chain, seq, height FROM entry WHERE {_CLAIM} = ?"
        row = self._db.execute(sql, (claim,)).fetchone()
        return self._at_hand(row) if row else None

    def _at_hand(self, found: Found) -> Found:
        if len(self._places) >= PLACES_AT_HAND:
            if self._arriving is not None:
                # What has no row yet is found here alone.
                self._arriving.store()
            # Those of the batch that is being taken are the newest.
            self._places = dict(islice(self._places.items(), PLACES_AT_HAND // 2, None))
        self._places[found[0][:RECORD_BYTES]] = found
        return found

    def ids_between(self, low: bytes, high: bytes) -> list[bytes]:
        """Ids of entries in a range, at most ten."""
        sql = (
            f"SELECT id FROM entry WHERE {_CLAIM} BETWEEN substr(?1, 1, 16) AND substr(?2, 1, 16)"
            " AND id BETWEEN ?1 AND ?2 LIMIT 10"
        )
        return [id for (id,) in self._db.execute(sql, (low, high))]

    def position(self, id: bytes) -> int:
        """The position of a stored entry in this store, by its id or the first 16 bytes of it."""
        claim = id[:RECORD_BYTES]
        found = self._places.get(claim) or self._found(claim)
        if found is None:
            raise damaged(f"entry {id.hex()[:12]} is missing")
        return found[1]

    def positions(self, claims: list[bytes]) -> list[int]:
        """The same of many, by the first 16 bytes of their ids."""
        at_hand = [self._places.get(claim) for claim in claims]
        return [
            found[1] if found is not None else self.position(claim)
            for claim, found in zip(claims, at_hand, strict=True)
        ]

    def of_claim(self, claim: bytes) -> Row | None:
        """The row of the entry with these first 16 bytes, or None."""
        sql = f"SELECT {COLUMNS} FROM entry WHERE {_CLAIM} = ?"
        row = self._db.execute(sql, (claim,)).fetchone()
        return Row(*row) if row else None

    def add(self, entry: Entry, settled: Settled, checked: int) -> None:
        """Store an entry that found its place."""
        arriving = self.arriving()
        arriving.add(entry, settled, checked)
        arriving.store()

    def arriving(self) -> Arriving:
        """The row of entries to come, within one transaction."""
        self._arriving = Arriving(self._db, self.newest(), self._at_hand)
        return self._arriving

    def known_among(self, ids: list[bytes]) -> set[bytes]:
        """Those of these ids whose entries are stored."""
        found: set[bytes] = set()
        for begin in range(0, len(ids), ASKED_AT_ONCE):
            asked = [id[:RECORD_BYTES] for id in ids[begin : begin + ASKED_AT_ONCE]]
            places = f"({', '.join('?' * len(asked))})"
            sql = f"SELECT id FROM entry WHERE {_CLAIM} IN {places}"
            found.update(id for (id,) in self._db.execute(sql, asked))
        return found.intersection(ids)

    def rows(self, positions: Iterable[int]) -> Iterator[Row]:
        """The rows of the entries at positions, in any order."""
        waiting = iter(positions)
        while asked := list(islice(waiting, ASKED_AT_ONCE)):
            places = f"({', '.join('?' * len(asked))})"
            sql = f"SELECT {COLUMNS} FROM entry WHERE pos IN {places}"
            yield from (Row(*row) for row in self._db.execute(sql, asked).fetchall())

    def authority(self) -> list[Entry]:
        """All entries about who may write."""
        return self.entries([pos for (pos,) in self._db.execute("SELECT pos FROM authority")])

    def entries(self, positions: list[int]) -> list[Entry]:
        """Entries for the fold: without the header's bytes and links, which the fold does not read."""
        found = []
        for pos in positions:
            sql = f"SELECT {COLUMNS} FROM entry WHERE pos = ?"
            told = self._db.execute(sql, (pos,)).fetchone()
            if told is None:
                raise damaged(f"entry {pos} is missing")
            found.append(told)
        return self._as_folded(found)

    def _as_folded(self, rows: list[tuple[Any, ...]]) -> list[Entry]:
        """The entries of rows as the fold reads them."""
        found, farm = [], self.farm()
        devices = {number: chain.device for number, chain in self.chains.all.items()}
        for row in rows:
            pos, id, chain, seq, packed, sum = row
            if type(packed) is not bytes or type(id) is not bytes or crc32(packed) != sum:
                raise damaged(f"entry {pos} is not as it was stored")
            device = devices.get(chain) or self.device(Row(*row))
            # Only the founding entry was written before the farm had an id.
            of = NO_ID if id == farm else farm
            found.append(trusted_unpack(packed, of, device, seq, id))
        return found

    def sound(self, row: Row) -> None:
        """Pass a row whose bytes are those that were stored. Raises DamagedFarm: a bit may have turned."""
        whole = isinstance(row.id, bytes) and isinstance(row.packed, bytes)
        if not whole or crc32(row.packed) != row.sum:
            raise damaged(f"entry {row.pos} is not as it was stored")

    def device(self, row: Row) -> bytes:
        """The key of the device that wrote an entry."""
        chain = self.chains.all.get(row.chain)
        if chain is None:
            raise damaged(f"entry {row.pos} belongs to no chain")
        return chain.device

    def full(self, id: bytes) -> Entry | None:
        """One entry with its exact header bytes, rebuilt and checked. Raises BadBytes."""
        sql = f"SELECT {COLUMNS} FROM entry WHERE {_CLAIM} = ?"
        row = self._db.execute(sql, (id[:RECORD_BYTES],)).fetchone()
        return self._whole(Row(*row)) if row and row[1] == id else None

    def run(self, chain: int, first: int, last: int) -> Iterator[Entry]:
        """The entries of a run of one chain, whole. Raises BadBytes where the store is damaged."""
        sql = f"SELECT {COLUMNS} FROM entry WHERE chain = ? AND seq BETWEEN ? AND ? ORDER BY seq"
        previous = self.before(chain, first)
        for found in self._db.execute(sql, (chain, first, last)):
            row = Row(*found)
            entry = self._unpacked(row, previous)
            previous = row.id
            yield entry

    def backwards(self, chain: int) -> Iterator[Entry]:
        """A chain's own entries, newest first, as the fold reads them."""
        sql = "SELECT pos FROM entry WHERE chain = ? ORDER BY seq DESC"
        for (pos,) in self._db.execute(sql, (chain,)):
            yield from self.entries([pos])

    def folded_order(self) -> Iterator[list[Entry]]:
        """All entries, a thousand at a time, in causal order, the same on every laptop."""
        return self._many("height, id", 1_000)

    def as_stored(self) -> Iterator[list[Entry]]:
        """All entries for a refold, some thousands at a time, as they came."""
        return self._many("pos", REFOLDED_AT_ONCE)

    def _many(self, order: str, most: int) -> Iterator[list[Entry]]:
        cursor = self._db.execute(f"SELECT {COLUMNS} FROM entry ORDER BY {order}")
        while rows := cursor.fetchmany(most):
            folded = self._as_folded(rows)
            if len(self._places) + most > PLACES_AT_HAND:
                self._places.clear()
            heights = [entry.header.height for entry in folded]
            self._places |= {
                id[:RECORD_BYTES]: (id, pos, chain, seq, height)
                for (pos, id, chain, seq, _, _), height in zip(rows, heights, strict=True)
            }
            yield folded

    def every(self) -> Iterator[Read]:
        """Every entry of a chain that is here, read strictly, as they came; its place is kept at hand."""
        sql = f"SELECT {COLUMNS}, height FROM entry ORDER BY pos"
        newest: dict[int, tuple[int, bytes]] = {}
        for *found, height in self._db.execute(sql):
            row = Row(*found)
            if row.chain not in self.chains.all:
                continue
            seq, previous = newest.get(row.chain, (-1, NO_ID))
            if seq + 1 != row.seq:
                previous = self.before(row.chain, row.seq)
            try:
                entry, why = self._unpacked(row, previous), ""
            except BadBytes as fault:
                entry, why = None, str(fault)
            self._at_hand((row.id, row.pos, row.chain, row.seq, height))
            yield Read(row.id, row.chain, height, entry, why)
            newest[row.chain] = (row.seq, row.id)

    def before(self, chain: int, seq: int) -> bytes:
        """The id of the entry that stands before a sequence of a chain; 32 zero bytes at the start."""
        own = self.chains.all[chain]
        # Below its split a branch's past is its parent's.
        while own.parent is not None and seq - 1 <= own.split:
            own = self.chains.all[own.parent]
        sql = "SELECT id FROM entry WHERE chain = ? AND seq = ?"
        row = self._db.execute(sql, (own.number, seq - 1)).fetchone()
        return row[0] if row else NO_ID

    def children(self, id: bytes) -> list[bytes]:
        """The next entries of its own log, and of each other log the first whose writer had seen it."""
        place = self.place_of(id)
        assert place is not None, "a stored entry has a place"
        at = (place.chain, place.sequence)
        own = (
            "SELECT id FROM entry WHERE chain = ?1 AND seq = ?2 + 1 UNION ALL "
            "SELECT first FROM chain WHERE parent = ?1 AND split = ?2"
        )
        found = [child for (child,) in self._db.execute(own, at)]
        seeing = "SELECT chain, min(seq) FROM contact WHERE other = ? AND reach >= ? GROUP BY chain"
        for chain, seq in self._db.execute(seeing, at).fetchall():
            # Which of two branches is a chain of its own depends on which came first; what its writer
            # had seen before the split is told by the other chain.
            if not self.chains.inherited(chain, place):
                sql = "SELECT id FROM entry WHERE chain = ? AND seq = ?"
                found += [child for (child,) in self._db.execute(sql, (chain, seq))]
        return found

    def newest(self) -> int:
        """The position of the entry stored last."""
        return int(self._db.execute("SELECT coalesce(max(pos), 0) FROM entry").fetchone()[0])

    def count(self) -> int:
        """How many entries are stored."""
        return int(self._db.execute("SELECT count(*) FROM entry").fetchone()[0])

    def checked(self, id: bytes) -> int:
        """GOOD, BAD or UNCHECKED."""
        sql = f"SELECT checked FROM entry WHERE {_CLAIM} = ?"
        row = self._db.execute(sql, (id[:RECORD_BYTES],)).fetchone()
        return int(row[0]) if row else UNCHECKED

    def mark(self, id: bytes, checked: int) -> None:
        """Note the outcome of a signature check."""
        sql = f"UPDATE entry SET checked = ? WHERE {_CLAIM} = ?"
        self._db.execute(sql, (checked, id[:RECORD_BYTES]))

    def mark_good(self, through: int, checked: int) -> None:
        """Note that of the entries up to a position so many were checked and the bad ones are marked."""
        sql = "UPDATE entry SET checked = 1 WHERE checked = 0 AND pos <= ?1"
        # One that belongs to no chain was not looked at.
        sql += " AND ?2 = (SELECT count(*) FROM entry WHERE pos <= ?1)"
        self._db.execute(sql, (through, checked))

    def replace_signature(self, entry: Entry) -> None:
        """Take a good signature in place of a bad one for an entry already here."""
        packed = pack(entry)
        sql = f"UPDATE entry SET packed = ?, sum = ?, checked = ? WHERE {_CLAIM} = ?"
        self._db.execute(sql, (packed, crc32(packed), GOOD, entry.record_id))

    def any_unchecked(self) -> bool:
        """Whether the signature of an entry waits to be checked."""
        return self._db.execute("SELECT 1 FROM entry WHERE checked = 0").fetchone() is not None

    def bad(self) -> list[bytes]:
        """Entries whose bytes or signature were found damaged, though later ones vouch for them."""
        sql = "SELECT id FROM entry WHERE checked = -1"
        return [id for (id,) in self._db.execute(sql)]

    def park(self, entry: Entry) -> None:
        """Keep an entry that waits for others."""
        size = len(entry.header_bytes) + len(entry.body_bytes) + 64
        self._db.execute(
            "INSERT OR IGNORE INTO parked (size, id, header, body, signature) VALUES (?, ?, ?, ?, ?)",
            (size, entry.id, entry.header_bytes, entry.body_bytes, entry.signature),
        )

    def trim_parked(self) -> None:
        """Drop the oldest waiting entries beyond the bounds; they can be fetched again."""
        count = total = 0
        newest_first = self._db.execute("SELECT arrival, size FROM parked ORDER BY arrival DESC")
        for arrival, size in newest_first.fetchall():
            count, total = count + 1, total + size
            if count > PARKED_ENTRIES or total > PARKED_BYTES:
                self._db.execute("DELETE FROM parked WHERE arrival <= ?", (arrival,))
                return

    def parked(self) -> list[Entry]:
        """Entries that wait, as each comes after those it builds on."""
        rows = self._db.execute("SELECT header, body, signature FROM parked")
        return sorted((read(*row) for row in rows), key=lambda entry: entry.order)

    def parked_count(self) -> int:
        """How many entries wait."""
        return int(self._db.execute("SELECT count(*) FROM parked").fetchone()[0])

    def unpark(self, ids: Iterable[bytes]) -> None:
        """Forget waiting entries that found their place or were refused."""
        self._db.executemany("DELETE FROM parked WHERE id = ?", [(id,) for id in ids])

    def farm(self) -> bytes:
        """The farm's id."""
        if not self._farm:
            row = self._db.execute("SELECT value FROM about WHERE name = 'farm'").fetchone()
            self._farm = bytes(row[0])
        return self._farm

    def _whole(self, row: Row) -> Entry:
        return self._unpacked(row, self.before(row.chain, row.seq))

    def _unpacked(self, row: Row, previous: bytes) -> Entry:
        device = self.device(row)
        founding = row.id == self.farm()
        farm = NO_ID if founding else self.farm()
        entry = unpack(row.packed, Place(farm, device, row.seq, previous))
        if entry.id != row.id:
            raise BadBytes(f"Entry {row.seq} of a chain is not the one that was stored.")
        return entry
