"""Random histories of a farm: several laptops that write, contradict, meet, fork and misbehave.

A history is a list of small steps, so that one that fails is shortened step by step. What a step does
in detail follows from its number alone.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import AUTHORITY, CRITICAL, Entry, keyed_record_id
from herdsync.log.trust import ADMIT, MEMBERSHIP
from herdsync.log.writer import Act
from herdsync.merge.payloads import AMEND, RECORD, RESOLVE, RETRACT, tie_id
from herdsync.merge.records import Record
from herdsync.merge.replica import Replica
from tests.farmyard import Device, Yard, key_of

DAYS = ("2026-01-01", "2026-01-02", "2026-01-03T06:30:00Z", "2026-01", "2026-02-10", "2025-12-30")
NAMES = ("Agate", "Opal", "Mica")
FIELDS: dict[str, dict[str, tuple[Any, ...]]] = {
    "animal": {
        "name": NAMES, "sex": ("doe", "buck"), "born": ("2020-03-01", "2025-12-01", "2026-01"),
        "tattoo_left": ("A1", "A2"), "tattoo_right": ("QMR",), "tag": ("7", "07"),
    },
    "dose": {"on": DAYS[:3], "milk_h": ([48, 0, "h"], [96, 0, "h"]), "amount_ml": ([2, 0, "mL"],),
             "route": ("in-muscle", "under-skin")},
    "weighing": {"on": DAYS, "weight_kg": ([445, -1, "lb"], [20, 0, "kg"]), "how": ("scale", "tape")},
    "mating": {"on": DAYS},
    "kidding": {"on": DAYS},
    "milk": {"on": DAYS, "milking": ("morning", "evening"), "milk_kg": ([2, 0, "kg"],)},
    "pen-move": {"on": DAYS[:2]},
    "hoof-trim": {"on": DAYS, "front_left": ("ok", "overgrown")},
    "leaving": {"on": DAYS, "how": ("sold",)},
    "arrival": {"on": DAYS},
    "note": {"on": DAYS, "text": ("limps", "[b]bold[/b]\u202e")},
    "pen": {"name": ("Byre", "Loft")},
    "product": {"substance": ("Quillsan",), "milk_h": ([48, 0, "h"],)},
    "setting": {"key": ("zone", "letters"), "value": ("UTC", "dairy")},
}  # fmt: skip
REFS = {"animal": "animal", "doe": "animal", "buck": "animal", "dam": "animal", "sire": "animal",
        "pen": "pen", "product": "product"}  # fmt: skip
SET_FIELD = "groups"

Step = tuple[str, int]


class History:
    """A yard and what happened in it."""

    def __init__(self, steps: list[Step]) -> None:
        self.yard = Yard(devices={"house": "Oda", "barn": "Ravi", "loft": "Ravi"})
        self.yard.admit("shed", "Jun", role="helper")
        self._stock(self.yard)
        self.yard.meet()
        self.recovery = Device("recovery", "", self.yard.farm)
        self.lost: list[Replica] = []
        self.copies: list[Device] = []
        for name, number in steps:
            STEPS[name](self, random.Random(number))

    @staticmethod
    def _stock(yard: Yard) -> None:
        """What all know before they part: few enough things that their acts run into each other."""
        dam = yard.animal("Agate", sex="doe", born="2020-03-01")
        buck = yard.animal("Basalt", sex="buck", born="2021-03-01", tag="7")
        yard.animal("Onyx", dam=dam, sire=buck, born="2025-12-01")
        products = [
            yard.write("house", "product", substance=word) for word in ("Quillsan", "Marlin")
        ]
        yard.write("house", "pen", name="Byre")
        yard.write("house", "pen", name="Loft")
        for device, product in zip(("house", "barn"), products, strict=True):
            yard.write(
                device, "dose", animal=dam, on="2026-01-02", product=product, milk_h=[96, 0, "h"]
            )

    @property
    def entries(self) -> list[Entry]:
        """Every entry of every laptop, copies and what was lost with a restored one included."""
        replicas = [device.replica for device in (*self.laptops, self.recovery)] + self.lost
        every = {id: entry for one in replicas for id, entry in one.entries.items()}
        return sorted(every.values(), key=lambda entry: entry.order)

    @property
    def laptops(self) -> list[Device]:
        """All that write: the named ones and forked copies."""
        return [*self.yard.devices.values(), *self.copies]


def steps(
    *, honest: bool = False, governed: bool = True, most: int = 22
) -> st.SearchStrategy[list[Step]]:
    """Histories of up to ``most`` steps.

    Honest ones hold only what this program itself writes; in governed ones devices are removed, given
    roles, and keepers decide about unvouched entries.
    """
    names = [
        name
        for name in STEPS
        if not (honest and name in DISHONEST) and (governed or name != "govern")
    ]
    weighted = sorted([*names, "record", "record", "record", "amend", "amend", "meet", "meet"])
    return st.lists(st.tuples(st.sampled_from(weighted), st.integers(0, 2**12)), max_size=most)


def fields_for(kind: str, device: Device, chance: random.Random) -> dict[str, Any]:
    """Plausible fields of a kind; references to what the device knows."""
    fields: dict[str, Any] = {}
    for name, field in CATALOGUE[kind].fields.items():
        if name in REFS:
            known = sorted(one.id for one in all_of(device, REFS[name]))
            if known and (field.required or chance.random() < 0.7):
                fields[name] = chance.choice(known)
            elif field.required:
                fields[name] = bytes([chance.randrange(3)]) * 16
        elif name == SET_FIELD:
            fields[name] = chance.sample(["milkers", "show"], chance.randrange(3))
        elif name in FIELDS[kind] and (field.required or chance.random() < 0.7):
            fields[name] = chance.choice(FIELDS[kind][name])
    return fields


def all_of(device: Device, kind: str) -> list[Record]:
    return sorted(
        (one for one in device.replica.shelf.every_record() if kind in ("", one.kind)),
        key=lambda one: one.id,
    )


def pick(device: Device, chance: random.Random, kind: str = "") -> Record | None:
    kind = kind or chance.choice(["dose", "dose", "animal", ""])
    known = all_of(device, kind)
    return chance.choice(known) if known else None


def record(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    kind = chance.choice([*FIELDS, "animal", *["dose", "pen-move"] * 3])
    fields = fields_for(kind, device, chance)
    begin(history, device, kind, fields, by=chance.choice(["", "", "Jun"]))


def begin(
    history: History, device: Device, kind: str, fields: dict[str, Any], by: str = ""
) -> None:
    spec = CATALOGUE[kind]
    payload: dict[str, Any] = {"fields": fields}
    if spec.keyed:
        payload["key"] = fields[spec.keyed]
    refs = frozenset(value for value in fields.values() if isinstance(value, bytes))
    flags = CRITICAL if spec.critical else 0
    device.write(Act(RECORD, kind, payload, spec.version, flags, refs), by=by)


def amend(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    shown = pick(device, chance)
    if shown is None or shown.kind not in FIELDS:
        return
    fields = fields_for(shown.kind, device, chance)
    name = chance.choice(sorted(fields)) if fields else None
    if (
        name is None
        or CATALOGUE[shown.kind].fields[name].many
        or name == CATALOGUE[shown.kind].keyed
    ):
        return
    claims = {}
    register = shown.register_of(name)
    standing = shown.registers[register].standing if register in shown.registers else []
    carried = dict(standing[-1].values) if standing else {}
    claims[register] = [carried | {name: fields[name]}, [claim.entry for claim in standing]]
    change(device, AMEND, shown, claims, because=chance.choice(["", "", "read again"]))


def change(device: Device, verb: str, shown: Record, claims: dict[str, Any], **more: Any) -> Entry:
    payload = {"of": shown.id, "claims": claims} | {k: v for k, v in more.items() if v}
    subjects = frozenset({shown.id})
    return device.write(Act(verb, shown.kind, payload, 1, 0, subjects))


def stand(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    shown = pick(device, chance)
    if shown is None or "stands" not in shown.registers:
        return
    back = not shown.stands
    cites = [claim.entry for claim in shown.registers["stands"].standing]
    saw = sorted({claim.entry for claim in shown.claims()})
    verb = AMEND if back else RETRACT
    because = chance.choice(["", "a slip"])
    change(device, verb, shown, {"stands": [{"stands": back}, cites]}, saw=saw, because=because)


def resolve(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    conflicts = [one for one in device.replica.shelf.every_conflict() if one.open]
    if not conflicts:
        return
    found = chance.choice(conflicts)
    shown = device.replica.shelf.get(found.records[0])
    if found.kind == "rule":
        payload = {"conflict": found.id, "because": "it is so"}
        device.write(Act(RESOLVE, found.record_kind, payload, subjects=frozenset(found.records)))
    elif found.kind == "field" and shown is not None:
        register = shown.registers[found.field]
        told = chance.choice(register.standing).values
        claims = {found.field: [told, [claim.entry for claim in register.standing]]}
        change(device, RESOLVE, shown, claims, conflict=found.id)
    elif found.kind == "pair":
        tie(device, found.records[0], found.records[1], chance.choice(["same", "different"]))


def say_same(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    one = pick(device, chance, chance.choice(["animal", "dose", "product", "pen", ""]))
    if one is None:
        return
    other = pick(device, chance, one.kind)
    if other is not None and one.id != other.id:
        tie(device, one.id, other.id, "same")


def part(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    joined = [one for one in all_of(device, "") if len(one.ids) > 1]
    if joined:
        a, b = chance.sample(chance.choice(joined).ids, 2)
        tie(device, a, b, "different")


def tie(device: Device, a: bytes, b: bytes, verb: str) -> None:
    shelf = device.replica.shelf
    before = [
        one for one in shelf.touching(tie_id(a, b)) if one.header.verb in ("same", "different")
    ]
    cited = {id for entry in before for id in entry.body.payload["cites"]}
    cites = sorted(entry.record_id for entry in before if entry.record_id not in cited)
    shown = shelf.get(a)
    kind = shown.kind if shown is not None and shown.kind else "note"
    payload = {"a": a, "b": b, "cites": cites}
    device.write(Act(verb, kind, payload, subjects=frozenset({a, b})))


def regroup(history: History, chance: random.Random) -> None:
    device = chance.choice(history.laptops)
    shown = pick(device, chance, "animal")
    if shown is None:
        return
    have = shown.elements(SET_FIELD)
    drop = [[element, sorted(ids)] for element, ids in have if chance.random() < 0.5]
    add = chance.sample(["milkers", "show", "young"], chance.randrange(3))
    change(device, AMEND, shown, {SET_FIELD: [{SET_FIELD: {"add": add, "drop": drop}}, []]})


def meet(history: History, chance: random.Random) -> None:
    group = chance.sample(history.laptops, chance.randrange(2, len(history.laptops) + 1))
    every = {id: entry for one in group for id, entry in one.replica.entries.items()}
    for one in group:
        one.replica.take(sorted(every.values(), key=lambda entry: entry.order))


def copy_laptop(history: History, chance: random.Random) -> None:
    """A laptop's folder is copied, key and all, and both copies go on."""
    if len(history.copies) > 1:
        return
    model = chance.choice(history.laptops)
    copy = Device(f"{model.name}'s copy {len(history.copies)}", model.keeper, model.farm)
    copy.key, copy.clock = model.key, model.clock
    copy.replica.take(sorted(model.replica.entries.values(), key=lambda entry: entry.order))
    history.copies.append(copy)


