"""What keepers do, through the farm's one door. Each deed draws its details from its own chance.

A deed answers how it ended; what it cannot do here and now it leaves be.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from herdsync.farm import Farm
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.log.entry import AUTHORITY, CRITICAL
from herdsync.log.signing import SigningKey
from herdsync.log.writer import Act
from herdsync.merge.conflicts import FIELD, PAIR, RETRACTED, RULE, Conflict
from herdsync.merge.records import Record
from herdsync.store.store import Stamp
from tests.sim.laptops import Laptop
from tests.sim.world import Broken, World

Deed = Callable[[World, Laptop, random.Random], str]

NOTHING = "nothing to do"
DAYS = ("2026-02-20", "2026-02-21", "2026-02-22T06:30:00Z", "2026-02", "2026-03-30", "2025-12-30")
ANIMALS = ("Agate", "Opal", "Mica\u202e[red]\x9b2J")
FIELDS: dict[str, dict[str, tuple[str, ...]]] = {
    "animal": {"name": ANIMALS, "sex": ("doe", "buck"), "born": ("2020-03-01", "2025-12-01", "2026-01"),
               "tattoo_left": ("A1", "A2"), "tag": ("7", "07")},
    "dose": {"on": DAYS, "milk_h": ("48 h", "96 h"), "meat_d": ("10 d",), "amount_ml": ("2 mL",),
             "route": ("in-muscle", "under-skin"), "said_by": ("the label",)},
    "weighing": {"on": DAYS, "weight_kg": ("44.5 lb", "20 kg"), "how": ("scale", "tape")},
    "mating": {"on": DAYS}, "kidding": {"on": DAYS},
    "milk": {"on": DAYS, "milking": ("morning", "evening"), "milk_kg": ("2 kg",)},
    "pen-move": {"on": DAYS}, "leaving": {"on": DAYS, "how": ("sold",)},
    "hoof-trim": {"on": DAYS, "front_left": ("ok", "overgrown")},
    "note": {"on": DAYS, "text": ("limps", "\x1b]52;c;eA==\x07 \u2066")},
    "pen": {"name": ("Byre", "Loft")},
    "product": {"substance": ("Quillsan", "Marlin"), "milk_h": ("48 h",)},
    "setting": {"key": ("letters", "zone"), "value": ("dairy", "meat")},
    "plan-item": {"item": ("look-over",), "title": ("Look her over", "Look"), "every_days": ("7", "9")},
}  # fmt: skip
REFS = {"animal": "animal", "doe": "animal", "buck": "animal", "dam": "animal", "sire": "animal",
        "pen": "pen", "product": "product", "about": "animal"}  # fmt: skip
COMMON = ("animal", "dose", "dose", "weighing", "pen-move", "product", "pen", "plan-item")


def records(farm: Farm, *kinds: str) -> list[Record]:
    """The records a laptop has, in the order of their ids."""
    with farm._store.reading() as view:
        every = list(view.shelf.every_record())
    return sorted((one for one in every if not kinds or one.kind in kinds), key=lambda r: r.id)


def fields_for(farm: Farm, kind: str, chance: random.Random) -> dict[str, str] | None:
    """Plausible fields of a kind as a keeper types them; None where what it needs is not there."""
    told: dict[str, str] = {}
    for name, field in CATALOGUE[kind].fields.items():
        if name in REFS:
            there = [one for one in records(farm, REFS[name]) if one.stands and one.vouched]
            if there and (field.required or chance.random() < 0.5):
                told[name] = text_id(chance.choice(there[:4]).id)
            elif field.required:
                return None
        elif name in FIELDS[kind] and (field.required or chance.random() < 0.7):
            told[name] = chance.choice(FIELDS[kind][name])
    return told


def stock(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The next of the few things that all acts are about, on the first laptop, for all to have."""
    farm = world.laptops[0].opened()
    there = {one.kind for one in records(farm)}
    dose = {"animal": "Agate", "product": "Quillsan", "on": DAYS[0], "milk_h": "96 h"}
    firsts = (("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"}),
              ("pen", {"name": "Byre"}), ("product", {"substance": "Quillsan"}),
              ("dose", dose))  # fmt: skip
    missing = [(kind, told) for kind, told in firsts if kind not in there]
    if missing:
        kind, told = missing[0]
        return world.attempt(world.laptops[0], lambda farm: farm.record(kind, told))
    place = str(world.places[0].folder)
    for one in world.farms():
        world.attempt(one, lambda farm: farm.exchange(place))
    return "stocked"


