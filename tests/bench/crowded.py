"""A folder with thousands of bundles: ``python -m tests.bench.crowded [BUNDLES]`` (2,500 where left out).

What its first look costs a laptop that has nothing, what a look costs that finds nothing new, what one new
bundle costs, and what joining costs the owner. Prints milliseconds and the memory of this process; asserts
nothing.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from herdsync.exchange import packing
from herdsync.exchange.bundles import exchange_folder
from herdsync.store.carried import Run
from herdsync.store.keyring import KEYS_VARIABLE
from tests.exchange.laptops import StoreLaptop, admission_of, founding_of, note

BUNDLES = 2_500


def told(what: str, work: Callable[[], object]) -> None:
    """Do it and print what it cost."""
    started, busy = time.perf_counter(), time.process_time()
    work()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    clock, cpu = (time.perf_counter() - started) * 1000, (time.process_time() - busy) * 1000
    print(f"{what:<46}{clock:>10.0f} ms{cpu:>10.0f} cpu ms{peak:>8.0f} MB", flush=True)


def main() -> None:
    """Fill a folder with one laptop's small bundles and look at it with another."""
    bundles = int(sys.argv[1]) if len(sys.argv) > 1 else BUNDLES
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ[KEYS_VARIABLE] = str(folder / "keys")
        stick = folder / "stick"
        stick.mkdir()
        founding = founding_of("house")
        house, barn = (StoreLaptop(one, founding, folder / one) for one in ("house", "barn"))
        house.write(admission_of("barn"))

        def meet(laptop: StoreLaptop) -> None:
            exchange_folder(stick, laptop.store, 0, os.urandom)

        def fill() -> None:
            # One bundle an entry, as if the owner had never joined any.
            often, packing.MANY = packing.MANY, bundles + 100
            meet(house)
            for number in range(bundles - 1):
                house.write(note(f"note {number}"))
                _leave(house, stick)
            packing.MANY = often

        told(f"{bundles:,} bundles written one by one", fill)
        told("first look of a laptop that has nothing", lambda: meet(barn))
        told("a look that finds nothing new", lambda: meet(barn))
        house.write(note("one more"))
        told("the owner leaves one more and joins all", lambda: meet(house))
        print(f"{len(list(stick.iterdir())):,} files left")
        told("the other looks after the joining", lambda: meet(barn))
        assert barn.ids() == house.ids()
        for one in (house, barn):
            one.store.close()


def _leave(house: StoreLaptop, stick: Path) -> None:
    """Leave the newest entry alone, without the look that each exchange begins with."""
    from herdsync.exchange.folder import Folder
    from herdsync.exchange.leaving import Leaving

    leaving = Leaving(Folder(stick, os.urandom), house.store, 0, os.urandom)
    (run,) = house.store.runs()
    leaving._leave_all([Run(run.device, run.chain, run.last, run.last)])


if __name__ == "__main__":
    main()
