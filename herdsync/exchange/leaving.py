"""Leaving on a carrier what no sound bundle there holds for everyone who may read, and what came here.

Must not know which carrier it is, nor how the log is stored.
"""

from __future__ import annotations

from collections.abc import Callable

from herdsync.answers import Setback
from herdsync.exchange import bundle
from herdsync.exchange.carrier import Carrier
from herdsync.exchange.coverage import uncovered
from herdsync.exchange.frontier import Tip, frontier_hash, tips_of
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.load import Load, fill
from herdsync.exchange.names import bundle_name, note_name, sighting_of
from herdsync.exchange.packing import is_own, pack_own
from herdsync.exchange.sealing import recipient_tag, sound_seal_keys
from herdsync.faults import Refused
from herdsync.log.limits import FORMAT_VERSION
from herdsync.store.carried import Run, Sighting

NAME_TRIES = 1_000


class Leaving:
    """Leaves on a carrier what no bundle there holds for everyone who may read."""

    def __init__(
        self,
        carrier: Carrier,
        ledger: Ledger,
        clock_ms: int,
        entropy: Callable[[int], bytes],
        known_as: str = "",
    ) -> None:
        self._known_as = known_as
        self._note = note_name("told", known_as)
        self._carrier = carrier
        self._ledger = ledger
        self._clock_ms = clock_ms
        self._entropy = entropy
        self._readers = sound_seal_keys(ledger.members().recipients())
        self._tags = {recipient_tag(ledger.farm, one) for one in self._readers}
        self._names: set[str] = set()
        self._told = False  # whether a bundle left in this exchange tells the frontier
        self.sent = 0
        self.refused: list[Setback] = []

    def run(self, present: list[Sighting], names: set[str]) -> None:
        """Write as many bundles as it takes; the first that cannot be written ends it.

        ``names`` are those that are taken there, folded to lower case.
        """
        ledger = self._ledger
        if ledger.key.public not in ledger.members().by_key:
            return
        self._names = names
        try:
            left = self._leave_all(uncovered(ledger, present, self._tags))
            self.sent = sum(count for one in left for _, count in one.ids)
            pack_own(self._carrier, ledger, [*present, *left], self._tags, self._leave_all)
        except _Unwritable as fault:
            self.refused.append(Setback("writing there", str(fault)))
            return
        self._acknowledge(present)

    def _acknowledge(self, present: list[Sighting]) -> None:
        """Leave the frontier alone where others wrote and no bundle of ours there tells what came here.

        Without this a laptop that only reads would stay one that is not known to have anything. What
        cannot be written is no fault: nothing of the farm waits for it.
        """
        ledger, own = self._ledger, self._ledger.key.public
        tips = tips_of(ledger)
        mark = frontier_hash(tips)
        if not self._known_as or ledger.noted(self._note) == mark:
            return
        if not self._told:
            if not any(one.writer != own for one in present):
                return
            try:
                self._leave(Load(), tips)
            except _Unwritable:
                return
            for one in present:
                if is_own(ledger, one) and not one.ids:
                    self._carrier.remove(one.name)
                    ledger.forget(one)
        ledger.note(self._note, mark)

    def _leave_all(self, missing: list[Run]) -> list[Sighting]:
        """The bundles that now hold these runs."""
        if not missing:
            return []
        tips = tips_of(self._ledger)
        space = bundle.room(len(self._readers), len(tips))
        loads = fill(self._ledger.entries(missing), space)
        return [self._leave(load, tips) for load in loads]

    def _leave(self, load: Load, tips: list[Tip]) -> Sighting:
        ledger = self._ledger
        device = ledger.key.public
        for _ in range(NAME_TRIES):
            number = ledger.take_bundle_number()
            name = bundle_name(ledger.farm, device, number)
            if name in self._names:
                continue
            said = bundle.Statement(
                ledger.farm, device, number, FORMAT_VERSION, tips, self._clock_ms
            )
            raw = self._written(load, said, name)
            if raw is not None:
                sighting = sighting_of(name, raw, said, sorted(self._tags), load.ids)
                ledger.remember(sighting)
                self._told = True
                return sighting
        raise _Unwritable(f"The next {NAME_TRIES:,} names for a bundle are all taken there.")

    def _written(self, load: Load, said: bundle.Statement, name: str) -> bytes | None:
        """The bundle's bytes once they are there; None where another file has the name."""
        try:
            raw = bundle.write(load, said, self._readers, self._ledger.key, self._entropy)
            return raw if self._carrier.create(name, raw) else None
        except Refused as fault:
            raise _Unwritable(str(fault)) from fault


class _Unwritable(Exception):
    """The carrier (not the farm's own store) takes no bundle."""
