"""The newest records of something, without those before them; and what changed since a mark."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

if TYPE_CHECKING:
    from herdsync.merge.records import Record


class Newest(Struct, frozen=True):
    """The last standing records of a kind, ordered by (time, id).

    ``floor``: no record that was left out has a later time than this (see ``shelf.sort_moment``);
    None where none was left out.
    """

    records: list[Record]
    floor: int | None


Row = tuple[int, bytes]


class Span(NamedTuple):
    """What names one thing, of one kind, from one time (ms) to another."""

    id: bytes
    kind: str
    first: int
    last: int


class Reach(NamedTuple):
    """Times (ms) from ``first`` to ``last``, and two more ``beside`` them."""

    first: int
    last: int
    beside: tuple[int, int]


class Recent:
    """The newest records of every kind that name one thing, read out one by one, the last first.

    ``rows`` are (time, id) by kind in that order, one more than ``most`` of a kind where some are
    left out; ``read`` answers the record kept under an id.
    """

    def __init__(
        self, rows: Mapping[str, list[Row]], most: int, read: Callable[[bytes], Record]
    ) -> None:
        self._rows = rows
        self._most = most
        self._read = read
        self.kinds = rows.keys()

    def floor(self, kind: str) -> int | None:
        """As ``Newest.floor``."""
        return _floor(self._rows.get(kind, ()), self._most)

    def last(self, kind: str) -> tuple[Record, int | None]:
        """The one of a kind whose time sorts last, standing or not, and the time of the one before."""
        rows = self._rows[kind]
        return self._read(rows[-1][1]), rows[-2][0] if len(rows) > 1 else None

    def every(self, kind: str) -> list[Record] | None:
        """All of a kind, standing or not, in order; None where some are left out."""
        rows = self._rows.get(kind, [])
        return None if len(rows) > self._most else [self._read(id) for _, id in rows]

    def times(self, kind: str) -> list[int]:
        """The times of those of a kind, the last first."""
        return [at for at, _ in self._last(kind)]

    def of(self, kind: str) -> Iterator[Record | None]:
        """Those of a kind in the same order; None in the place of one that does not stand."""
        for _, id in self._last(kind):
            record = self._read(id)
            yield record if record.counts else None

    def later(self, at: int) -> Iterator[Record]:
        """Those of a time after one, of each kind some at least."""
        for rows in self._rows.values():
            for when, id in reversed(rows):
                if when <= at:
                    break
                yield self._read(id)

    def _last(self, kind: str) -> list[Row]:
        return self._rows.get(kind, [])[: -self._most - 1 : -1]


def newest_of(rows: list[Row], most: int, read: Callable[[bytes], Record]) -> Newest:
    """The standing ones among the last ``most`` of rows; one row more tells that some are left out."""
    found = [read(id) for _, id in rows[-most:]]
    return Newest([one for one in found if one.counts], _floor(rows, most))


def _floor(rows: Sequence[Row], most: int) -> int | None:
    return rows[-most - 1][0] if len(rows) > most else None


class Changes(Struct, frozen=True):
    """Which records changed since a mark; None where any may have. ``mark`` is the next to ask with."""

    mark: int
    records: frozenset[bytes] | None