def record(world: World, laptop: Laptop, chance: random.Random) -> str:
    """One act; now and then as a draft that is sent twice, as after an answer that never came."""
    farm = laptop.opened()
    kind = chance.choice([*COMMON, *FIELDS])
    told = fields_for(farm, kind, chance)
    if told is None:
        kind, told = "animal", {"name": chance.choice(ANIMALS), "sex": "doe"}
    salt = laptop.wall.entropy(16) if chance.random() < 0.3 else None
    ended = world.attempt(laptop, lambda farm: farm.record(kind, told, salt=salt))
    if salt is not None and ended == "done":
        before = world.ids(laptop)
        world.attempt(laptop, lambda farm: farm.record(kind, told, salt=salt))
        if world.ids(laptop) != before:
            raise Broken("a draft sent twice was written twice")
        world.hits["draft sent again"] += 1
    return ended


def batch(world: World, laptop: Laptop, chance: random.Random) -> str:
    """One act on many animals."""
    animals = [text_id(one.id) for one in records(laptop.opened(), "animal") if one.stands]
    if len(animals) < 2:
        return NOTHING
    told = {"on": chance.choice(DAYS), "front_left": chance.choice(("ok", "overgrown"))}
    return world.attempt(laptop, lambda farm: farm.record("hoof-trim", told, animals[:5]))


