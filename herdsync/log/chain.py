"""Chains, forks and causal order: what place an entry takes among those already here.

A chain is one writer's unbroken run of entries. Two entries of one device after the same one split its
log into two chains, kept for good as two concurrent writers. Chain numbers are local to one store and
never leave it; a branch is named elsewhere by its first entry.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator

from msgspec import Struct, field

from herdsync.faults import BadBytes
from herdsync.log.entry import NO_ID, Entry, Header
from herdsync.log.limits import PARENTS


class Known(Struct, frozen=True, gc=False):
    """Where a stored entry stands: its chain, sequence and height."""

    chain: int
    sequence: int
    height: int


class Chain(Struct):
    """One writer's run. A branch continues chain ``parent`` after sequence ``split`` (-1: from nothing)."""

    number: int
    device: bytes
    parent: int | None
    split: int
    tip: bytes
    tip_sequence: int
    tip_height: int
    first: bytes


class Contact(Struct, frozen=True, gc=False):
    """From ``sequence`` on, the writer of ``chain`` had seen chain ``other`` through ``reach``."""

    chain: int
    sequence: int
    other: int
    reach: int


class Settled(Struct, frozen=True):
    """An entry took its place: the chain (new or extended) and what its writer had newly seen."""

    chain: Chain
    opened: bool
    contacts: list[Contact]


class Missing(Struct, frozen=True):
    """An entry that must wait: the ids it builds on that are not here."""

    ids: list[bytes]


class _Reach(Struct):
    """What one chain's writer had seen of another, as steps of (own sequence, reach)."""

    at: list[int] = field(default_factory=list)
    reach: list[int] = field(default_factory=list)

    def through(self, sequence: int) -> int:
        step = bisect_right(self.at, sequence)
        return self.reach[step - 1] if step else -1


