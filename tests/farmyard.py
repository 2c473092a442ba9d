"""A farm in memory for tests: several devices that write, meet and fold, with the real log and merge."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import AUTHORITY, CRITICAL, NO_ID, Entry, keyed_record_id
from herdsync.log.signing import SigningKey
from herdsync.log.trust import ADMIT, FOUND, MEMBERSHIP
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.merge.conflicts import Conflict
from herdsync.merge.folding import registers_of
from herdsync.merge.memory_shelf import MemoryShelf
from herdsync.merge.payloads import AMEND, DIFFERENT, RECORD, RESOLVE, RETRACT, SAME, STANDS, tie_id
from herdsync.merge.records import Record
from herdsync.merge.replica import Replica

START = datetime(2026, 1, 1, 6, 0, tzinfo=UTC)


def key_of(name: str) -> SigningKey:
    """A device key that follows from its name, so that runs repeat."""
    seed = hashlib.sha256(name.encode()).digest()
    return SigningKey(seed, hashlib.sha256(seed).digest())


class Device:
    """One laptop of the yard: its key, its replica, its clock."""

    def __init__(self, name: str, keeper: str, farm: bytes = NO_ID) -> None:
        self.name = name
        self.keeper = keeper
        self.key = key_of(name)
        self.farm = farm
        self.replica = Replica()
        self.clock = START
        self.salt = 0

    def write(self, act: Act, batch: bytes | None = None, by: str = "") -> Entry:
        """Sign and take the next entry."""
        self.salt += 1
        self.clock += timedelta(minutes=1)
        own = self.replica.chains.of_device(self.key.public)
        pen = Pen(self.farm, self.key, by, int(self.clock.timestamp() * 1000))
        salt = hashlib.sha256(f"{self.name}/{self.salt}".encode()).digest()[:16]
        entry = next_entry(self.replica.chains, own[0] if own else None, pen, act, salt, batch)
        self.replica.take([entry])
        return entry


class Yard:
    """Devices ``house`` (Oda, steward) and ``barn`` (Ravi), who share nothing until they meet."""

    def __init__(self, zone: str = "UTC", devices: Mapping[str, str] | None = None) -> None:
        self.zone = zone
        named = dict(devices or {"house": "Oda", "barn": "Ravi"})
        recovery = key_of("recovery")
        first, *others = named
        self.devices = {first: Device(first, named[first])}
        founder = self.devices[first]
        payload = {
            "farm": "Quillmoor Dairy",
            "keeper": founder.keeper,
            "device": first,
            "seal": founder.key.seal_public,
            "recovery": recovery.public,
            "recovery_seal": recovery.seal_public,
        }
        founding = founder.write(Act(FOUND, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL))
        self.farm = founder.farm = founding.id
        for name in others:
            self.admit(name, named[name])

    def admit(self, name: str, keeper: str, role: str = "keeper") -> None:
        """Let another device in, by the first one."""
        device = Device(name, keeper, self.farm)
        self.devices[name] = device
        payload = {
            "key": device.key.public,
            "seal": device.key.seal_public,
            "keeper": keeper,
            "device": name,
            "role": role,
            "request": b"",
            "proof": bytes(64),
        }
        founder = next(iter(self.devices.values()))
        founder.write(Act(ADMIT, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL))
        self.meet(founder.name, name)

    def meet(self, *names: str) -> None:
        """Every named device (all, without names) takes what the others have."""
        group = [self.devices[name] for name in names or self.devices]
        every = {id: entry for one in group for id, entry in one.replica.entries.items()}
        for one in group:
            one.replica.take(sorted(every.values(), key=lambda entry: entry.order))

    def shelf(self, device: str = "") -> MemoryShelf:
        """What a device's replica derived."""
        return self._device(device).replica.shelf

    records = shelf

    def conflicts(self, device: str = "") -> list[Conflict]:
        """Open disagreements as a device sees them."""
        return [one for one in self.shelf(device).every_conflict() if one.open]

    def animal(self, name: str, **fields: Any) -> bytes:
        """An animal written by the first device and known to all."""
        fields.setdefault("standing", "here")
        id = self.write("", "animal", name=name, **fields)
        self.meet()
        return id

    def write(self, device: str, kind: str, /, by: str = "", **fields: Any) -> bytes:
        """Record an act on a device; answer its record id."""
        spec = CATALOGUE.get(kind)
        payload: dict[str, Any] = {"fields": fields}
        subjects = frozenset(v for v in fields.values() if isinstance(v, bytes) and len(v) == 16)
        flags = CRITICAL if spec is not None and spec.critical else 0
        if spec is not None and spec.keyed:
            payload["key"] = str(fields[spec.keyed])
        version = spec.version if spec else 1
        entry = self._device(device).write(
            Act(RECORD, kind, payload, version, flags, subjects), by=by
        )
        if "key" in payload:
            return keyed_record_id(self.farm, kind, payload["key"])
        return entry.record_id

    def amend(self, device: str, record: bytes, because: str = "", **fields: Any) -> Entry:
        """Amend fields, citing all that the device's keeper is shown; a bond is carried whole."""
        shown = self._shown(device, record)
        claims = {}
        for name, values in registers_of(CATALOGUE[shown.kind], fields).items():
            register = shown.registers.get(name)
            standing = register.standing if register else []
            carried = dict(standing[-1].values) if standing else {}
            claims[name] = [carried | values, [claim.entry for claim in standing]]
        payload = {"of": record, "claims": claims, "because": because}
        return self._change(device, AMEND, shown, payload)

    def retract(self, device: str, record: bytes, because: str = "a slip") -> Entry:
        """Retract a record, citing all that the device's keeper is shown."""
        return self._stand(device, RETRACT, record, False, because)

    def restore(self, device: str, record: bytes) -> Entry:
        """Bring a retracted record back."""
        return self._stand(device, AMEND, record, True, "")

    def _stand(self, device: str, verb: str, record: bytes, stands: bool, because: str) -> Entry:
        shown = self._shown(device, record)
        cites = [claim.entry for claim in shown.registers[STANDS].standing]
        saw = sorted({claim.entry for claim in shown.claims()})
        claims = {STANDS: [{STANDS: stands}, cites]}
        payload = {"of": record, "claims": claims, "saw": saw, "because": because}
        return self._change(device, verb, shown, payload)

    def resolve(self, device: str, conflict: Conflict, because: str = "", **values: Any) -> Entry:
        """Resolve a field conflict to values, citing its claims."""
        record = conflict.records[0]
        claims = {conflict.field: [values, [claim.entry for claim in conflict.claims]]}
        payload = {"of": record, "claims": claims, "because": because, "conflict": conflict.id}
        return self._change(device, RESOLVE, self._shown(device, record), payload)

    def accept(self, device: str, conflict: Conflict, because: str = "it is so") -> Entry:
        """Let a broken rule stand."""
        payload = {"conflict": conflict.id, "because": because}
        act = Act(RESOLVE, conflict.record_kind, payload, subjects=frozenset(conflict.records))
        return self._device(device).write(act)

    def same(self, device: str, a: bytes, b: bytes) -> Entry:
        """Say that two records are one."""
        return self._tie(device, SAME, a, b)

    def different(self, device: str, a: bytes, b: bytes) -> Entry:
        """Say that two records are two."""
        return self._tie(device, DIFFERENT, a, b)

    def _tie(self, device: str, verb: str, a: bytes, b: bytes) -> Entry:
        shelf = self.shelf(device)
        before = shelf.touching(tie_id(a, b))
        cited = {id for entry in before for id in entry.body.payload["cites"]}
        cites = sorted(entry.record_id for entry in before if entry.record_id not in cited)
        payload = {"a": a, "b": b, "cites": cites}
        kind = self._shown(device, a).kind
        act = Act(verb, kind, payload, subjects=frozenset({a, b}))
        return self._device(device).write(act)

    def _change(self, device: str, verb: str, shown: Record, payload: dict[str, Any]) -> Entry:
        spec = CATALOGUE[shown.kind]
        flags = CRITICAL if spec.critical else 0
        act = Act(verb, shown.kind, payload, spec.version, flags, frozenset({payload["of"]}))
        return self._device(device).write(act)

    def _shown(self, device: str, record: bytes) -> Record:
        found = self.shelf(device).get(record)
        assert found is not None
        return found

    def _device(self, name: str) -> Device:
        return self.devices[name or next(iter(self.devices))]


def got(yard: Yard, id: bytes, device: str = "") -> Record:
    """The record with this id, as a laptop knows it (or all of them together)."""
    record = yard.records(device).get(id)
    assert record is not None
    return record
