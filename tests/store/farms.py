"""A farm in a folder for the proofs of the store: laptop `house` on disk, `barn` and others in memory."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import CRITICAL, Entry
from herdsync.log.trust import FOUND
from herdsync.log.writer import Act
from herdsync.merge.payloads import RECORD
from herdsync.store.keyring import Secret
from herdsync.store.store import Stamp, Store
from tests.farmyard import Yard

CLOCK = 1_767_250_800_000


class Chance:
    """Bytes that look random and repeat from run to run."""

    def __init__(self, seed: str = "chance") -> None:
        self.seed = seed
        self.drawn = 0

    def __call__(self, count: int) -> bytes:
        self.drawn += 1
        return hashlib.shake_256(f"{self.seed}/{self.drawn}".encode()).digest(count)


def secret_of(name: str, farm: bytes) -> Secret:
    """The secret of a yard's device."""
    seed = hashlib.sha256(name.encode()).digest()
    return Secret(farm, seed, hashlib.sha256(seed).digest())


def kept(folder: Path, yard: Yard | None = None) -> Store:
    """A store of the yard's farm as its first laptop has it; only the store may write as that one now."""
    yard = yard or Yard()
    house = next(iter(yard.devices.values()))
    entries = in_order(house.replica.entries.values())
    founding = next(entry for entry in entries if entry.header.verb == FOUND)
    store = Store.create(folder, founding, secret_of(house.name, founding.id))
    store.take(entries, "the yard")
    return store


def in_order(entries: Any) -> list[Entry]:
    """Entries as each comes after what it builds on."""
    return sorted(entries, key=lambda entry: entry.order)


def stamp(seed: str = "chance", by: str = "") -> Stamp:
    """Who writes, when."""
    return Stamp(by, CLOCK, False, Chance(seed))


def act(kind: str = "note", **fields: Any) -> Act:
    """A record begun; a note says something where nothing is told."""
    if kind == "note":
        fields = {"on": "2026-01-02", "text": "limps"} | fields
    spec = CATALOGUE[kind]
    refs = frozenset(value for value in fields.values() if isinstance(value, bytes))
    payload: dict[str, Any] = {"fields": fields}
    if spec.keyed:
        payload["key"] = fields[spec.keyed]
    return Act(RECORD, kind, payload, spec.version, CRITICAL if spec.critical else 0, refs)


def write(
    store: Store, kind: str = "note", seed: str = "", salt: bytes | None = None, **fields: Any
) -> Entry:
    """One record in a transaction of its own."""
    told = stamp(seed or f"{kind} {fields} {len(store.runs())} {store.runs()[0].last}")
    with store.writing(told) as writing:
        return writing.append(act(kind, **fields), salt=salt)


def everything(store: Store) -> list[Entry]:
    """All entries a store holds, whole."""
    return list(store.entries(store.runs()))
