"""What partners do together: carry, ask, admit, put out, hand on, judge, begin again from the words."""

from __future__ import annotations

import random

from herdsync.exchange.session import Session
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.founding import exchange_joining, join, recover
from herdsync.kinds.ids import text_id
from tests.sim.deeds import NOTHING, Deed
from tests.sim.laptops import Laptop
from tests.sim.world import KEEPERS, NAMES, Broken, Place, World

MOST_LAPTOPS = 8


def exchange(world: World, laptop: Laptop, chance: random.Random) -> str:
    """One exchange over a carrier in whatever state it is."""
    place = chance.choice(world.places)
    world.edges.full = place.folder if place.mode == "full" else None
    world.edges.protected = place.folder if place.mode == "write-protected" else None
    if place.mode:
        world.hits[f"{place.mode} carrier"] += 1
    ended = world.attempt(laptop, lambda farm: farm.exchange(str(place.folder)))
    world.edges.full = world.edges.protected = None
    return ended


def call(world: World, laptop: Laptop, chance: random.Random) -> str:
    """Two laptops on one network; now and then the line goes dead after some bytes."""
    others = [one for one in world.farms() if one is not laptop]
    if not others:
        return NOTHING
    there = chance.choice(others)
    left = chance.choice((1 << 40, 1 << 40, chance.randrange(1, 5_000)))
    ended = world.attempt(laptop, lambda farm: _call(farm, there, laptop, left))
    if left < 1 << 40:
        world.hits["line went dead"] += 1
    return ended


def meet(world: World, laptop: Laptop, there: Laptop) -> str:
    """Two laptops on one network, until both have all."""
    return world.attempt(laptop, lambda farm: _call(farm, there, laptop, 1 << 40))


def _call(farm: Farm, there: Laptop, laptop: Laptop, left: int) -> None:
    here, far = farm._store, there.opened()._store
    if here.device == far.device:
        raise Refused("A laptop does not call a copy of itself.", "")
    clock = int(laptop.wall.now().timestamp() * 1000)
    _talk(Session(here, far.key.public, calling=True, clock_ms=clock),
          Session(far, here.key.public, calling=False, clock_ms=clock), left)  # fmt: skip


def _talk(calling: Session, answering: Session, left: int) -> None:
    while left > 0:
        moved = False
        for one, other in ((answering, calling), (calling, answering)):
            while left > 0 and (data := one.send()):
                moved = True
                other.receive(data[:left])
                left -= len(data)
        if not moved:
            return


def hand_text(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The whole farm as open text, taken in by another laptop."""
    others = [one for one in world.farms() if one is not laptop]
    path = laptop.home / f"farm {chance.randrange(2**32)}.jsonl"
    ended = world.attempt(laptop, lambda farm: farm.export_farm(path))
    if ended != "done" or not others:
        return ended
    raw = path.read_bytes()
    if any(one in raw for one in world.secrets):
        raise Broken("P14: an export holds a secret key")
    world.hits["open text"] += 1
    return world.attempt(chance.choice(others), lambda farm: farm.import_whole(path))


def ask(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A new laptop asks to join."""
    if len(world.laptops) >= MOST_LAPTOPS:
        return NOTHING
    new = world.new_laptop(NAMES[len(world.laptops) % len(NAMES)], chance.choice(KEEPERS))
    place = chance.choice(world.places)

    def asked() -> None:
        told = join(new.folder, new.wall, place.folder, keeper=new.keeper, device=new.name)
        new.code = told.code

    return world.attempting(new, asked)


def admit(world: World, laptop: Laptop, chance: random.Random) -> str:
    """Someone admits whoever asks: the steward, if this is it."""
    waiting = [one for one in world.laptops if one.code and not one.has_farm]
    if not waiting:
        return NOTHING
    code = chance.choice(waiting).code
    place = chance.choice(world.places)
    role = chance.choice(("keeper", "keeper", "keeper", "helper", "reader"))
    return world.attempt(laptop, lambda farm: farm.admit(str(place.folder), code, role))


def enter(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A laptop that asked takes its welcome."""
    waiting = [one for one in world.laptops if one.code and not one.has_farm]
    if not waiting:
        return NOTHING
    new, place = chance.choice(waiting), chance.choice(world.places)
    return world.attempting(new, lambda: exchange_joining(new.folder, new.wall, place.folder))


def welcome(world: World, laptop: Laptop, chance: random.Random) -> str:
    """All of joining at once, on a stick of its own: ask, admit, enter."""
    if len(world.laptops) >= MOST_LAPTOPS:
        return NOTHING
    world.places.append(Place(world.folder / f"handed{world.made}"))
    world.places[-1].folder.mkdir()
    places, world.places = world.places, world.places[-1:]
    steps = [ask(world, laptop, chance), admit(world, laptop, chance)]
    steps.append(enter(world, laptop, chance) if steps[1] == "done" else "refused")
    world.places = places[:-1]
    return steps[-1]


def remove(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A device put out."""
    other = _device(world, laptop, chance)
    return world.attempt(laptop, lambda farm: farm.remove(other, "sold")) if other else NOTHING


def rank(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A device given another role."""
    other, role = _device(world, laptop, chance), chance.choice(("keeper", "helper", "reader"))
    return world.attempt(laptop, lambda farm: farm.rank(other, role)) if other else NOTHING


def hand_over(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The stewardship given on."""
    other = _device(world, laptop, chance)
    return world.attempt(laptop, lambda farm: farm.hand_over(other)) if other else NOTHING


def judge(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A keeper's word on unvouched entries."""
    waiting = sorted({line.entry for line in laptop.opened().unvouched()})
    if not waiting:
        return NOTHING
    some = chance.sample(waiting, min(len(waiting), 1 + chance.randrange(3)))
    if chance.random() < 0.6:
        return world.attempt(laptop, lambda farm: farm.adopt(some))
    return world.attempt(laptop, lambda farm: farm.set_aside(some, "not so"))


def begin_again(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The recovery words, on a laptop that has the farm or on a new one from a carrier alone."""
    place = chance.choice(world.places)
    new = laptop
    if chance.random() < 0.5 and len(world.laptops) < MOST_LAPTOPS:
        new = world.new_laptop(NAMES[len(world.laptops) % len(NAMES)], "Oda")
    put_out = [_device(world, laptop, chance)] if chance.random() < 0.5 else []

    def recovered() -> None:
        new.shut()
        recover(
            new.folder, new.wall, world.words, place.folder, keeper=new.keeper, device=new.name,
            remove=[one for one in put_out if one],
        )  # fmt: skip

    return world.attempting(new, recovered)


def _device(world: World, laptop: Laptop, chance: random.Random) -> str:
    members = laptop.opened()._store.members()
    own = laptop.opened()._store.device
    others = sorted(text_id(key) for key in members.by_key if key != own)
    return chance.choice(others) if others else ""


PARTNERS_DEEDS: dict[str, Deed] = {
    "exchange": exchange, "call": call, "hand-text": hand_text, "ask": ask, "admit": admit,
    "enter": enter, "welcome": welcome, "remove": remove, "rank": rank, "hand-over": hand_over,
    "judge": judge, "begin-again": begin_again,
}  # fmt: skip
