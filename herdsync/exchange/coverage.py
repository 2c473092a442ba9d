"""Which stored entries no bundle at hand holds for everyone who may read.

Works by the ids that bundles name, never by a store's own chain numbers: two stores cut a forked log
into chains differently. Must not read or write any carrier.
"""

from __future__ import annotations

from collections.abc import Iterable

from herdsync.exchange.ledger import Ledger
from herdsync.store.carried import Run, Sighting

Span = tuple[int, int]


def uncovered(ledger: Ledger, present: Iterable[Sighting], readers: set[bytes]) -> list[Run]:
    """The runs of stored entries that no bundle in ``present`` sealed to all ``readers`` (tags) holds."""
    runs = {run.chain: run for run in ledger.runs()}
    held: dict[int, list[Span]] = {}
    for sighting in present:
        if readers <= set(sighting.recipients):
            for last, count in sighting.ids:
                _mark(ledger, runs, held, last, count)
    missing: list[Run] = []
    for run in runs.values():
        gaps = _gaps(run, held.get(run.chain, []))
        missing.extend(Run(run.device, run.chain, first, end) for first, end in gaps)
    return missing


def _mark(
    ledger: Ledger, runs: dict[int, Run], held: dict[int, list[Span]], last: bytes, count: int
) -> None:
    """Note a bundle's run as held, on its chain and on those its chain branched from."""
    place = ledger.place_of(last)
    while place is not None and count > 0:
        chain = runs[place.chain]
        first = max(chain.first, place.sequence - count + 1)
        held.setdefault(place.chain, []).append((first, place.sequence))
        count -= place.sequence - first + 1
        before = Run(chain.device, chain.chain, chain.first, chain.first)
        place = ledger.place_of(ledger.previous_of(before)) if count > 0 else None


def _gaps(run: Run, held: list[Span]) -> Iterable[Span]:
    at = run.first
    for first, last in sorted(held):
        if first > at:
            yield at, first - 1
        at = max(at, last + 1)
    if at <= run.last:
        yield at, run.last
