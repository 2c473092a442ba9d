"""One exchange over any carrier of bundles: take what is new there, then leave what nobody left yet.

Idempotent and resumable: what is already stored is no news. Must not know which carrier it is, nor how
the log is stored.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
from msgspec import Struct

from herdsync.answers import Setback
from herdsync.exchange.apart import apart, note_closed
from herdsync.exchange.carrier import Carrier
from herdsync.exchange.carriers import Opened, opened
from herdsync.exchange.folder import Folder
from herdsync.exchange.leaving import Leaving
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.sealing import tag_text, writer_tag
from herdsync.exchange.taking import Taking
from herdsync.exchange.witness import gaps, going_back
from herdsync.meetings import Notice


class Moved(Struct, frozen=True):
    """What one exchange moved, in entries; a sentence for each thing refused, and for each noticed."""

    sent: int
    received: int
    unvouched: int
    refused: list[Setback]
    noticed: list[Notice] = []


def exchange_folder(
    path: Path, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
) -> Moved:
    """Exchange over a folder or stick. Raises Refused where there is no such folder to look into."""
    with opened(str(path), ledger, entropy) as there:
        return exchange_opened(there, ledger, clock_ms, entropy)


def exchange_opened(
    there: Opened, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
) -> Moved:
    """Exchange over a carrier that was opened. Raises Refused where it is not there."""
    carrier = there.carrier
    if isinstance(carrier, Folder):
        carrier.sweep(tag_text(writer_tag(ledger.farm, ledger.key.public)))
    moved = exchange_bundles(carrier, ledger, clock_ms, entropy, there.known_as)
    return msgspec.structs.replace(moved, noticed=[*there.remarks, *moved.noticed])


def exchange_bundles(
    carrier: Carrier,
    ledger: Ledger,
    clock_ms: int,
    entropy: Callable[[int], bytes],
    known_as: str = "",
) -> Moved:
    """Exchange over a carrier; ``clock_ms`` is this device's clock, a claim in its signed frontier.

    ``known_as`` means the carrier from one exchange to the next, where it can be known again.
    """
    shelf = carrier.names()
    taking = Taking(carrier, ledger)
    taking.run(shelf)
    leaving = Leaving(carrier, ledger, clock_ms, entropy, known_as)
    leaving.run(taking.present, {name.casefold() for name in shelf.names})
    note_closed(ledger, taking.closed)
    refused = [one for _, setbacks in sorted(taking.setbacks.items()) for one in setbacks]
    noticed = [*apart(ledger), *(Notice(carrier.what, note) for note in shelf.notes)]
    noticed += [one for _, one in sorted(taking.waits.items())]
    # What is refused or waits explains a gap better than the gap itself.
    if not taking.setbacks and not taking.waits:
        noticed += gaps(ledger)
        noticed += going_back(ledger, known_as, taking.present) if known_as else []
    refused += leaving.refused
    return Moved(leaving.sent, taking.received, taking.unvouched, refused, noticed)
