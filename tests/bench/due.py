"""Due work of a large herd, timed: ``python -m tests.bench.due [records ...]``.

Prints medians; asserts nothing. A measure at work beside others is noisy: run it alone.
"""

from __future__ import annotations

import cProfile
import gc
import pstats
import sqlite3
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial

from herdsync.merge.records import Record
from herdsync.merge.shelf import MemoryShelf, Shelf
from herdsync.projections.due import Rounds
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.herd import Herd
from herdsync.projections.settings import settings_of
from herdsync.store.schema import DERIVED
from herdsync.store.sql_shelf import SqlShelf
from tests.bench.herd_history import NOW, History

ANIMALS = 1_000
RUNS = 5


def memory_shelf(records: list[Record]) -> MemoryShelf:
    """The records in dictionaries."""
    shelf = MemoryShelf()
    for one in records:
        shelf.put(one)
    return shelf


def sql_shelf(records: list[Record]) -> SqlShelf:
    """The records in tables, of which nothing is decoded yet."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.executescript(DERIVED)
    shelf = SqlShelf(connection, lambda _: [], lambda _: 0)
    connection.execute("BEGIN")
    for one in records:
        shelf.put(one)
    connection.execute("COMMIT")
    return shelf


def board(shelf: Shelf) -> int:
    """One look from nothing; answers how many lines there are."""
    if isinstance(shelf, SqlShelf):
        shelf.refresh()
    herd = Herd(shelf, settings_of(shelf), NOW)
    return len(Rounds(herd, plan_in_force(shelf, herd.look.settings).plan).lines())


def median_ms(work: Callable[[], object]) -> float:
    """Milliseconds of the median run, the first left out."""
    work()
    gc.freeze()
    taken = []
    for _ in range(RUNS):
        gc.collect()
        begun = time.process_time()
        work()
        taken.append((time.process_time() - begun) * 1000)
    return statistics.median(taken)


def main() -> None:
    """Print one line a size and shelf."""
    sizes = [int(word) for word in sys.argv[1:] if word.isdigit()] or [10_000, 100_000]
    for size in sizes:
        history = History(ANIMALS, size)
        for shelf in (memory_shelf(history.records), sql_shelf(history.records)):
            lines = board(shelf)
            told = f"{len(history.records):>9,} records  {type(shelf).__name__:<11}  {lines} lines"
            print(f"{told}  from nothing {median_ms(partial(board, shelf)):8.1f} ms")
            if "--profile" in sys.argv:
                profile(shelf)


def profile(shelf: Shelf) -> None:
    """Where the time of one look goes."""
    running = cProfile.Profile()
    running.runcall(board, shelf)
    pstats.Stats(running).sort_stats("tottime").print_stats(25)


if __name__ == "__main__":
    main()
