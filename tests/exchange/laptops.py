"""Laptops for the tests of exchange: the same farm on ledgers in memory and on stores on disk."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Protocol

from herdsync.answers import Setback
from herdsync.exchange.ledger import Ledger
from herdsync.faults import BadBytes
from herdsync.log.chain import Chain, Chains, Known
from herdsync.log.entry import AUTHORITY, CRITICAL, NO_ID, Entry
from herdsync.log.signing import SigningKey, entry_verifies
from herdsync.log.trust import ADMIT, FOUND, MEMBERSHIP, Members
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.merge.payloads import RECORD
from herdsync.merge.replica import Replica
from herdsync.store.carried import Run, Sighting, Taken
from herdsync.store.keyring import Secret
from herdsync.store.store import Stamp, Store

FLAGS = AUTHORITY | CRITICAL


def entropy_of(seed: str) -> Callable[[int], bytes]:
    """Bytes that look random and repeat from run to run."""
    state = [hashlib.sha256(seed.encode()).digest()]

    def answer(count: int) -> bytes:
        drawn = b""
        while len(drawn) < count:
            state[0] = hashlib.sha256(state[0]).digest()
            drawn += hashlib.sha256(b"out" + state[0]).digest()
        return drawn[:count]

    return answer


def seeds_of(name: str) -> tuple[bytes, bytes]:
    """The seeds of a device key that follow from its name."""
    seed = hashlib.sha256(name.encode()).digest()
    return seed, hashlib.sha256(seed).digest()


def key_of(name: str) -> SigningKey:
    """A device key that follows from its name."""
    return SigningKey(*seeds_of(name))


def founding_of(name: str, farm: str = "Quillmoor Dairy") -> Entry:
    """A founding entry by a device."""
    key, recovery = key_of(name), key_of("recovery")
    payload = {
        "farm": farm,
        "keeper": "Oda",
        "device": name,
        "seal": key.seal_public,
        "recovery": recovery.public,
        "recovery_seal": recovery.seal_public,
    }
    act = Act(FOUND, MEMBERSHIP, payload, flags=FLAGS)
    salt = hashlib.sha256(farm.encode()).digest()[:16]
    return next_entry(Chains(lambda _: None), None, Pen(NO_ID, key, "", 0), act, salt, None)


def admission_of(name: str, keeper: str = "Ravi") -> Act:
    """The act that lets a device in."""
    key = key_of(name)
    payload = {
        "key": key.public,
        "seal": key.seal_public,
        "keeper": keeper,
        "device": name,
        "role": "keeper",
        "request": b"",
        "proof": bytes(64),
    }
    return Act(ADMIT, MEMBERSHIP, payload, flags=FLAGS)


def note(text: str) -> Act:
    """A note, the plainest of records."""
    return Act(RECORD, "note", {"fields": {"text": text}})


class Laptop(Protocol):
    """One device of a farm under test."""

    name: str

    @property
    def ledger(self) -> Ledger: ...

    def write(self, act: Act) -> Entry: ...

    def ids(self) -> set[bytes]: ...


class MemoryLedger:
    """A ledger without a disk, on the real log and the real fold."""

    def __init__(self, key: SigningKey, founding: Entry) -> None:
        self.farm = founding.id
        self.key = key
        self.replica = Replica()
        self.replica.take([founding])
        self._strangers: dict[bytes, Entry] = {}
        self._sightings: dict[tuple[str, int, bytes], Sighting] = {}
        self._notes: dict[str, bytes] = {}
        self._number = 0
        self._heard: dict[bytes, tuple[int, list[tuple[bytes, int, bytes]]]] = {}

    def members(self) -> Members:
        return self.replica.members()

    def _chains(self) -> dict[int, Chain]:
        return self.replica.chains.all

    def runs(self) -> list[Run]:
        return [
            Run(chain.device, chain.number, chain.split + 1, chain.tip_sequence)
            for chain in self._chains().values()
        ]

    def entries(self, runs: list[Run]) -> Iterable[Entry]:
        wanted = [(run.chain, run.first, run.last) for run in runs]
        placed = [(self.place_of(one.id), one) for one in self.replica.entries.values()]
        found = [
            entry
            for place, entry in placed
            if place is not None
            and any(c == place.chain and a <= place.sequence <= b for c, a, b in wanted)
        ]
        return sorted(found, key=lambda entry: entry.order)

    def place_of(self, id: bytes) -> Known | None:
        return self.replica._places.get(id)

    def damaged(self) -> list[bytes]:
        return []

    def previous_of(self, run: Run) -> bytes:
        chain = self._chains()[run.chain]
        while chain.parent is not None and run.first - 1 <= chain.split:
            chain = self._chains()[chain.parent]
        wanted = (chain.number, run.first - 1)
        for id in self.replica.entries:
            place = self.place_of(id)
            if place is not None and (place.chain, place.sequence) == wanted:
                return id
        return NO_ID

    def take(self, entries: list[Entry], source: str) -> Taken:
        before = len(self.replica.entries)
        refused: list[Setback] = []
        for entry in entries:
            if not entry_verifies(entry):
                refused.append(Setback(f"an entry in {source}", "its signature is bad"))
            elif entry.header.device in self.members().by_key:
                self._settle(entry, source, refused)
            else:
                self._strangers[entry.id] = entry
        for entry in list(self._strangers.values()):
            if entry.header.device in self.members().by_key:
                del self._strangers[entry.id]
                self._settle(entry, source, refused)
        parked = len(self._strangers) + len(self.replica.parked)
        return Taken(len(self.replica.entries) - before, parked, 0, refused)

    def _settle(self, entry: Entry, source: str, refused: list[Setback]) -> None:
        try:
            self.replica.take([entry])
        except BadBytes as fault:
            refused.append(Setback(f"an entry in {source}", str(fault)))

    def sighted(self, name: str, size: int, tail: bytes | None) -> Sighting | None:
        found = [
            one
            for one in self._sightings.values()
            if (one.name, one.size) == (name, size) and tail in (None, one.tail)
        ]
        return found[0] if len(found) == 1 else None

    def forget(self, sighting: Sighting) -> None:
        self._sightings.pop((sighting.name, sighting.size, sighting.tail), None)

    def noted(self, name: str) -> bytes | None:
        return self._notes.get(name)

    def note(self, name: str, told: bytes) -> None:
        self._notes[name] = told

    def sightings(self) -> list[Sighting]:
        return list(self._sightings.values())

    def remember(self, sighting: Sighting) -> None:
        self._sightings[sighting.name, sighting.size, sighting.tail] = sighting

    def take_bundle_number(self) -> int:
        self._number += 1
        return self._number

    def heard(self, device: bytes, frontier: list[tuple[bytes, int, bytes]], clock_ms: int) -> None:
        earlier = self._heard.get(device, (0, []))[1]
        if sum(seq for _, seq, _ in earlier) <= sum(seq for _, seq, _ in frontier):
            self._heard[device] = (clock_ms, frontier)

    def last_heard(self) -> dict[bytes, tuple[int, list[tuple[bytes, int, bytes]]]]:
        return dict(self._heard)


class MemoryLaptop:
    """A laptop on a ledger in memory."""

    def __init__(self, name: str, founding: Entry) -> None:
        self.name = name
        self.memory = MemoryLedger(key_of(name), founding)
        self._entropy = entropy_of(f"writing {name}")

    @property
    def ledger(self) -> Ledger:
        return self.memory

    def write(self, act: Act) -> Entry:
        replica = self.memory.replica
        own = replica.chains.of_device(self.memory.key.public)
        pen = Pen(self.memory.farm, self.memory.key, "", 0)
        entry = next_entry(
            replica.chains, own[0] if own else None, pen, act, self._entropy(16), None
        )
        replica.take([entry])
        return entry

    def ids(self) -> set[bytes]:
        return set(self.memory.replica.entries)


class StoreLaptop:
    """A laptop on a store on disk; needs HERDSYNC_KEYS to point somewhere private."""

    def __init__(self, name: str, founding: Entry, folder: Path) -> None:
        self.name = name
        self.store = Store.create(folder, founding, Secret(founding.id, *seeds_of(name)))
        self._stamp = Stamp("", 0, False, entropy_of(f"writing {name}"))

    @property
    def ledger(self) -> Ledger:
        return self.store

    def write(self, act: Act) -> Entry:
        with self.store.writing(self._stamp) as writing:
            return writing.append(act)

    def ids(self) -> set[bytes]:
        return {entry.id for entry in self.store.entries(self.store.runs())}
