"""A play: a seed's world and its steps. Played, checked after each step, healed at the end, shortened.

A play follows from its own data alone, so that a failing one can be cut down step by step and kept.
"""

from __future__ import annotations

import json
import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from herdsync.founding import recover
from herdsync.log.entry import NO_ID, Entry
from herdsync.merge.replica import Replica
from herdsync.store.store import Store
from tests.merge.dump import digest
from tests.sim.apart import APART
from tests.sim.coverage import met
from tests.sim.deeds import KEEPERS_DEEDS, Deed, stock
from tests.sim.fates import CARRIERS_FATES, LAPTOPS_FATES
from tests.sim.laptops import Laptop
from tests.sim.partners import PARTNERS_DEEDS
from tests.sim.promises import Promises
from tests.sim.world import Broken, Place, World

MEMORY = Path("/dev/shm")
ROUNDS = 12

STEPS: dict[str, Deed] = {
    "stock": stock, **APART, **KEEPERS_DEEDS, **PARTNERS_DEEDS, **CARRIERS_FATES, **LAPTOPS_FATES
}  # fmt: skip
WEIGHTS = {"record": 16, "amend": 16, "exchange": 20, "resolve": 8, "tie": 6, "stand": 8, "struck": 6,
           "welcome": 2, "regroup": 8, "judge": 4, "newer": 3, "undo": 3,
           "batch": 2, "turn-back": 2, "call": 6, "admit": 3, "enter": 3,
           **dict.fromkeys(APART, 0.25)}  # fmt: skip
ALWAYS = ("record", "exchange", "amend")
FAULTS = frozenset((*CARRIERS_FATES, *LAPTOPS_FATES))


@dataclass
class Play:
    """``steps`` are names with the number that each one's details follow from."""

    seed: str
    places: int
    steps: list[tuple[str, int]] = field(default_factory=list)

    def encode(self) -> str:
        """The play as a file keeps it."""
        return json.dumps({"seed": self.seed, "places": self.places, "steps": self.steps})

    @classmethod
    def decode(cls, text: str) -> Play:
        told = json.loads(text)
        return cls(told["seed"], told["places"], [(name, number) for name, number in told["steps"]])


@dataclass
class Outcome:
    """How a play went; ``fault`` is empty where every promise held."""

    play: Play
    trace: str
    hits: Counter[str]
    entries: int
    fault: str = ""
    at: int = -1
    packed: dict[bytes, bytes] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)


def drawn(seed: int, steps: int) -> Play:
    """The play of a seed: some steps are frequent, some rare, and some switched fully off."""
    chance = random.Random(seed)
    calm = chance.random() < 0.15
    weights: dict[str, float] = {}
    for name in sorted(STEPS.keys() - {"stock"}):
        off = 0 if name in ALWAYS else chance.choice((0, 1, 1, 3))
        weights[name] = WEIGHTS.get(name, 1) * (off if name not in ALWAYS else 1)
        if calm and name in FAULTS:
            weights[name] = 0
    names = chance.choices(list(weights), list(weights.values()), k=steps)
    # Most worlds begin with partners; the rest must find each other.
    first = ["welcome"] * chance.choice((0, 1, 1, 2, 2, 4, 7)) + ["stock"] * 6
    told = [(name, chance.randrange(2**32)) for name in [*first, *names]]
    return Play(str(seed), chance.choice((1, 1, 2, 3)), told)


def played(play: Play, *, thorough: bool = False) -> Outcome:
    """Play it out in a folder of its own."""
    base = MEMORY if MEMORY.is_dir() else None
    folder = Path(tempfile.mkdtemp(prefix="herdsync-sim-", dir=base))
    try:
        return _played(play, folder, thorough)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _played(play: Play, folder: Path, thorough: bool) -> Outcome:
    world = World(folder, play.seed)
    promises = Promises(world, random.Random(f"{play.seed}/promises"), thorough=thorough)
    at = -1
    fault = ""
    with world.running():
        try:
            world.begin(play.places)
            for name, number in play.steps:
                at += 1
                _step(world, name, number)
                promises.look()
            at += 1
            _heal(world, promises)
        except Exception as broken:
            fault = _sentence(broken)
        lines = world.trace
    return Outcome(
        play, world.told(), world.hits, len(world.packed), fault, at, world.packed, lines
    )


def _sentence(broken: Exception) -> str:
    frames = []
    trace = broken.__traceback__
    while trace is not None:
        code = trace.tb_frame.f_code
        if "/herdsync/" in code.co_filename or "/sim/" in code.co_filename:
            frames.append(f"{Path(code.co_filename).name}:{trace.tb_lineno} {code.co_name}")
        trace = trace.tb_next
    where = "" if isinstance(broken, Broken) else " < ".join(reversed(frames[-6:]))
    return f"{type(broken).__name__}: {broken} {where}".strip()


def _step(world: World, name: str, number: int) -> None:
    chance = random.Random(number)
    world.pass_time(chance)
    farms = world.farms()
    laptop = chance.choice(farms)
    ended = STEPS[name](world, laptop, chance)
    world.hits[f"step {name}"] += ended not in ("refused", "nothing to do")
    count = len(world.ids(laptop)) if laptop.has_farm else 0
    world.tell(f"{name} at {laptop.home.name}: {ended}, {count} entries")