def turn_back(history: History, chance: random.Random) -> None:
    """A laptop goes back to an earlier state, from a backup, and writes on."""
    device = chance.choice(history.laptops)
    past = list(device.replica.entries.values())
    founded = next(place for place, one in enumerate(past) if one.header.verb == "found")
    keep = chance.randrange(founded + 1, len(past) + 1)
    history.lost.append(device.replica)
    device.replica = Replica()
    device.replica.take(past[:keep])


def admit_again(history: History, chance: random.Random) -> None:
    """Whoever holds a laptop admits a device: the steward rightly, anyone else in vain."""
    device = chance.choice(history.laptops)
    key = key_of(chance.choice(["loft", "shed", "nobody"]))
    payload = {
        "key": key.public, "seal": key.seal_public, "keeper": "Ann", "device": "loft",
        "role": chance.choice(["keeper", "helper", "reader"]), "request": b"", "proof": bytes(64),
    }  # fmt: skip
    device.write(Act(ADMIT, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL))


def govern(history: History, chance: random.Random) -> None:
    """An act of authority, rightly or not, by any laptop or the recovery words on a machine of their own."""
    device = chance.choice([*history.laptops, history.recovery])
    if device is history.recovery:
        known = chance.choice(history.laptops).replica.entries.values()
        device.replica.take(sorted(known, key=lambda entry: entry.order))
    verb = chance.choice(["remove", "role", "hand-over", "adopt", "set-aside"])
    target = chance.choice([*history.laptops, history.recovery]).key.public
    seen = sorted(entry.record_id for entry in device.replica.entries.values())
    tips = [chain.tip[:16] for chain in device.replica.chains.of_device(target)]
    anywhere = sorted(entry.record_id for entry in history.entries)
    payloads: dict[str, dict[str, Any]] = {
        "remove": {
            "key": target,
            "last": chance.choice([tips, tips, chance.sample(anywhere, 1), []]),
        },
        "role": {"key": target, "role": chance.choice(["keeper", "helper", "reader"])},
        "hand-over": {"key": target},
        "adopt": {"entries": chance.sample(seen, min(3, len(seen)))},
        "set-aside": {"entries": chance.sample(anywhere, 3)},
    }
    device.write(Act(verb, MEMBERSHIP, payloads[verb], flags=AUTHORITY | CRITICAL))


