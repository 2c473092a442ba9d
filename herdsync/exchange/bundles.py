"""One exchange over any carrier of bundles: take what is new there, then leave what nobody left yet.

Idempotent and resumable: what is already stored is no news. Must not know which carrier it is, nor how
the log is stored.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from msgspec import Struct

from herdsync.answers import Setback
from herdsync.exchange.carrier import Carrier
from herdsync.exchange.folder import Folder
from herdsync.exchange.leaving import Leaving
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.sealing import tag_text, writer_tag
from herdsync.exchange.taking import Taking
from herdsync.safe_text import safe_text


class Moved(Struct, frozen=True):
    """What one exchange moved, in entries, and a sentence for each thing that was refused."""

    sent: int
    received: int
    unvouched: int
    refused: list[Setback]


def exchange_folder(
    path: Path, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
) -> Moved:
    """Exchange over a folder or stick. Raises Refused where there is no such folder to look into."""
    folder = Folder(path, entropy)
    folder.sweep(tag_text(writer_tag(ledger.farm, ledger.key.public)))
    return exchange_bundles(folder, ledger, clock_ms, entropy)


def exchange_bundles(
    carrier: Carrier, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
) -> Moved:
    """Exchange over a carrier; ``clock_ms`` is this device's clock, a claim in its signed frontier."""
    shelf = carrier.names()
    taking = Taking(carrier, ledger)
    taking.run(shelf.names)
    leaving = Leaving(carrier, ledger, clock_ms, entropy)
    leaving.run(taking.present, {name.casefold() for name in shelf.names})
    refused = [Setback("the folder", note) for note in shelf.notes]
    for _, setbacks in sorted(taking.setbacks.items()):
        refused += setbacks
    # What is refused or waits explains a gap better than the gap itself.
    refused += [] if taking.setbacks else _gaps(ledger)
    return Moved(leaving.sent, taking.received, taking.unvouched, refused + leaving.refused)


def _gaps(ledger: Ledger) -> list[Setback]:
    """A sentence for each laptop that had entries, when last heard, which have not come here."""
    reached: dict[bytes, int] = {}
    for run in ledger.runs():
        reached[run.device] = max(run.last, reached.get(run.device, -1))
    members = ledger.members().by_key
    setbacks = []
    for device, (_, frontier) in sorted(ledger.last_heard().items()):
        count = sum(
            max(1, sequence - reached.get(writer, -1))
            for writer, sequence, tip in frontier
            if writer in members and ledger.place_of(tip) is None
        )
        if count and device in members:
            entries = "1 entry" if count == 1 else f"{count} entries"
            why = (
                f"When last heard it had {entries} more than are here: something is missing from "
                "the carrier, or it shows an older state. Let that laptop exchange here again."
            )
            setbacks.append(Setback(f"laptop {safe_text(members[device].device)}", why))
    return setbacks
