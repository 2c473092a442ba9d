"""Leaving on a carrier what no sound bundle there holds for everyone who may read.

Must not know which carrier it is, nor how the log is stored.
"""

from __future__ import annotations

from collections.abc import Callable

from herdsync.answers import Setback
from herdsync.exchange import bundle
from herdsync.exchange.carrier import Carrier
from herdsync.exchange.coverage import uncovered
from herdsync.exchange.frontier import Tip, tips_of
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.load import Load, fill
from herdsync.exchange.names import bundle_name, sighting_of
from herdsync.exchange.sealing import recipient_tag, sound_seal_keys
from herdsync.faults import Refused
from herdsync.log.limits import FORMAT_VERSION
from herdsync.store.carried import Sighting

NAME_TRIES = 1_000


class Leaving:
    """Leaves on a carrier what no bundle there holds for everyone who may read."""

    def __init__(
        self, carrier: Carrier, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
    ) -> None:
        self._carrier = carrier
        self._ledger = ledger
        self._clock_ms = clock_ms
        self._entropy = entropy
        self.sent = 0
        self.refused: list[Setback] = []

    def run(self, present: list[Sighting], names: set[str]) -> None:
        """Write as many bundles as it takes; the first that cannot be written ends it."""
        ledger = self._ledger
        members = ledger.members()
        if ledger.key.public not in members.by_key:
            return
        readers = sound_seal_keys(members.recipients())
        tags = {recipient_tag(ledger.farm, one) for one in readers}
        missing = uncovered(ledger, present, tags)
        if not missing:
            return
        tips = tips_of(ledger)
        space = bundle.room(len(readers), len(tips))
        try:
            for load in fill(ledger.entries(missing), space):
                self._leave(load, tips, readers, names)
        except _Unwritable as fault:
            self.refused.append(Setback("writing there", str(fault)))

    def _leave(self, load: Load, tips: list[Tip], readers: list[bytes], names: set[str]) -> None:
        ledger = self._ledger
        device = ledger.key.public
        for _ in range(NAME_TRIES):
            number = ledger.take_bundle_number()
            name = bundle_name(ledger.farm, device, number)
            if name in names:
                continue
            said = bundle.Statement(
                ledger.farm, device, number, FORMAT_VERSION, tips, self._clock_ms
            )
            raw = self._written(load, said, readers, name)
            if raw is not None:
                tags = sorted(recipient_tag(ledger.farm, one) for one in readers)
                ledger.remember(sighting_of(name, raw, said, tags, load.ids))
                self.sent += len(load.pieces)
                return
        raise _Unwritable(f"The next {NAME_TRIES:,} names for a bundle are all taken there.")

    def _written(
        self, load: Load, said: bundle.Statement, readers: list[bytes], name: str
    ) -> bytes | None:
        """The bundle's bytes once they are there; None where another file has the name."""
        try:
            raw = bundle.write(load, said, readers, self._ledger.key, self._entropy)
            return raw if self._carrier.create(name, raw) else None
        except Refused as fault:
            raise _Unwritable(str(fault)) from fault


class _Unwritable(Exception):
    """The carrier (not the farm's own store) takes no bundle."""