class Chains:
    """All chains of one farm and who had seen what. ``known`` looks a stored entry up by id."""

    def __init__(self, known: Callable[[bytes], Known | None]) -> None:
        self._known = known
        self.all: dict[int, Chain] = {}
        self._by_tip: dict[bytes, Chain] = {}
        self._seen: dict[int, dict[int, _Reach]] = {}

    def restore(self, chains: list[Chain], contacts: list[Contact]) -> None:
        """Take up chains and contacts that were stored earlier."""
        self.all.update({chain.number: chain for chain in chains})
        self._by_tip = {chain.tip: chain for chain in self.all.values()}
        for contact in contacts:
            self._note(contact)

    def settle(self, entry: Entry) -> Settled | Missing:
        """Give an entry that is not yet stored its place. Raises BadBytes where its links contradict."""
        header = entry.header
        chain = self._by_tip.get(header.previous)
        # Nearly all: the next of a run, whose writer had seen nothing new.
        if chain is not None and not header.parents and _next_of(chain, header):
            self._lengthen(chain, entry)
            return Settled(chain, False, [])
        before = self._before(entry)
        found = [(one, self._known(one)) for one in header.parents]
        missing = [one for one, place in found if place is None]
        if before is None and header.previous != NO_ID:
            missing.insert(0, header.previous)
        if missing:
            return Missing(missing)
        places = [place for _, place in found if place is not None]
        highest = before.height if before else -1
        for place in places:
            highest = max(highest, place.height)
        if header.height != 1 + highest:
            raise BadBytes("An entry's height does not follow from the entries it builds on.")
        return self._join(entry, before, places)

    def _before(self, entry: Entry) -> Known | None:
        header = entry.header
        if header.previous == NO_ID:
            return None
        before = self._known(header.previous)
        if before is None:
            return None
        if self.all[before.chain].device != header.device or before.sequence + 1 != header.sequence:
            raise BadBytes("An entry does not continue the log of the device that signed it.")
        return before

    def _join(self, entry: Entry, before: Known | None, places: list[Known]) -> Settled:
        header = entry.header
        chain = self.all[before.chain] if before else None
        opened = chain is None or chain.tip != header.previous
        if chain is None or opened:
            number = max(self.all, default=0) + 1
            split = before.sequence if before else -1
            parent = before.chain if before else None
            chain = Chain(number, header.device, parent, split, b"", -1, -1, entry.id)
            self.all[number] = chain
        contacts = list(self._news(chain, header.sequence, places)) if places else []
        self._lengthen(chain, entry)
        for contact in contacts:
            self._note(contact)
        return Settled(chain, opened, contacts)

    def _lengthen(self, chain: Chain, entry: Entry) -> None:
        self._by_tip.pop(chain.tip, None)
        self._by_tip[entry.id] = chain
        header = entry.header
        chain.tip, chain.tip_sequence, chain.tip_height = entry.id, header.sequence, header.height

    def _news(self, chain: Chain, sequence: int, places: list[Known]) -> Iterator[Contact]:
        """What the writer learns through its parents that it had not seen before."""
        learnt: dict[int, int] = {}
        for place in places:
            for other, reach in self.past(place).items():
                learnt[other] = max(reach, learnt.get(other, -1))
        had = self._past_of(chain.number, sequence - 1)
        for other, reach in sorted(learnt.items()):
            if other != chain.number and reach > had.get(other, -1):
                yield Contact(chain.number, sequence, other, reach)

    def _note(self, contact: Contact) -> None:
        steps = self._seen.setdefault(contact.chain, {}).setdefault(contact.other, _Reach())
        steps.at.append(contact.sequence)
        steps.reach.append(contact.reach)

    def past(self, place: Known) -> dict[int, int]:
        """The causal past of an entry, itself included: the highest sequence per chain."""
        return self._past_of(place.chain, place.sequence)

    def _past_of(self, number: int, sequence: int) -> dict[int, int]:
        past: dict[int, int] = {}
        chain: Chain | None = self.all[number]
        while chain is not None:
            past[chain.number] = max(sequence, past.get(chain.number, -1))
            for other, steps in self._seen.get(chain.number, {}).items():
                reach = steps.through(sequence)
                if reach > past.get(other, -1):
                    past[other] = reach
            sequence = min(sequence, chain.split)
            chain = self.all[chain.parent] if chain.parent is not None else None
        return {number: reach for number, reach in past.items() if reach >= 0}

    def saw(self, later: Known, earlier: Known) -> bool:
        """Whether the writer of ``later`` had seen ``earlier`` (or wrote it) when it wrote."""
        if later.chain == earlier.chain:
            return earlier.sequence <= later.sequence
        return self.past(later).get(earlier.chain, -1) >= earlier.sequence

    def inherited(self, number: int, place: Known) -> bool:
        """Whether a branch's writer had seen an entry before its log split."""
        chain = self.all[number]
        if chain.parent is None:
            return False
        return self._past_of(chain.parent, chain.split).get(place.chain, -1) >= place.sequence

    def tips_unseen_by(self, number: int | None) -> list[bytes]:
        """The newest entries of other chains that a writer has not cited yet, at most 32, sorted."""
        past = self._past_of(number, self.all[number].tip_sequence) if number else {}
        news = [
            chain
            for chain in self.all.values()
            if chain.number != number and past.get(chain.number, -1) < chain.tip_sequence
        ]
        heads = [chain for chain in news if not self._covered(chain, news)]
        heads.sort(key=lambda chain: (-chain.tip_height, chain.tip))
        return sorted(chain.tip for chain in heads[:PARENTS])

    def _covered(self, chain: Chain, others: list[Chain]) -> bool:
        """Whether another chain's newest entry already had this chain's newest in its past."""
        return any(
            other is not chain
            and self._past_of(other.number, other.tip_sequence).get(chain.number, -1)
            >= chain.tip_sequence
            for other in others
        )

    def height_of(self, id: bytes) -> int:
        """The height of a stored entry."""
        place = self._known(id)
        assert place is not None, "a tip is always stored"
        return place.height

    def of_device(self, device: bytes) -> list[Chain]:
        """The chains a device's key wrote, the longest first."""
        own = [chain for chain in self.all.values() if chain.device == device]
        return sorted(own, key=lambda chain: (-chain.tip_sequence, chain.tip))

    def branches(self) -> dict[bytes, list[Chain]]:
        """Devices whose log continued in more than one copy, with their chains."""
        by_device: dict[bytes, list[Chain]] = {}
        for chain in self.all.values():
            by_device.setdefault(chain.device, []).append(chain)
        return {device: chains for device, chains in by_device.items() if len(chains) > 1}


def _next_of(chain: Chain, header: Header) -> bool:
    return (
        chain.device == header.device
        and chain.tip_sequence + 1 == header.sequence
        and chain.tip_height + 1 == header.height
    )