def misbehave(history: History, chance: random.Random) -> None:
    """A well-signed entry whose payload makes no sense here: it must hurt nobody and not be lost."""
    device = chance.choice(history.laptops)
    shown = pick(device, chance)
    known = [claim.entry for claim in shown.claims()] if shown else []
    other = pick(device, chance)
    of = shown.id if shown else bytes(16)
    farm = history.yard.farm
    odd: list[Act] = [
        Act(AMEND, "dose", {"of": bytes(16), "claims": {}}),
        Act(AMEND, "dose", {"of": of, "claims": {"on": [{"on": "never"}, known]}}),
        Act(AMEND, shown.kind if shown else "dose", {"of": of, "claims": {"stands": [{"stands": 5}, []]}}),
        Act(RECORD, "dose", {"fields": {"animal": "text"}}),
        Act(RECORD, "animal", {"fields": {"stands": False, "name": "Marl"}}),
        Act(RECORD, "animal", {"fields": {"stands": {"add": 1}, "verdict": True}}),
        Act(RECORD, "future-kind", {"fields": {"x": [1, {"y": b"z"}]}},
            flags=CRITICAL, subjects=frozenset({of})),
        Act(RECORD, "dose", {"fields": {}}, kind_version=9, flags=CRITICAL, subjects=frozenset({of})),
        Act(RECORD, "animal", {"fields": {"new_field": {"add": [1]}, "name": "Onyx"}}),
        Act(RECORD, "animal", {"key": "k", "fields": {"name": "Keyed"}}),
        Act(RECORD, "setting", {"fields": {"key": "zone", "value": "UTC"}}),
        Act(RECORD, "setting", {"key": "other", "fields": {"key": "zone", "value": "UTC"}}),
        Act("same", "dose", {"a": of, "b": of, "cites": []}),
        Act("same", "dose", {"a": of, "b": bytes(16), "cites": []}),
        Act("different", "dose", {"a": of, "b": 5, "cites": []}),
        Act("dance", "dose", {"of": of}),
        Act(RESOLVE, "dose", {"conflict": bytes(32), "because": ""}),
        Act(RESOLVE, "dose", {"conflict": bytes(3), "because": ""}),
        Act(AMEND, "animal", {"of": tie_id(of, other.id if other else of), "claims": {}}),
        Act(AMEND, "setting", {"of": keyed_record_id(farm, "setting", "zone"), "claims": {}}),
        Act(AMEND, shown.kind if shown else "dose",
            {"of": of,
             "claims": {"odd": [{"odd": {"add": []}}, known], "stands": [{"stands": True}, known]}}),
        Act(AMEND, "animal",
            {"of": of,
             "claims": {SET_FIELD: [{SET_FIELD: {"add": [], "drop": [["show", known]]}}, known]}}),
        Act(RETRACT, "dose", {"of": of, "claims": {"on": [{"on": "2026-01-01"}, []]}}),
    ]  # fmt: skip
    device.write(chance.choice(odd))


STEPS: dict[str, Callable[[History, random.Random], None]] = {
    "record": record,
    "amend": amend,
    "stand": stand,
    "resolve": resolve,
    "same": say_same,
    "part": part,
    "regroup": regroup,
    "meet": meet,
    "copy": copy_laptop,
    "back": turn_back,
    "admit": admit_again,
    "govern": govern,
    "misbehave": misbehave,
}
DISHONEST = {"copy", "back", "admit", "govern", "misbehave"}
