"""What befalls: carriers that lose, delay, double, reorder, cut, flip and lie; laptops that fail.

Every fate counts itself in the world's ``hits``, so that a run can be asked what it really met.
"""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable
from datetime import timedelta

from herdsync.founding import found, restore
from herdsync.store.database import FILE
from tests.sim.deeds import KEEPERS_DEEDS, NOTHING, Deed
from tests.sim.edges import CUT, FULL, IO_ERROR, LATE_ERROR, Fate
from tests.sim.laptops import Laptop, SimWall, kept_files
from tests.sim.partners import MOST_LAPTOPS, PARTNERS_DEEDS
from tests.sim.world import Broken, Place, World


def _file(world: World, chance: random.Random) -> tuple[Place, str] | None:
    place = chance.choice(world.places)
    names = place.bundles()
    return (place, chance.choice(names)) if names else None


def lose(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A file is lost for good."""
    found = _file(world, chance)
    if found is None:
        return NOTHING
    (found[0].folder / found[1]).unlink()
    world.hits["lost bundle"] += 1
    return "lost"


def delay(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A file is held back, or what was held back arrives."""
    place = chance.choice(world.places)
    if place.held_back and chance.random() < 0.5:
        name = chance.choice(sorted(place.held_back))
        (place.folder / name).write_bytes(place.held_back.pop(name))
        world.hits["late bundle"] += 1
        return "arrived"
    names = place.bundles()
    if not names:
        return NOTHING
    name = chance.choice(names)
    place.held_back[name] = (place.folder / name).read_bytes()
    (place.folder / name).unlink()
    return "held back"


def double(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A file is there twice, on this carrier or another."""
    found = _file(world, chance)
    if found is None:
        return NOTHING
    to = chance.choice(world.places).folder / f"copy of {chance.randrange(9)} {found[1]}"
    shutil.copyfile(found[0].folder / found[1], to)
    world.hits["doubled bundle"] += 1
    return "doubled"


def reorder(world: World, laptop: Laptop, chance: random.Random) -> str:
    """Two files change names: what was written later seems the earlier."""
    place = chance.choice(world.places)
    names = place.bundles()
    if len(names) < 2:
        return NOTHING
    a, b = (place.folder / one for one in chance.sample(names, 2))
    first, second = a.read_bytes(), b.read_bytes()
    a.write_bytes(second)
    b.write_bytes(first)
    world.hits["reordered bundle"] += 1
    return "reordered"


def truncate(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A file is cut short."""
    return _damaged(
        world, chance, "truncated bundle", lambda raw: raw[: chance.randrange(len(raw))]
    )


def flip(world: World, laptop: Laptop, chance: random.Random) -> str:
    """One bit of a file is another."""

    def flipped(raw: bytes) -> bytes:
        at = chance.randrange(len(raw))
        return raw[:at] + bytes([raw[at] ^ 1 << chance.randrange(8)]) + raw[at + 1 :]

    return _damaged(world, chance, "flipped bit", flipped)


def _damaged(world: World, chance: random.Random, what: str, harm: Callable[[bytes], bytes]) -> str:
    found = _file(world, chance)
    if found is None:
        return NOTHING
    path = found[0].folder / found[1]
    raw = path.read_bytes()
    if not raw:
        return NOTHING
    path.write_bytes(harm(raw))
    world.hits[what] += 1
    return what


def foreign(world: World, laptop: Laptop, chance: random.Random) -> str:
    """Another farm's laptop exchanges over our carrier."""
    place = chance.choice(world.places)
    wall = SimWall(f"{world.seed}/elsewhere/{world.hits['foreign bundle']}", world.moment)
    other = Laptop("elsewhere", "Ann", world.folder / "elsewhere", "other machine", wall)
    other.keys.mkdir(parents=True, exist_ok=True)

    def exchange() -> None:
        if not (other.folder / FILE).exists():
            found(other.folder, other.wall, name="Other", keeper="Ann", device="elsewhere")
        if other.opened().exchange(str(place.folder)).received:
            raise Broken("another farm's laptop took our entries")

    ended = world.attempting(other, exchange)
    other.shut()
    world.hits["foreign bundle"] += 1
    return ended


def rubbish(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A carrier shows links, pipes, folders, empty files and files that only seem bundles."""
    folder = chance.choice(world.places).folder
    number = chance.randrange(1000)
    (folder / f"zz{number}.bundle").write_bytes(
        b"HERDSYNC-BUNDLE\0" + bytes(chance.randrange(4000))
    )
    (folder / f"empty{number}.bundle").write_bytes(b"")
    for name, make in (("pipe.bundle", os.mkfifo), ("dir.bundle", os.mkdir)):
        if not (folder / name).exists():
            make(folder / name)
    if not (folder / "link.bundle").is_symlink():
        (folder / "link.bundle").symlink_to("/etc/hostname")
    world.hits["hostile carrier"] += 1
    return "rubbish"


def roll_back(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A carrier shows an older state of itself."""
    place = chance.choice(world.places)
    now = {name: (place.folder / name).read_bytes() for name in place.bundles()}
    if place.older is None:
        place.older = now
        return "remembered"
    for name in now:
        (place.folder / name).unlink()
    for name, raw in place.older.items():
        (place.folder / name).write_bytes(raw)
    place.older = None
    world.hits["carrier rolled back"] += 1
    return "rolled back"


def mode(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A carrier becomes full, write-protected, or takes files again."""
    place = chance.choice(world.places)
    place.mode = "" if place.mode else chance.choice(("full", "write-protected"))
    return place.mode or "writable"


def no_links(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A carrier turns out to know no hard links, as sticks do."""
    world.edges.no_links.add(chance.choice(world.places).folder)
    world.hits["carrier without links"] += 1
    return "no links"


def clock(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A laptop's clock is wrong from now on, by up to ten years either way."""
    days = chance.choice((0, 0, -3650, 3650, -1, 1, chance.randrange(-3650, 3651)))
    laptop.wall.wrong = timedelta(days=days)
    if abs(days) > 365:
        world.hits["clock years off"] += 1
    return f"{days} days"


def struck(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A deed during which the power goes, or the storage fails."""
    what = chance.choice((CUT, CUT, CUT, IO_ERROR, FULL, LATE_ERROR))
    deed = chance.choice([*STRUCK])
    world.edges.fate = Fate(what, 0 if what == LATE_ERROR else chance.choice(range(40)))
    try:
        ended = STRUCK[deed](world, laptop, chance)
        if world.edges.fate.struck:
            world.hits[what] += 1
    finally:
        world.edges.fate = None
    return f"{what} in {deed}: {ended}"


def refold(world: World, laptop: Laptop, chance: random.Random) -> str:
    """Everything derived is dropped and folded again."""
    return world.attempt(laptop, lambda farm: farm.refold())


def reopen(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The program is closed and started again."""
    laptop.shut()
    return world.attempt(laptop, lambda farm: farm.changed())


def back_up(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A backup is written and holds no secret."""
    path = laptop.home / f"backup{len(laptop.backups)}"
    ended = world.attempt(laptop, lambda farm: farm.backup(path))
    if ended == "done":
        laptop.backups.append(path)
        raw = path.read_bytes()
        if any(one in raw for one in world.secrets):
            raise Broken("a backup holds a secret key")
        world.hits["backup"] += 1
    return ended


def turn_back(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A laptop's farm folder is restored from an earlier backup; its keys stayed on the machine."""
    if not laptop.backups:
        return NOTHING
    path = chance.choice(laptop.backups)
    laptop.shut()
    shutil.rmtree(laptop.folder)
    ended = world.attempting(laptop, lambda: restore(path, laptop.folder))
    if ended != "done":
        raise Broken("a sound backup was not restored")
    laptop.held, laptop.safe = frozenset(), frozenset()
    world.hits["restored backup"] += 1
    return ended


def copy_folder(world: World, laptop: Laptop, chance: random.Random) -> str:
    """The farm's folder is copied to another machine, without keys: it may only be read there."""
    if len(world.laptops) >= MOST_LAPTOPS:
        return NOTHING
    laptop.shut()
    copy = world.new_laptop(laptop.name, laptop.keeper)
    kept_files(laptop.folder, copy.folder)
    before = world.ids(copy)
    ended = world.attempt(copy, lambda farm: farm.record("animal", {"name": "Marl", "sex": "doe"}))
    if ended != "refused" or world.ids(copy) != before:
        raise Broken("a copy without keys wrote")
    world.hits["copied folder"] += 1
    return "copied"


def revive(world: World, laptop: Laptop, chance: random.Random) -> str:
    """An old copy of folder, keys and machine goes on living beside the laptop: one log, two copies."""
    if len(world.laptops) >= MOST_LAPTOPS:
        return NOTHING
    laptop.shut()
    twin = world.new_laptop(laptop.name, laptop.keeper, laptop.machine)
    kept_files(laptop.home, twin.home)
    twin.backups = []
    world.hits["twin laptop"] += 1
    return "twin"


def die(world: World, laptop: Laptop, chance: random.Random) -> str:
    """A laptop falls into the well."""
    if len(world.farms()) < 3:
        return NOTHING
    laptop.shut()
    laptop.gone = True
    world.hits["laptop lost"] += 1
    return "gone"


CARRIERS_FATES: dict[str, Deed] = {
    "lose": lose, "delay": delay, "double": double, "reorder": reorder, "truncate": truncate,
    "flip": flip, "foreign": foreign, "rubbish": rubbish, "roll-back": roll_back, "mode": mode,
    "no-links": no_links,
}  # fmt: skip
LAPTOPS_FATES: dict[str, Deed] = {
    "clock": clock, "struck": struck, "refold": refold, "reopen": reopen, "back-up": back_up,
    "turn-back": turn_back, "copy-folder": copy_folder, "revive": revive, "die": die,
}  # fmt: skip
STRUCK: dict[str, Deed] = {
    **KEEPERS_DEEDS,
    **{
        name: PARTNERS_DEEDS[name]
        for name in ("exchange", "call", "enter", "ask", "admit", "begin-again")
    },
    "refold": refold,
    "back-up": back_up,
}
