"""Due work of a large herd, timed: ``python -m tests.bench.due [records ...] [--profile]``.

In memory, and in a real farm's file: from nothing, and after one more record with what an earlier
look kept, with the whole shipped plan and with 30 of its items; then, through the farm's door, from
opening it to the board: the first look of a day, and with what that one left. Prints medians of
processor time; asserts nothing. The collector's thresholds are raised, as the console command does.
"""

from __future__ import annotations

import cProfile
import gc
import os
import pstats
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from msgspec import structs

from herdsync.farm import Farm
from herdsync.founding import found
from herdsync.kinds import CATALOGUE
from herdsync.log.entry import CRITICAL
from herdsync.log.writer import Act
from herdsync.merge.lone import Lone
from herdsync.merge.memory_shelf import MemoryShelf
from herdsync.merge.payloads import RECORD
from herdsync.merge.records import Records
from herdsync.projections.due import Rounds
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.herd import Herd
from herdsync.projections.kept import Kept
from herdsync.projections.settings import settings_of
from herdsync.store import aside
from herdsync.store.store import Stamp, Store, Writing
from herdsync.wall import Wall
from tests.bench.herd_history import NOW, TODAY, History, record

ANIMALS = 1_000
RUNS = 7
BATCH = 10_000
FEW_ITEMS = 30
Acts = list[tuple[str, dict[str, Any]]]


def board(records: Records, kept: Kept | None = None, items: int = 0) -> int:
    """One look; answers how many lines there are. ``items``: so many of the plan's, evenly taken."""
    herd = Herd(records, settings_of(records), NOW)
    plan = plan_in_force(records, herd.look.settings).plan
    if items:
        some = plan.items[:: max(1, len(plan.items) // items)][:items]
        plan = structs.replace(plan, items=some)
    return len(Rounds(herd, plan, kept).lines())


class InMemory:
    """The history on a shelf of dictionaries."""

    def __init__(self, size: int) -> None:
        self.shelf = MemoryShelf()
        self._written = 0
        self.history = History(ANIMALS, size, self.write)

    def write(self, kind: str, fields: dict[str, Any]) -> bytes:
        """One more record."""
        self._written += 1
        made = record(kind, self._written, fields)
        author = made.begun_by
        self.shelf.put_new([Lone(made.id, kind, fields, author, made.id)])
        return made.id

    def look(self, kept: Kept | None = None, items: int = 0) -> int:
        """One look at it."""
        return board(self.shelf, kept, items)


class InFile:
    """The history in a farm's file, signed, folded and committed like any other."""

    def __init__(self, size: int, folder: Path) -> None:
        wall = Wall(NOW)
        found(folder, wall, name="Quillmoor Dairy", keeper="Oda", device="house")
        self.store = Store(folder)
        self._stamp = Stamp("Oda", int(NOW.timestamp() * 1000), True, wall.entropy)
        self._writing: Writing | None = None
        self._bulk(size)

    def _bulk(self, size: int) -> None:
        """Write the history in a few large transactions; records name earlier ones by their id."""
        told: Acts = []
        ids: dict[bytes, bytes] = {}

        def tell(kind: str, fields: dict[str, Any]) -> bytes:
            told.append((kind, fields))
            return len(told).to_bytes(16, "big")

        self.history = History(ANIMALS, size, tell)
        for begin in range(0, len(told), BATCH):
            with self.store.writing(self._stamp) as writing:
                for place in range(begin, min(begin + BATCH, len(told))):
                    kind, fields = told[place]
                    named = {
                        name: ids.get(value, value) if isinstance(value, bytes) else value
                        for name, value in fields.items()
                    }
                    ids[(place + 1).to_bytes(16, "big")] = _append(writing, kind, named)
        self.animals = [ids[id] for id, _ in self.history.bucks]

    def write(self, kind: str, fields: dict[str, Any]) -> bytes:
        """One more record, durable."""
        with self.store.writing(self._stamp) as writing:
            return _append(writing, kind, fields)

    def look(self, kept: Kept | None = None, items: int = 0) -> int:
        """One look at it, of which nothing is decoded beforehand."""
        with self.store.reading() as view:
            view.shelf.refresh()
            return board(view.shelf, kept, items)


def opened(folder: Path) -> int:
    """A farm opened, its due work asked for and closed, as a command does."""
    with Farm.open(folder, Wall(NOW)) as farm:
        return len(farm.due())


def _append(writing: Writing, kind: str, fields: dict[str, Any]) -> bytes:
    spec = CATALOGUE[kind]
    subjects = frozenset(v for v in fields.values() if isinstance(v, bytes))
    flags = CRITICAL if spec.critical else 0
    return writing.append(
        Act(RECORD, kind, {"fields": fields}, spec.version, flags, subjects)
    ).record_id


def median_ms(work: Callable[[], object], before: Callable[[], object] = int) -> float:
    """Milliseconds of processor time of the median run; ``before`` each run is not counted."""
    taken = []
    for _ in range(RUNS):
        before()
        gc.collect()
        begun = time.process_time()
        work()
        taken.append((time.process_time() - begun) * 1000)
    return statistics.median(taken)


def measured(farm: InMemory | InFile, animal: bytes, items: int) -> tuple[int, float, float]:
    """Lines; milliseconds from nothing; milliseconds after one more record."""
    lines = farm.look(None, items)
    kept = Kept()
    farm.look(kept, items)
    trim = {"animal": animal, "on": TODAY.isoformat()}
    cold = median_ms(partial(farm.look, None, items))
    warm = median_ms(partial(farm.look, kept, items), lambda: farm.write("hoof-trim", dict(trim)))
    return lines, cold, warm


def main() -> None:
    """Print one line a size and place."""
    gc.set_threshold(100_000, 50, 100)
    sizes = [int(word) for word in sys.argv[1:] if word.isdigit()] or [10_000, 100_000]
    for size in sizes:
        memory = InMemory(size)
        _tell(size, "in memory", memory, memory.history.bucks[0][0])
        del memory
        with tempfile.TemporaryDirectory() as folder:
            os.environ["HERDSYNC_KEYS"] = str(Path(folder) / "keys")
            file = InFile(size, Path(folder) / "farm")
            _tell(size, "in a file", file, file.animals[0])
            file.store.close()
            found(Path(folder) / "new", Wall(NOW), name="New", keeper="Oda", device="house")
            _tell_opening(size, Path(folder))


def _tell(size: int, where: str, farm: InMemory | InFile, animal: bytes) -> None:
    for items in (0, FEW_ITEMS):
        lines, cold, warm = measured(farm, animal, items)
        print(
            f"{size:>9,} records {where}, {items or 'all'} items: {lines:,} lines; "
            f"from nothing {cold:.0f} ms, after one record {warm:.1f} ms",
            flush=True,
        )
    if "--profile" in sys.argv:
        running = cProfile.Profile()
        running.runcall(farm.look)
        pstats.Stats(running).sort_stats("tottime").print_stats(30)


def _tell_opening(size: int, folder: Path) -> None:
    first = median_ms(partial(opened, folder / "farm"), partial(aside.drop, folder / "farm"))
    later = median_ms(partial(opened, folder / "farm"))
    empty = median_ms(partial(opened, folder / "new"))
    print(
        f"{size:>9,} records, all items: open to a full board {later:.0f} ms, the first of a day"
        f" {first:.0f} ms, of an empty farm {empty:.0f} ms",
        flush=True,
    )


if __name__ == "__main__":
    main()
