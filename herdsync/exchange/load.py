"""What goes into one bundle: entries in causal order, cut to the room there is.

An entry's place (device, sequence, previous) is carried once a run, not once an entry.
Must not know keys, readers or carriers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Annotated

from msgspec import Meta, Struct

from herdsync.log import canonical
from herdsync.log.entry import Entry, pack
from herdsync.log.limits import SEQUENCE

ENTRIES = 10_000
RUNS = 4_096

# Upper bounds of what a run, and a record's length, add to a bundle.
_RUN_BYTES = 96
_LENGTH_BYTES = 4

Id = Annotated[bytes, Meta(min_length=32, max_length=32)]


class RunHead(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """A row of one device's entries, each following the one before: where it begins, how many."""

    device: Id
    first: Annotated[int, Meta(ge=0, le=SEQUENCE)]
    previous: Id
    count: Annotated[int, Meta(ge=1, le=ENTRIES)]


class Piece(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """The next entry of a run, without what its place determines."""

    run: Annotated[int, Meta(ge=0, lt=RUNS)]
    packed: bytes


@dataclass(slots=True)
class _Row:
    """A run being gathered."""

    device: bytes
    first: int
    previous: bytes
    last: bytes
    count: int = 1


@dataclass(slots=True)
class Load:
    """The entries of one bundle: ``pieces`` are their records, in the order they came."""

    pieces: list[bytes] = field(default_factory=list)
    _rows: list[_Row] = field(default_factory=list)
    _by_last: dict[bytes, int] = field(default_factory=dict)
    _size: int = 0

    @property
    def runs(self) -> list[RunHead]:
        """Where each run begins and how long it is."""
        return [RunHead(row.device, row.first, row.previous, row.count) for row in self._rows]

    @property
    def ids(self) -> list[tuple[bytes, int]]:
        """Per run the id of its last entry and how many there are, the last included."""
        return [(row.last, row.count) for row in self._rows]

    def add(self, entry: Entry, room: int, most: int | None = None) -> bool:
        """Take the next entry in, or answer False where it no longer fits (``most``: so many at most)."""
        header = entry.header
        run = self._by_last.get(header.previous) if header.sequence else None
        opens = run is None
        number = len(self._rows) if run is None else run
        full = ENTRIES if most is None else most
        if number >= RUNS or len(self.pieces) >= full:
            return False
        piece = canonical.encode(Piece(number, pack(entry)))
        size = self._size + len(piece) + _LENGTH_BYTES + (_RUN_BYTES if opens else 0)
        if size > room:
            return False
        if opens:
            row = _Row(header.device, header.sequence, header.previous, entry.id)
            self._rows.append(row)
        else:
            row = self._rows[number]
            # A second branch after the same entry begins a run of its own.
            del self._by_last[row.last]
            row.last = entry.id
            row.count += 1
        self._by_last[entry.id] = number
        self.pieces.append(piece)
        self._size = size
        return True


def fill(entries: Iterable[Entry], room: int, most: int | None = None) -> Iterator[Load]:
    """Loads of at most ``room`` bytes (and ``most`` entries) that together hold the entries, in order."""
    load = Load()
    for entry in entries:
        if load.add(entry, room, most):
            continue
        yield load
        load = Load()
        fits = load.add(entry, room, most)
        assert fits, "one entry always fits"
    if load.pieces:
        yield load
