"""Taking a load apart again: its records as entries, each put back in its place and checked for form.

Signatures are not checked here. Must not know keys, readers or carriers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import msgspec

from herdsync.exchange.load import Piece, RunHead
from herdsync.exchange.shapes import typed
from herdsync.faults import BadBytes
from herdsync.log.entry import NO_ID, Entry, Place, unpack
from herdsync.log.limits import ENTRY_BYTES

_piece = msgspec.msgpack.Decoder(Piece)


@dataclass(frozen=True, slots=True)
class Unloaded:
    """The entries in the order they came, per run its last entry's id and the count.

    ``unread`` has a sentence for each run that ended early because this program cannot read an entry.
    """

    entries: list[Entry] = field(default_factory=list)
    ids: list[tuple[bytes, int]] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Reading:
    """How far one run has been read; ``over`` once an entry of it could not be."""

    head: RunHead
    last: bytes
    count: int = 0
    over: bool = False


def unload(heads: list[RunHead], records: list[bytes], farm: bytes) -> Unloaded:
    """The entries that ``records`` are, in the runs that ``heads`` begin. Raises BadBytes."""
    if sum(head.count for head in heads) != len(records):
        raise BadBytes("Its runs and its entries do not add up.")
    readings = [_Reading(head, head.previous) for head in heads]
    entries: list[Entry] = []
    unread: list[str] = []
    for piece in _pieces(records):
        if piece.run >= len(readings):
            raise BadBytes("An entry of it belongs to no run.")
        reading = readings[piece.run]
        if reading.over:
            continue
        try:
            entry = _entry(piece.packed, farm, reading)
        except BadBytes as fault:
            reading.over = True
            unread.append(str(fault))
            continue
        reading.last = entry.id
        reading.count += 1
        entries.append(entry)
    if any(not one.over and one.count != one.head.count for one in readings):
        raise BadBytes("Its runs and its entries do not add up.")
    ids = [(one.last, one.count) for one in readings if one.count]
    return Unloaded(entries, ids, unread)


def _pieces(records: list[bytes]) -> Iterator[Piece]:
    for record in records:
        if len(record) > ENTRY_BYTES:
            raise BadBytes("An entry of it is larger than any this program writes.")
        yield typed(_piece, record)


def _entry(packed: bytes, farm: bytes, reading: _Reading) -> Entry:
    sequence = reading.head.first + reading.count
    if sequence == 0:
        # The founding entry was written before the farm had an id: its own.
        founding = unpack(packed, Place(NO_ID, reading.head.device, 0, reading.last))
        if founding.id == farm:
            return founding
    return unpack(packed, Place(farm, reading.head.device, sequence, reading.last))
