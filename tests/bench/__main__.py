"""What a farm of twenty years costs: ``python -m tests.bench [--million] [--devices 2 8] [--all]``.

One table: a row for each measure, a column for each length of history, and beside it the floor measured
in the same run. ``--all`` goes on with due work (``tests.bench.due``) and exchange
(``tests.bench.exchange``). Prints medians; asserts nothing. Run it alone: beside others it is noisy.
"""

from __future__ import annotations

import argparse
import multiprocessing
import runpy
import shutil
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from importlib.util import find_spec
from pathlib import Path
from typing import TypeVar

from tests.bench import measures
from tests.bench.stream import write_stream

# Which floor a measure stands beside, and whether less is better.
BESIDE = {
    "one act, ms": ("durable insert, ms", True),
    "one act, ms of processor": ("durable insert, ms of processor", True),
    "one act in due work, ms": ("durable insert, ms", True),
    "import, entries/s": ("bulk insert, rows/s", False),
    "take all, entries/s": ("bulk insert, rows/s", False),
    "refold, entries/s": ("decode, /s", False),
    "verify, entries/s": ("Ed25519 verify, /s", False),
}
T = TypeVar("T")

FURTHER = ("tests.bench.due", "tests.bench.exchange")


def alone(work: Callable[..., T], *told: object) -> T:
    """What a work answers in a fresh process. This one must stay small.

    The memory of a process is counted from what the one that began it ever held.
    """
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=fresh) as pool:
        return pool.submit(work, *told).result()


def column(size: int, devices: int) -> measures.Figures:
    """Every figure for one length of history."""
    folder = Path(tempfile.mkdtemp(prefix="herdsync-bench-"))
    try:
        alone(write_stream, measures.stream_of(folder), size, devices)
        found: measures.Figures = {}
        for measure in measures.MEASURES:
            found |= alone(measures.measured, measure, folder)
            print(
                f"  {size:,} entries, {devices} laptops: {measure.__name__} done", file=sys.stderr
            )
        return found
    finally:
        shutil.rmtree(folder)


def table(columns: dict[str, measures.Figures]) -> list[str]:
    """The lines of the table; with a floor, also how the measure stands to it."""
    names = list(next(iter(columns.values())))
    lines = [f"{'':<36}" + "".join(f"{head:>28}" for head in columns)]
    for name in names:
        cells = []
        for figures in columns.values():
            value = figures[name]
            beside = BESIDE.get(name)
            ratio = f" ({value / figures[beside[0]]:.2f} of floor)" if beside else ""
            cells.append(f"{value:,.2f}{ratio}" if value < 1000 else f"{value:,.0f}{ratio}")
        lines.append(f"{name:<36}" + "".join(f"{cell:>28}" for cell in cells))
    return lines


def main() -> None:
    """Measure what was asked for and print the table."""
    ask = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    ask.add_argument("--million", action="store_true", help="also a million entries (an hour)")
    ask.add_argument("--devices", type=int, nargs="*", default=[2], help="how many laptops wrote")
    ask.add_argument("--all", action="store_true", help="then due work and exchange")
    ask.add_argument("sizes", nargs="*", type=int, help="lengths of history")
    told = ask.parse_args()
    sizes = told.sizes or [10_000, 100_000, *([1_000_000] if told.million else [])]
    columns = {
        f"{size:,} by {count}": column(size, count) for count in told.devices for size in sizes
    }
    print("\n".join(table(columns)))
    if told.all:
        sys.argv = sys.argv[:1]
        for module in FURTHER:
            if find_spec(module) is not None:
                print(f"\n{module}", flush=True)
                runpy.run_module(module, run_name="__main__")


if __name__ == "__main__":
    main()
