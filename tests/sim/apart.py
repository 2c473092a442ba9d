"""Two laptops write about one thing, each in a way of its own, neither having seen what the other wrote.

Chance alone brings the rare pairs of ways together too seldom: here the two laptops meet, then each writes
its half of a pair.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from herdsync.farm import Farm
from herdsync.kinds.ids import raw_id, text_id
from herdsync.log.entry import keyed_record_id
from herdsync.log.writer import Act
from herdsync.merge.payloads import line_key
from herdsync.papers.lines import Line
from tests.sim.coverage import pairs
from tests.sim.deeds import NOTHING, Deed, records, signed
from tests.sim.laptops import Laptop
from tests.sim.partners import meet
from tests.sim.world import World

# Long past for every clock, also one ten years slow: no laptop refuses it as lying ahead.
LONG_AGO = "2014-03-01"


@dataclass
class Thing:
    """What both write about: the record ``id``; ``line`` is how either would import it."""

    id: bytes
    kind: str
    line: Line


def apart(pair: tuple[str, str], world: World, laptop: Laptop, chance: random.Random) -> str:
    """Two ways to write, on two laptops that met just before."""
    others = [
        one for one in world.farms() if _device(one) != _device(laptop) and _writes(world, one)
    ]
    if not others or not _writes(world, laptop):
        return NOTHING
    both = [laptop, chance.choice(others)]
    ways = chance.sample(pair, 2)
    doe = _doe(world, laptop)
    meet(world, *both)
    thing = _thing(laptop, "weighing" if "bond" in ways else "animal", doe, chance)
    if "keyed" in ways:
        # The one that writes the other way must have the record, from a line of its own.
        ended = [_keyed(world, one, thing, chance) for one in both]
    else:
        ended = [_recorded(world, laptop, thing), meet(world, *both)]
    ended += [WAYS[way](world, one, thing, chance) for one, way in zip(both, ways, strict=True)]
    return "done" if all(one == "done" for one in ended) else "refused"


def _device(laptop: Laptop) -> bytes:
    return laptop.opened()._store.device


def _writes(world: World, laptop: Laptop) -> bool:
    with world.at(laptop):
        return laptop.opened().read_only == ""


def _doe(world: World, laptop: Laptop) -> str:
    there = [one for one in records(laptop.opened(), "animal") if one.stands and one.vouched]
    if not there:
        world.attempt(laptop, lambda farm: farm.record("animal", {"name": "Agate", "sex": "doe"}))
        there = records(laptop.opened(), "animal")
    return text_id(there[0].id) if there else ""


def _thing(laptop: Laptop, kind: str, doe: str, chance: random.Random) -> Thing:
    number = str(chance.randrange(2**32))
    told = {"name": f"Marl {number}", "sex": "doe"}
    if kind == "weighing":
        told = {"animal": doe, "on": LONG_AGO, "weight_kg": "44.5 lb", "how": "scale"}
    farm = laptop.opened()._store.farm
    id = keyed_record_id(farm, kind, line_key([number]))
    return Thing(id, kind, Line(1, kind, told, (number,)))


def _recorded(world: World, laptop: Laptop, thing: Thing) -> str:
    def write(farm: Farm) -> None:
        thing.id = raw_id(farm.record(thing.kind, thing.line.pairs).id)

    return world.attempt(laptop, write)


def _keyed(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    return world.attempt(laptop, lambda farm: farm.take_lines(thing.kind, [thing.line]))


def _amended(world: World, laptop: Laptop, thing: Thing, change: str) -> str:
    return world.attempt(laptop, lambda farm: farm.amend(text_id(thing.id), [change]))


def _field(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    change = f"name=Opal {chance.randrange(9)}" if thing.kind == "animal" else "on=2014-03-02"
    return _amended(world, laptop, thing, change)


def _bond(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    return _amended(world, laptop, thing, f"weight_kg={20 + chance.randrange(9)} kg")


def _set(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    return _amended(world, laptop, thing, f"groups+={chance.choice(('milkers', 'show'))}")


def _stands(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    return world.attempt(laptop, lambda farm: farm.retract(text_id(thing.id), "a slip"))


def _resolved(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    """A claim that cites nothing makes a conflict here; then it is settled."""
    name, value = ("name", "Beryl") if thing.kind == "animal" else ("on", "2014-03-03")
    claims = {name: [{name: value}, []]}
    signed(world, laptop, Act("amend", thing.kind, {"of": thing.id, "claims": claims}))
    with laptop.opened()._store.reading() as view:
        every = [one for one in view.shelf.every_conflict() if one.open and one.field == name]
    found = next((one for one in every if thing.id in one.records), None)
    if found is None:
        return "refused"
    take = text_id(found.claims[0].entry)
    return world.attempt(laptop, lambda farm: farm.resolve(text_id(found.id), take=take))


def _verdict(world: World, laptop: Laptop, thing: Thing, chance: random.Random) -> str:
    like = {"name": f"Onyx {chance.randrange(99)}", "sex": "doe"}
    told = like if thing.kind == "animal" else thing.line.pairs

    def tie(farm: Farm) -> None:
        farm.same(text_id(thing.id), farm.record(thing.kind, told).id)

    return world.attempt(laptop, tie)


WAYS: dict[str, Callable[[World, Laptop, Thing, random.Random], str]] = {
    "keyed": _keyed, "field": _field, "bond": _bond, "set": _set, "stands": _stands,
    "resolve": _resolved, "verdict": _verdict,
}  # fmt: skip
APART: dict[str, Deed] = {f"{pair[0]} beside {pair[1]}": partial(apart, pair) for pair in pairs()}
