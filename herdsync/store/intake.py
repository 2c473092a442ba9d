"""Taking entries that came from elsewhere: each is checked, finds its place, waits or is refused."""

from __future__ import annotations

import functools

from herdsync.answers import Setback
from herdsync.faults import BadBytes
from herdsync.log.chain import Missing, Settled
from herdsync.log.entry import NO_ID, RECORD_BYTES, Entry
from herdsync.log.limits import BATCH_ALL_CHECKED
from herdsync.log.signing import entry_verifies
from herdsync.log.trust import AUTHORITY_VERBS
from herdsync.merge.lone import Lone
from herdsync.store.carried import Taken
from herdsync.store.log_table import BAD, GOOD, UNCHECKED
from herdsync.store.view import View


class Intake:
    """Takes entries into one view, inside its caller's transaction."""

    def __init__(self, view: View, farm: bytes) -> None:
        self._view = view
        self._farm = farm
        self._refused: list[Setback] = []
        self._stored: list[Entry] = []
        self._admitted = _writers(view)
        self._arriving = view.log.arriving()
        # Ids of entries that are here, among those that come.
        self._here: set[bytes] = set()

    def take(self, entries: list[Entry], source: str) -> Taken:
        """Store what is sound; what builds on entries not here waits; the rest is refused by name."""
        checked = _signatures(entries)
        self._here = self._known_among(entries)
        for entry, holds in zip(entries, checked, strict=True):
            self._one(entry, holds, source)
        self._arriving.store()
        self._waiting(source)
        self._view.log.trim_parked()
        self._view.fold_in(self._stored)
        parked = self._view.log.parked_count()
        return Taken(len(self._stored), parked, self._count_unvouched(), self._refused)

    def _known_among(self, entries: list[Entry]) -> set[bytes]:
        """The ids of those that are here: none that goes on beyond all of its device's chains."""
        log, reach = self._view.log, dict[bytes, int]()
        for chain in log.chains.all.values():
            reach[chain.device] = max(chain.tip_sequence, reach.get(chain.device, -1))
        headers = [(entry.id, entry.header) for entry in entries]
        return log.known_among(
            [id for id, header in headers if header.sequence <= reach.get(header.device, -1)]
        )

    def _one(self, entry: Entry, checked: int, source: str) -> None:
        log = self._view.log
        if entry.id in self._here:
            self._arriving.store()
            if log.checked(entry.id) == BAD and (checked == GOOD or entry_verifies(entry)):
                log.replace_signature(entry)
            return
        if checked == BAD:
            self._refuse(entry, source, "its signature is not its device's")
            return
        if entry.header.farm != self._farm and entry.id != self._farm:
            self._refuse(entry, source, "it belongs to another farm")
            return
        if entry.header.device not in self._admitted:
            log.park(entry)
            return
        try:
            settled = log.chains.settle(entry)
        except BadBytes as fault:
            self._refuse(entry, source, str(fault))
            return
        if isinstance(settled, Missing):
            log.park(entry)
        else:
            self._store(entry, settled, checked)

    def _store(self, entry: Entry, settled: Settled, checked: int) -> None:
        self._arriving.add(entry, settled, checked)
        self._here.add(entry.id)
        self._stored.append(entry)
        if entry.header.verb in AUTHORITY_VERBS:
            self._arriving.store()
            self._view.forget_members()
            self._admitted = _writers(self._view)

    def _waiting(self, source: str) -> None:
        """Try entries that wait again, until none of them finds its place."""
        log = self._view.log
        before = -1
        while self._stored and before != len(self._stored):
            before = len(self._stored)
            for entry in log.parked():
                ready = entry.header.device in self._admitted and all(
                    log.place_of(one) is not None for one in _builds_on(entry)
                )
                if ready:
                    log.unpark([entry.id])
                    if log.place_of(entry.id) is not None:
                        self._here.add(entry.id)
                    self._one(entry, GOOD if entry_verifies(entry) else BAD, source)
                    self._arriving.store()

    def _refuse(self, entry: Entry, source: str, why: str) -> None:
        what = f"entry {entry.header.sequence} of a device in {source}"
        self._refused.append(Setback(what, why))

    def _count_unvouched(self) -> int:
        vouches = functools.cache(self._view.members().vouches)
        doubted = [one for one in self._stored if not vouches(one.header.device, one.header.verb)]
        new = {entry.id[:RECORD_BYTES] for entry in doubted}
        touched = {one for entry in doubted for one in (*entry.header.subjects, entry.record_id)}
        found = (self._view.shelf.get(one) for one in touched)
        # What a lone record tells is vouched for.
        records = [one for one in found if one is not None and not isinstance(one, Lone)]
        return len(
            {
                claim.entry
                for record in records
                for claim in record.claims()
                if not claim.vouched and claim.entry in new
            }
        )


def _writers(view: View) -> set[bytes]:
    """Whose entries are taken: every device an entry ever let in, and the recovery key's."""
    return set(view.members().named)


def _signatures(entries: list[Entry]) -> list[int]:
    """Check every signature of a batch up to a thousand; of a larger one, what none good vouches for.

    A good signature commits to all its device wrote before; an entry without a good one after it,
    be it the newest of a branch or followed by bad ones alone, is always checked itself.
    """
    every = len(entries) <= BATCH_ALL_CHECKED
    checked = [UNCHECKED] * len(entries)
    vouched: set[tuple[bytes, bytes]] = set()
    sequences = [entry.header.sequence for entry in entries]
    for at in sorted(range(len(entries)), key=sequences.__getitem__, reverse=True):
        entry = entries[at]
        header = entry.header
        own = (header.device, entry.id) in vouched
        if every or not own or header.verb in AUTHORITY_VERBS:
            checked[at] = GOOD if entry_verifies(entry) else BAD
        if own or checked[at] == GOOD:
            vouched.add((header.device, header.previous))
    return checked


def _builds_on(entry: Entry) -> list[bytes]:
    before = [entry.header.previous] if entry.header.previous != NO_ID else []
    return [*before, *entry.header.parents]
