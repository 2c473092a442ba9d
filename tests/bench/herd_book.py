"""How long inbreeding of every animal of a large herd book takes, and how much memory.

    python -m tests.bench.herd_book [ANIMALS [SIRES]]

Invented herd book of 20 generations after the founders, each bred from ``SIRES`` bucks of the one
before. Prints what it measured; asserts nothing of time.
"""

from __future__ import annotations

import random
import resource
import sys
import time

from herdsync.trade.pedigree import Parentage, herd_book
from tests.trade.whole_book import inbreeding_of_all

GENERATIONS = 20


def lines(animals: int, sires: int) -> list[Parentage]:
    """A herd book of about so many animals, founders first."""
    drawn = random.Random(1)
    size = animals // (GENERATIONS + 1)
    parents = [f"founder-{number}" for number in range(size)]
    book = [Parentage(one) for one in parents]
    for generation in range(GENERATIONS):
        kids = [f"{generation}-{number}" for number in range(size)]
        bucks, does = parents[:sires], parents[sires:]
        book += [Parentage(kid, drawn.choice(bucks), drawn.choice(does)) for kid in kids]
        parents = kids
    return book


def measure(animals: int, sires: int) -> str:
    """One row: animals, seconds for the book and for inbreeding of all, peak memory, mean F."""
    told = lines(animals, sires)
    begun = time.perf_counter()
    book = herd_book(told)
    made = time.perf_counter()
    inbreeding = inbreeding_of_all(book)
    done = time.perf_counter()
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    mean_percent = float(100 * sum(inbreeding.values()) / len(inbreeding))
    return (
        f"{len(told):>9,} animals  {sires:>4} bucks a generation  book {made - begun:6.2f} s  "
        f"inbreeding {done - made:6.2f} s  peak {peak_mib:>4} MiB  mean F {mean_percent:.2f} %"
    )


def main() -> None:
    """The herd book the command line asks for, else one of 100,000 animals."""
    animals, sires = [*map(int, sys.argv[1:]), *[100_000, 100][len(sys.argv) - 1 :]][:2]
    print(measure(animals, sires))


if __name__ == "__main__":
    main()
