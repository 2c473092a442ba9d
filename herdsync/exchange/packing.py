"""Joining this laptop's own small bundles on a carrier into few large ones, so that it stays quick.

First the joined bundle is written and read back, then what it replaces is taken away; another laptop's
files are never touched. Must not know which carrier it is, nor how the log is stored.
"""

from __future__ import annotations

from collections.abc import Callable

from herdsync.exchange.carrier import Carrier
from herdsync.exchange.coverage import Coverage, uncovered
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.names import bundle_name
from herdsync.store.carried import Run, Sighting

SMALL_BYTES = 1024 * 1024
# Each joining writes again what the joined bundles held: seldom enough to cost little.
MANY = 64

Leave = Callable[[list[Run]], list[Sighting]]


def pack_own(
    carrier: Carrier, ledger: Ledger, present: list[Sighting], readers: set[bytes], leave: Leave
) -> None:
    """Join own bundles where they are many. ``leave`` writes runs and answers the bundles it made.

    ``readers`` are the tags of everyone who may read. Raises Refused where the carrier cannot be written;
    nothing is taken away then.
    """
    own = [one for one in present if _is_own_and_small(ledger, one)]
    if len(own) < MANY:
        return
    kept = [one for one in present if one not in own and readers <= set(one.recipients)]
    coverage = Coverage(ledger)
    for one in kept:
        coverage.add(one)
    # The largest first: what an earlier joining could not take away is then seen to add nothing.
    sealed = [one for one in own if readers <= set(one.recipients)]
    adding = [one for one in sorted(sealed, key=_size, reverse=True) if coverage.add(one)]
    if coverage.missing():
        return
    if len(adding) < MANY:
        kept += adding
    else:
        kept += leave(uncovered(ledger, kept, readers))
    if uncovered(ledger, kept, readers):
        return
    for one in own:
        if one not in kept:
            carrier.remove(one.name)
            ledger.forget(one)


def is_own(ledger: Ledger, one: Sighting) -> bool:
    """Whether a bundle is this laptop's own file; a copy by a synchronising program is not ours to delete."""
    device = ledger.key.public
    return one.writer == device and one.name == bundle_name(ledger.farm, device, one.counter)


def _is_own_and_small(ledger: Ledger, one: Sighting) -> bool:
    # One without entries acknowledges what came here: it is replaced, never joined.
    return is_own(ledger, one) and bool(one.ids) and one.size < SMALL_BYTES


def _size(one: Sighting) -> int:
    return one.size