def amend(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A field told anew, cleared, or a bond's part."""
    shown = _pick(laptop, chance)
    if shown is None:
        return NOTHING
    told = fields_for(laptop.opened(), shown.kind, chance) or {}
    told.pop(CATALOGUE[shown.kind].keyed or "", None)
    if not told:
        return NOTHING
    name = chance.choice(sorted(told))
    change = f"{name}=" + (told[name] if chance.random() < 0.9 else "")
    because = chance.choice(("", "", "read again"))
    return world.attempt(laptop, lambda farm: farm.amend(text_id(shown.id), [change], because))


def regroup(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A set's elements put in or taken out."""
    shown = _pick(laptop, chance, "animal", "plan-item")
    if shown is None:
        return NOTHING
    change = f"groups{chance.choice('++-')}={chance.choice(('milkers', 'show'))}"
    return world.attempt(laptop, lambda farm: farm.amend(text_id(shown.id), [change]))


def stand(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A record taken back, or brought back."""
    shown = _pick(laptop, chance)
    if shown is None:
        return NOTHING
    ref = text_id(shown.id)
    if shown.stands:
        return world.attempt(laptop, lambda farm: farm.retract(ref, "a slip"))
    return world.attempt(laptop, lambda farm: farm.amend(ref, ["stands=yes"]))


def resolve(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A disagreement resolved in one of the ways its kind allows."""
    with laptop.opened()._store.reading() as view:
        found = [one for one in view.shelf.every_conflict() if one.open]
    if not found:
        return NOTHING
    return _settled(world, laptop, chance, chance.choice(found))


def _settled(world: World, laptop: Laptop, chance: random.Random, one: Conflict) -> str:
    id = text_id(one.id)
    if one.kind == RULE:
        return world.attempt(laptop, lambda f: f.resolve(id, accept=True, because="it is so"))
    if one.kind == PAIR:
        a, b = (text_id(record) for record in one.records[:2])
        says = chance.choice(("same", "different"))
        return world.attempt(
            laptop, lambda farm: farm.same(a, b) if says == "same" else farm.different(a, b)
        )
    if one.kind == RETRACTED:
        value = chance.choice(("yes", "no"))
        return world.attempt(laptop, lambda farm: farm.resolve(id, value=value))
    assert one.kind == FIELD
    take = text_id(chance.choice(one.claims).entry)
    return world.attempt(laptop, lambda farm: farm.resolve(id, take=take))


def tie(world: World, laptop: Laptop, chance: random.Random) -> str:
    """Two records said to be one, or joined ones parted."""
    one = _pick(laptop, chance)
    if one is None:
        return NOTHING
    if len(one.ids) > 1:
        a, b = chance.sample(one.ids, 2)
        return world.attempt(laptop, lambda farm: farm.different(text_id(a), text_id(b)))
    like = [other for other in records(laptop.opened(), one.kind) if other.id != one.id]
    if not like:
        return NOTHING
    other = chance.choice(like)
    return world.attempt(laptop, lambda farm: farm.same(text_id(one.id), text_id(other.id)))


def prove(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A proof of whatever record, by whomever."""
    shown = _pick(laptop, chance, *FIELDS)
    out = laptop.home / f"proof {chance.randrange(2**32)}.txt"
    return world.attempt(laptop, lambda f: f.proof(text_id(shown.id), out)) if shown else NOTHING


def undo(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The newest act taken back."""
    return world.attempt(laptop, lambda farm: farm.undo())


def newer(world: World, laptop: Laptop, chance: random.Random) -> str:
    """An entry of a newer program: a kind, a version, a field or a verb that this one does not know."""
    shown = _pick(laptop, chance)
    if shown is None:
        return NOTHING
    flags, named = chance.choice((0, CRITICAL)), frozenset({shown.id})
    acts = (
        Act("record", "future-kind", {"fields": {"x": [1, {"y": b"z"}]}}, 1, flags, named),
        Act("record", "note", {"fields": {"on": "2026-03-01", "text": "t"}}, 9, flags, named),
        Act("foretell", shown.kind, {"of": shown.id}, 1, flags, named),
        Act("amend", shown.kind, {"of": shown.id, "claims": {"new": [{"new": 5}, []]}}, 1, flags, named),
        Act("record", "animal", {"fields": {"name": "Onyx", "new_set": [1]}}, 1, flags),
    )  # fmt: skip
    return signed(world, laptop, chance.choice(acts))


def misbehave(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A well-signed entry that makes no sense, of a partner's broken or hostile program."""
    shown = _pick(laptop, chance)
    of = shown.id if shown is not None else bytes(16)
    kind = shown.kind if shown is not None else "dose"
    known = [claim.entry for claim in shown.claims()] if shown is not None else []
    other = chance.choice(sorted(laptop.opened()._store.members().known))
    odd = laptop.wall.entropy(32)
    stranger = SigningKey(odd, odd)
    let_in = {"key": stranger.public, "seal": stranger.seal_public, "keeper": "Ann", "device": "x",
              "role": "keeper", "request": b"", "proof": bytes(64)}  # fmt: skip
    acts = (
        Act("remove", "membership", {"key": other, "last": [odd[:16]]}, flags=AUTHORITY),
        Act("remove", "membership", {"key": chance.choice((odd, other)), "last": "all"}, flags=AUTHORITY),
        Act("admit", "membership", let_in, flags=AUTHORITY),
        Act("admit", "membership", let_in | {"key": bytes(32)}, flags=AUTHORITY),
        Act("role", "membership", {"key": odd, "role": "king"}, flags=AUTHORITY),
        Act("hand-over", "membership", {"key": chance.choice((odd, other))}, flags=AUTHORITY),
        Act("adopt", "membership", {"entries": [odd[:16], *known[:2]]}, flags=AUTHORITY),
        Act("set-aside", "membership", {"entries": 5}, flags=AUTHORITY),
        Act("found", "membership", let_in, flags=AUTHORITY),
        Act("amend", "dose", {"of": bytes(16), "claims": {}}),
        Act("amend", kind, {"of": of, "claims": {"stands": [{"stands": 5}, known]}}),
        Act("amend", kind, {"of": of, "claims": {"on": [{"on": "never"}, known]}}),
        Act("record", "animal", {"fields": {"stands": False, "verdict": True}}),
        Act("record", "animal", {"key": "k", "fields": {"name": "Keyed"}}),
        Act("same", kind, {"a": of, "b": of, "cites": []}),
        Act("different", kind, {"a": of, "b": odd[:16], "cites": [odd[:16]]}),
        Act("resolve", kind, {"conflict": odd[:3], "because": ""}),
        Act("amend", "animal", {"of": of, "claims": {"groups": [{"groups": {"add": 1}}, known]}}),
    )  # fmt: skip
    return signed(world, laptop, chance.choice(acts))


def signed(world: World, laptop: Laptop, act: Act) -> str:
    """An act as a program without any check would write it."""
    wall = laptop.wall

    def write(farm: Farm) -> None:
        stamp = Stamp("", int(wall.now().timestamp() * 1000), False, wall.entropy)
        with farm._store.writing(stamp) as writing:
            writing.append(act)

    return world.attempt(laptop, write)


def _pick(laptop: Laptop, chance: random.Random, *kinds: str) -> Record | None:
    kinds = kinds or chance.choice((("dose",), ("animal",), ("plan-item",), tuple(FIELDS)))
    found = records(laptop.opened(), *kinds)
    return chance.choice(found[:6]) if found else None


KEEPERS_DEEDS: dict[str, Deed] = {
    "record": record, "batch": batch, "amend": amend, "regroup": regroup, "stand": stand,
    "resolve": resolve, "tie": tie, "undo": undo, "newer": newer,
    "prove": prove, "misbehave": misbehave,
}  # fmt: skip
