"""A world: laptops, carriers, one clock that runs on, and a register of every entry ever written.

Knows no steps and no promises; the steps change it, the promises look at it.
"""

from __future__ import annotations

import hashlib
import random
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from herdsync.farm import Farm
from herdsync.faults import DamagedFarm, Fault
from herdsync.founding import found
from herdsync.log.recovery import entropy_of, recovery_key
from tests.sim.edges import Edges, PowerCut
from tests.sim.laptops import Laptop, SimWall, kept_files, put_back

START = datetime(2026, 2, 22, 6, 30, tzinfo=UTC)
KEEPERS = ("Oda", "Ravi", "Jun")
NAMES = ("house", "barn", "loft", "shed", "byre", "yard", "cart", "mill")
FARM_NAME = "Quillmoor Dairy"


class Broken(AssertionError):
    """A promise that does not hold."""


@dataclass
class Place:
    """One carrier: its folder, what a hostile or late one holds back, an older state of it."""

    folder: Path
    mode: str = ""
    held_back: dict[str, bytes] = field(default_factory=dict)
    older: dict[str, bytes] | None = None

    def bundles(self) -> list[str]:
        return sorted(
            one.name
            for one in self.folder.iterdir()
            if one.is_file() and not one.is_symlink() and not one.name.startswith(".")
        )


@dataclass
class World:
    """``packed`` has the exact bytes of every entry by id, ``hits`` what has happened how often."""

    folder: Path
    seed: str
    places: list[Place] = field(default_factory=list)
    laptops: list[Laptop] = field(default_factory=list)
    moment: list[datetime] = field(default_factory=lambda: [START])
    edges: Edges = field(default_factory=Edges)
    packed: dict[bytes, bytes] = field(default_factory=dict)
    secrets: set[bytes] = field(default_factory=set)
    written_at: dict[bytes, str] = field(default_factory=dict)
    scanned: set[str] = field(default_factory=set)
    hits: Counter[str] = field(default_factory=Counter)
    trace: list[str] = field(default_factory=list)
    words: str = ""
    made: int = 0
    before: frozenset[bytes] = frozenset()

    @contextmanager
    def running(self) -> Iterator[None]:
        """The world at its edges; the machine is left as it was."""
        with self.edges.standing():
            try:
                yield
            finally:
                for one in self.laptops:
                    one.shut()

    def begin(self, places: int) -> None:
        """Found the farm on the first laptop."""
        for number in range(places):
            self.places.append(Place(self.folder / f"stick{number}"))
            self.places[-1].folder.mkdir()
        house = self.new_laptop("house", "Oda")
        with self.at(house):
            founded = found(
                house.folder, house.wall, name=FARM_NAME, keeper="Oda", device="house",
                prefix="QMR",
            )  # fmt: skip
        self.words = founded.recovery

    @property
    def recovery(self) -> bytes:
        """The recovery key's public half."""
        return recovery_key(entropy_of(self.words)).public

    def new_laptop(self, name: str, keeper: str, machine: str = "") -> Laptop:
        """A laptop without a farm."""
        self.made += 1
        number = f"{self.made}"
        home = self.folder / f"laptop{number}"
        (home / "keys").mkdir(parents=True)
        wall = SimWall(f"{self.seed}/laptop{number}", self.moment)
        one = Laptop(name, keeper, home, machine or f"machine {number}", wall)
        self.laptops.append(one)
        return one

    @contextmanager
    def at(self, laptop: Laptop) -> Iterator[None]:
        """Someone sits at this laptop."""
        self.edges.machine, self.edges.keys = laptop.machine, laptop.keys
        self.before = self.ids(laptop) if laptop.has_farm else frozenset()
        yield

    def farms(self) -> list[Laptop]:
        """The laptops with a farm on them."""
        return [one for one in self.laptops if one.has_farm]

    def ids(self, laptop: Laptop) -> frozenset[bytes]:
        """The ids of all entries stored on a laptop."""
        with laptop.opened()._store.reading() as view:
            rows = view.connection.execute("SELECT id FROM entry").fetchall()
        return frozenset(id for (id,) in rows)

    def pass_time(self, chance: random.Random) -> None:
        """A minute to a week goes by."""
        self.moment[0] += timedelta(minutes=chance.choice((1, 30, 700, 1500, 10_000)))

    def attempt(self, laptop: Laptop, act: Callable[[Farm], object]) -> str:
        """An act at the open farm; how it ended."""
        return self.attempting(laptop, lambda: act(laptop.opened()))

    def attempting(self, laptop: Laptop, act: Callable[[], object]) -> str:
        """Something done at a laptop; how it ended. What is no sentence for a keeper goes through."""
        fate = self.edges.fate
        with self.at(laptop):
            if fate is not None:
                self.edges.on_cut = lambda: self._keep_disks(laptop)
            try:
                act()
                return "done"
            except PowerCut as cut:
                self._after_cut(laptop)
                self.hits[f"power cut at {cut}"] += 1
                return "cut"
            except DamagedFarm:
                raise
            except Fault as fault:
                if not fault.what.strip().endswith((".", ")", "?")):
                    raise Broken(f"a refusal is no sentence: {fault}") from fault
                return "refused"
            finally:
                self.edges.on_cut = lambda: None

    def _keep_disks(self, laptop: Laptop) -> None:
        kept_files(laptop.home, self.folder / "cut" / "home")
        for number, place in enumerate(self.places):
            kept_files(place.folder, self.folder / "cut" / f"stick{number}")

    def _after_cut(self, laptop: Laptop) -> None:
        laptop.shut()
        put_back(self.folder / "cut" / "home", laptop.home)
        for number, place in enumerate(self.places):
            put_back(self.folder / "cut" / f"stick{number}", place.folder)
        shutil.rmtree(self.folder / "cut", ignore_errors=True)

    def tell(self, words: str) -> None:
        """One line of the trace."""
        self.trace.append(words)

    def told(self) -> str:
        """The whole trace as one hash."""
        return hashlib.sha256("\n".join(self.trace).encode()).hexdigest()
