"""One farm in memory: a log, its members, and the records its entries make.

For the farm as an earlier entry knew it, and for everything that must be tried without a disk.
"""

from __future__ import annotations

from collections.abc import Iterable

from herdsync.faults import BadBytes
from herdsync.log.chain import Chains, Known, Missing
from herdsync.log.entry import RECORD_BYTES, Entry
from herdsync.log.stewardship import members_of
from herdsync.log.trust import AUTHORITY_VERBS, Members, judged_anew
from herdsync.merge.fold import Fold
from herdsync.merge.memory_shelf import MemoryShelf


class Replica:
    """The entries of one farm that one device has, folded."""

    def __init__(self) -> None:
        self.entries: dict[bytes, Entry] = {}
        self.parked: dict[bytes, Entry] = {}
        self._places: dict[bytes, Known] = {}
        self._full_ids: dict[bytes, bytes] = {}
        self.chains = Chains(self._places.get)
        self.shelf = MemoryShelf()
        self._members: Members | None = None
        self._judged_by: Members | None = None
        self._fold = Fold(self.shelf, self.members, self.saw)

    def members(self) -> Members:
        """Who may write, as the entries here tell."""
        if self._members is None:
            authority = [e for e in self.entries.values() if e.header.verb in AUTHORITY_VERBS]
            self._members = members_of(authority, self.saw)
        if self._members is None:
            raise BadBytes("There is no founding entry among these.")
        return self._members

    def saw(self, later: bytes, earlier: bytes) -> bool:
        """Whether the writer of one entry had seen another; by the first 16 bytes of their ids.

        What is not here was seen by nobody here.
        """
        one, other = self._full_ids.get(later), self._full_ids.get(earlier)
        if one is None or other is None:
            return False
        return self.chains.saw(self._places[one], self._places[other])

    def take(self, entries: Iterable[Entry]) -> int:
        """Store and fold entries whose signatures were checked; answer how many were new."""
        queue = [entry for entry in entries if entry.id not in self.entries]
        taken: list[Entry] = []
        while queue:
            entry = queue.pop(0)
            if entry.id in self.entries:
                continue
            settled = self.chains.settle(entry)
            if isinstance(settled, Missing):
                self.parked[entry.id] = entry
                continue
            self._keep(
                entry, Known(settled.chain.number, entry.header.sequence, entry.header.height)
            )
            taken.append(entry)
            queue.extend(self._unpark())
        self._fold_in(taken)
        return len(taken)

    def _fold_in(self, taken: list[Entry]) -> None:
        members = self.members()
        anew = judged_anew(self._judged_by, members)
        self._judged_by = members
        fresh = {entry.id for entry in taken}
        if any(chain.first not in fresh for one in anew for chain in self.chains.of_device(one)):
            # Who may write has changed for entries folded earlier.
            self.shelf = MemoryShelf()
            self._fold = Fold(self.shelf, self.members, self.saw)
            taken = list(self.entries.values())
        self._fold.take(taken)

    def _keep(self, entry: Entry, place: Known) -> None:
        self.entries[entry.id] = entry
        self._places[entry.id] = place
        self._full_ids[entry.id[:RECORD_BYTES]] = entry.id
        self.parked.pop(entry.id, None)
        if entry.header.verb in AUTHORITY_VERBS:
            self._members = None

    def _unpark(self) -> list[Entry]:
        return list(self.parked.values())
