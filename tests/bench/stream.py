"""A seeded stream of signed entries of a herd, written by so many laptops, kept in a file.

The acts are those of ``herd_history``; the laptops take turns and meet after every few entries. The same
seed, size and number of laptops make the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from herdsync.kinds import CATALOGUE
from herdsync.log.chain import Chains, Known, Settled
from herdsync.log.entry import CRITICAL, Entry, read
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.merge.payloads import RECORD
from tests.bench.herd_history import History
from tests.exchange.laptops import admission_of, founding_of, key_of

ANIMALS = 1_000
# Laptops write so many entries in a row, having seen all before.
TURN = 25
START_MS = 1_700_000_000_000
MINUTE_MS = 60_000
NAMES = ("house", "barn", "loft", "shed", "byre", "yard", "cart", "mill")


def write_stream(path: Path, size: int, laptops: int) -> int:
    """Write about ``size`` entries; answer how many there are."""
    with path.open("wb") as file:
        log = _Log(file)
        for name in NAMES[1:laptops]:
            log.write(NAMES[0], admission_of(name))

        def write(kind: str, fields: dict[str, Any]) -> bytes:
            return log.write(NAMES[log.count // TURN % laptops], _act(kind, fields)).record_id

        History(min(ANIMALS, size // 8), size, write)
        return log.count


def read_stream(path: Path, batch: int) -> Iterator[list[Entry]]:
    """The entries, structurally checked, so many at a time."""
    found: list[Entry] = []
    with path.open("rb") as file:
        while lengths := file.read(8):
            header, body = int.from_bytes(lengths[:4], "big"), int.from_bytes(lengths[4:], "big")
            found.append(read(file.read(header), file.read(body), file.read(64)))
            if len(found) == batch:
                yield found
                found = []
    if found:
        yield found


class _Log:
    """The chains of all laptops in one file, each of which has seen all before when its turn begins."""

    def __init__(self, file: BinaryIO) -> None:
        founding = founding_of(NAMES[0])
        self.count = 0
        self._file = file
        self._farm = founding.id
        self._places: dict[bytes, Known] = {}
        self._chains = Chains(self._places.get)
        self._keys = {name: key_of(name) for name in NAMES}
        self._put(founding)

    def write(self, name: str, act: Act) -> Entry:
        key = self._keys[name]
        salt = hashlib.sha256(self.count.to_bytes(8, "big")).digest()[:16]
        own = self._chains.of_device(key.public)
        pen = Pen(self._farm, key, "", START_MS + self.count * MINUTE_MS)
        entry = next_entry(self._chains, own[0] if own else None, pen, act, salt, None)
        self._put(entry)
        return entry

    def _put(self, entry: Entry) -> None:
        settled = self._chains.settle(entry)
        assert isinstance(settled, Settled)
        header = entry.header
        self._places[entry.id] = Known(settled.chain.number, header.sequence, header.height)
        for part in (entry.header_bytes, entry.body_bytes):
            self._file.write(len(part).to_bytes(4, "big"))
        self._file.write(entry.header_bytes + entry.body_bytes + entry.signature)
        self.count += 1


def _act(name: str, fields: dict[str, Any]) -> Act:
    kind = CATALOGUE[name]
    named = frozenset(value for value in fields.values() if isinstance(value, bytes))
    flags = CRITICAL if kind.critical else 0
    return Act(RECORD, name, {"fields": fields}, kind.version, flags, named)
