"""Checking a farm's stored bytes whole: forms, links, signatures, and that what is derived follows."""

from __future__ import annotations

from dataclasses import dataclass, field

from herdsync.faults import BadBytes
from herdsync.log import canonical
from herdsync.log.chain import Chain, Known
from herdsync.log.entry import Entry
from herdsync.log.signing import entry_verifies
from herdsync.merge.fold import Fold
from herdsync.merge.shelf import MemoryShelf, Shelf
from herdsync.store.log_table import BAD, GOOD
from herdsync.store.view import View


@dataclass(slots=True)
class Check:
    """What a check found; ``faults`` are sentences."""

    entries: int = 0
    faults: list[str] = field(default_factory=list)
    bad: list[bytes] = field(default_factory=list)
    good: set[bytes] = field(default_factory=set)


def check(view: View) -> Check:
    """Read every stored byte again and hold it against its hash, its links and its signature."""
    found = Check()
    fresh = MemoryShelf()
    fold = Fold(fresh, view.members, view.saw)
    for chain in sorted(view.log.chains.all.values(), key=lambda chain: chain.number):
        fold.take(_check_chain(view, chain, found))
    if not found.faults and _records_of(view.shelf) != _records_of(fresh):
        found.faults.append(
            "What is derived from the log does not follow from it. Fold it again with 'verify --refold'."
        )
    return found


def _check_chain(view: View, chain: Chain, found: Check) -> list[Entry]:
    sound: list[Entry] = []
    try:
        for entry in view.log.run(chain.number, chain.split + 1, chain.tip_sequence):
            found.entries += 1
            _check_entry(view, entry, found)
            sound.append(entry)
    except BadBytes as fault:
        found.faults.append(
            f"A device's log is damaged after entry {chain.split + len(sound)}: {fault} "
            "Exchange with the partner: what the partner has can be fetched again."
        )
        return sound
    if len(sound) != chain.tip_sequence - chain.split:
        found.faults.append("A device's log has a gap. Exchange with the partner to fill it.")
    return sound


def _check_entry(view: View, entry: Entry, found: Check) -> None:
    heights = [_height(view.log.place_of(one)) for one in entry.header.parents]
    if entry.header.sequence > 0:
        heights.append(_height(view.log.place_of(entry.header.previous)))
    if entry.header.height != 1 + max(heights, default=-1):
        found.faults.append(f"Entry {entry.id.hex()[:12]} has a height that does not follow.")
    holds = entry_verifies(entry)
    if holds:
        found.good.add(entry.id)
    else:
        found.bad.append(entry.id)
        found.faults.append(
            f"Entry {entry.id.hex()[:12]} carries a signature that does not hold. "
            "Exchange with the partner to fetch a good one."
        )


def _height(place: Known | None) -> int:
    return place.height if place is not None else -2


def mark(view: View, found: Check) -> None:
    """Note the outcome of signature checks in the store."""
    for id in found.bad:
        view.log.mark(id, BAD)
    for id in view.log.unchecked(found.entries):
        if id in found.good:
            view.log.mark(id, GOOD)


def _records_of(shelf: Shelf) -> dict[bytes, bytes]:
    return {record.id: canonical.encode(record) for record in shelf.every_record()}
