"""Which stored entries no bundle at hand holds for everyone who may read.

Works by the ids that bundles name, never by a store's own chain numbers: two stores cut a forked log
into chains differently. Must not read or write any carrier.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from herdsync.exchange.ledger import Ledger
from herdsync.store.carried import Run, Sighting

Span = tuple[int, int]


class Coverage:
    """What the bundles added so far hold of one laptop's log, chain by chain."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._runs = {run.chain: run for run in ledger.runs()}
        # Per chain the spans held: apart from each other, ascending.
        self._held: dict[int, list[Span]] = {}

    def add(self, sighting: Sighting) -> bool:
        """Count a bundle in; answers whether it holds anything that those before it do not."""
        news = False
        for last, count in sighting.ids:
            for chain, span in self._spans(last, count):
                merged = _merged(self._held.get(chain, []), span)
                news = news or merged != self._held.get(chain)
                self._held[chain] = merged
        return news

    def missing(self) -> list[Run]:
        """The runs of stored entries that no bundle added holds."""
        return [
            Run(run.device, run.chain, first, last)
            for run in self._runs.values()
            for first, last in _gaps(run, self._held.get(run.chain, []))
        ]

    def _spans(self, last: bytes, count: int) -> Iterator[tuple[int, Span]]:
        """A bundle's run on its chain and on those its chain branched from."""
        place = self._ledger.place_of(last)
        while place is not None and count > 0:
            run = self._runs[place.chain]
            first = max(run.first, place.sequence - count + 1)
            yield place.chain, (first, place.sequence)
            count -= place.sequence - first + 1
            before = Run(run.device, run.chain, run.first, run.first)
            place = self._ledger.place_of(self._ledger.previous_of(before)) if count > 0 else None


def uncovered(ledger: Ledger, present: Iterable[Sighting], readers: set[bytes]) -> list[Run]:
    """The runs of stored entries that no bundle in ``present`` sealed to all ``readers`` (tags) holds."""
    coverage = Coverage(ledger)
    for sighting in present:
        if readers <= set(sighting.recipients):
            coverage.add(sighting)
    return coverage.missing()


def _merged(held: list[Span], span: Span) -> list[Span]:
    """The spans with one more, those that touch each other joined."""
    first, last = span
    before = [one for one in held if one[1] < first - 1]
    after = [one for one in held if one[0] > last + 1]
    touching = held[len(before) : len(held) - len(after)]
    if touching:
        first, last = min(first, touching[0][0]), max(last, touching[-1][1])
    return [*before, (first, last), *after]


def _gaps(run: Run, held: list[Span]) -> Iterator[Span]:
    at = run.first
    for first, last in held:
        if first > at:
            yield at, first - 1
        at = max(at, last + 1)
    if at <= run.last:
        yield at, run.last