def _heal(world: World, promises: Promises) -> None:
    """All faults end; everyone exchanges over one sound carrier until nothing moves: all have all."""
    meeting = Place(world.folder / "meeting")
    meeting.folder.mkdir()
    world.places = [meeting]
    world.edges.no_links.clear()
    for laptop in world.farms():
        laptop.wall.wrong *= 0
    _until_quiet(world)
    while parted := _parted(world):
        # Two who began again from the words, each unknown to the other, seal nothing to each other.
        # Only the words open both: whoever lacks something begins again where all is.
        begun = _everything(world).chains.of_device(world.recovery)
        if len(begun) < 2 or world.hits["mended by the words"] > len(world.farms()):
            _, lacking = parted[0]
            raise Broken(f"P6: {parted[0][0].home.name} lacks {lacking} entries")
        world.hits["mended by the words"] += 1
        laptop = parted[0][0]
        laptop.shut()
        with world.at(laptop):
            recover(laptop.folder, laptop.wall, world.words, meeting.folder,
                    keeper=laptop.keeper, device=laptop.name)  # fmt: skip
        _until_quiet(world)
    promises.look()
    if inside := _inside(world):
        _alike(world, promises, inside)


def _until_quiet(world: World) -> None:
    quiet = 0
    for _ in range(ROUNDS):
        before = [len(world.ids(one)) for one in world.farms()]
        for laptop in world.farms():
            world.attempt(laptop, lambda farm: farm.exchange(str(world.places[0].folder)))
        quiet = quiet + 1 if before == [len(world.ids(one)) for one in world.farms()] else 0
        if quiet == 2:
            return
    raise Broken("P9: laptops that only exchange never come to rest")


def _parted(world: World) -> list[tuple[Laptop, int]]:
    """The laptops in the farm that lack what another in it has, and how many entries."""
    held = [(one, world.ids(one)) for one in _inside(world)]
    every: frozenset[bytes] = frozenset().union(*(ids for _, ids in held))
    return [(one, len(every - ids)) for one, ids in held if ids != every]


def _everything(world: World) -> Replica:
    """What all laptops together hold."""
    everything: dict[bytes, Entry] = {}
    for laptop in world.farms():
        store = laptop.opened()._store
        everything |= {entry.id: entry for entry in store.entries(store.runs())}
    replica = Replica()
    replica.take(sorted(everything.values(), key=lambda entry: entry.order))
    return replica


def _inside(world: World) -> list[Laptop]:
    """The laptops that are in the farm as all entries together tell: a removed one may not know it."""
    members = _everything(world).members().by_key
    stores = [(one, one.opened()._store) for one in world.farms()]
    return [one for one, store in stores if store._key is not None and store.device in members]


def _none_waits_in_vain(store: Store) -> None:
    with store.reading() as view:
        for entry in view.log.parked():
            needs = [one for one in (entry.header.previous, *entry.header.parents) if one != NO_ID]
            here = all(view.log.place_of(one) is not None for one in needs)
            if here and entry.header.device in view.members().named:
                raise Broken("P9: an entry waits though all it builds on is here")


def _count_what_was_met(world: World, laptop: Laptop) -> None:
    store = laptop.opened()._store
    world.hits.update(met(list(store.entries(store.runs()))))
    with store.reading() as view:
        world.hits["fork"] += len(view.log.chains.branches())
        world.hits["unreadable entry"] += len(view.shelf.every_unread())
        claims = [claim for one in view.shelf.every_record() for claim in one.claims()]
        unvouched = {claim.author.device for claim in claims if not claim.vouched}
        world.hits["removed laptop wrote on"] += len(unvouched & view.members().removed.keys())


def _alike(world: World, promises: Promises, inside: list[Laptop]) -> None:
    """Laptops with the same entries answer alike, and every stored byte is sound."""
    first: list[bytes] = []
    for laptop in inside:
        with world.at(laptop):
            farm = laptop.opened()
            verified = farm.verify()
            if verified.faults:
                raise Broken(f"P5: verify finds {verified.faults[0]}")
            _none_waits_in_vain(farm._store)
            answers = [farm.due(every=True), farm.herd(every=True), farm.timers(),
                       farm.conflicts(every=True), farm.trail_all(), farm.settings()]  # fmt: skip
            told = [msgspec.json.encode(one) for one in answers]
            with farm._store.reading() as view:
                promises.model(
                    laptop, view.shelf, laptop.held, list(farm._store.entries(farm._store.runs()))
                )
                world.tell(f"{laptop.home.name} ends with {digest(view.shelf)}")
        if first and told != first:
            names = ("due", "herd", "timers", "conflicts", "trail", "settings")
            differing = [n for n, a, b in zip(names, told, first, strict=True) if a != b]
            raise Broken(f"P4: two laptops with the same entries answer otherwise in {differing}")
        first = told
    _count_what_was_met(world, inside[0])
    world.tell(f"{len(inside)} laptops hold {len(inside[0].held)} entries")


def shortened(play: Play, tell: Callable[[str], None] = lambda _: None) -> Outcome:
    """The failing play with as few steps as still fail alike (delta debugging, one pass after another)."""
    worst = played(play, thorough=True)
    if not worst.fault:
        worst = played(play)
    kind = worst.fault[:40]
    steps = play.steps[: worst.at + 1]
    size = max(1, len(steps) // 2)
    while True:
        at, shorter = 0, False
        while at < len(steps):
            fewer = Play(play.seed, play.places, steps[:at] + steps[at + size :])
            tried = played(fewer, thorough=True)
            if tried.fault[:40] == kind:
                steps, worst, shorter = fewer.steps, tried, True
                tell(f"  {len(steps)} steps still fail")
            else:
                at += size
        if size == 1 and not shorter:
            return worst
        size = max(1, size // 2) if not shorter else size
