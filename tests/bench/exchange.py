"""What an exchange costs against a long history: ``python -m tests.bench.exchange [--million]``.

The same hundred new entries go over a folder and over the network of one machine, with 10,000 and
100,000 entries (and a million) already on both laptops. Prints medians and bytes; asserts nothing. Time
by the clock is noisy beside other work; the processor's own time (cpu), of both ends together where they
talk over the network, is less so.
"""

from __future__ import annotations

import argparse
import cProfile
import hashlib
import os
import pstats
import resource
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from herdsync.exchange.addresses import Address
from herdsync.exchange.bundles import exchange_folder
from herdsync.exchange.lan import Line, call
from herdsync.exchange.listening import Listener
from herdsync.exchange.tls import Contexts
from herdsync.log.chain import Chains, Settled
from herdsync.log.entry import Entry, pack
from herdsync.log.signing import SigningKey
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.merge.payloads import RECORD
from herdsync.store.keyring import KEYS_VARIABLE, Secret, keep_secret
from herdsync.store.log_table import GOOD
from herdsync.store.store import Stamp, Store
from tests.exchange.laptops import admission_of, entropy_of, founding_of, key_of, seeds_of
from tests.exchange.relay import Relay

HOUSE, BARN = "house", "barn"
HERE = "127.0.0.1"
BATCH = 1_000
# The laptops met after so many entries; an animal has so many records in its life.
MEETING = 50
LIFE = 200
NEW = 100
ROUNDS = 7


@dataclass
class History:
    """Two laptops that hold the same entries, and how many there are."""

    folder: Path
    size: int
    house: Store = field(init=False)
    barn: Store = field(init=False)

    def __post_init__(self) -> None:
        founding = founding_of(HOUSE)
        secret = Secret(founding.id, *seeds_of(HOUSE))
        self.house = Store.create(self.folder / HOUSE, founding, secret)
        self.stick = self.folder / "stick"
        self.stick.mkdir()
        with self.house.writing(Stamp("", 0, False, entropy_of("begin"))) as writing:
            writing.append(admission_of(BARN))
        self._count = 2
        while self._count < self.size:
            self.write([HOUSE, BARN], min(BATCH, self.size - self._count))
        self.over_the_stick(self.house)
        self._copy_for_barn()
        self.passed = 0
        self._listener = Listener(HERE, 0, self._line(self.house, HOUSE), lambda visit: None)
        self._listener.start()

    def _copy_for_barn(self) -> None:
        self.house.close()
        shutil.copytree(self.folder / HOUSE, self.folder / BARN)
        self.house, self.barn = Store(self.folder / HOUSE), Store(self.folder / BARN)
        secret = Secret(self.barn.farm, *seeds_of(BARN))
        keep_secret(secret.key().public, secret)
        self.barn.become(secret)

    def write(self, names: list[str], count: int) -> int:
        """So many entries on the house's laptop, by turns; answers their bytes as they are stored."""
        keys = [key_of(name) for name in names]
        with self.house._transaction() as view:
            entries = []
            for _ in range(count):
                key = keys[self._count // MEETING % len(keys)]
                log = view.log
                entry = self._next(log.chains, key)
                settled = log.chains.settle(entry)
                assert isinstance(settled, Settled)
                log.add(entry, settled, GOOD)
                entries.append(entry)
            view.fold_in(entries)
        return sum(len(pack(entry)) for entry in entries)

    def _next(self, chains: Chains, key: SigningKey) -> Entry:
        self._count += 1
        number = self._count
        salt = hashlib.sha256(b"%d" % number).digest()[:16]
        own = chains.of_device(key.public)
        pen = Pen(self.house.farm, key, "", number)
        return next_entry(chains, own[0] if own else None, pen, weighing(number), salt, None)

    def over_the_stick(self, store: Store) -> None:
        """One exchange of a laptop over the folder."""
        exchange_folder(self.stick, store, 0, os.urandom)

    def over_the_line(self) -> None:
        """The barn calls the house; ``passed`` is then all that went over the line."""
        relay = Relay(Address(HERE, self._listener.port))
        call(relay.address, self._line(self.barn, BARN))
        self.passed = relay.passed

    def _line(self, store: Store, name: str) -> Line:
        return Line(store, Contexts(seeds_of(name)[0], self.folder, os.urandom), lambda: 0)

    def on_the_stick(self) -> int:
        """The bytes on the folder."""
        return sum(one.stat().st_size for one in self.stick.iterdir())

    def close(self) -> None:
        self._listener.stop()
        self.house.close()
        self.barn.close()


def weighing(number: int) -> Act:
    """A weighing of the animal whose turn it is."""
    animal = hashlib.sha256(b"animal %d" % (number // LIFE)).digest()[:16]
    fields = {
        "animal": animal,
        "on": f"2026-01-{1 + number % 28:02d}",
        "weight_kg": [440 + number % 90, -1, "kg"],
    }
    return Act(RECORD, "weighing", {"fields": fields}, subjects=frozenset([animal]))


def timed(what: str, work: Callable[[], object]) -> dict[str, float]:
    """Milliseconds by the clock and of the processor."""
    started, busy = time.perf_counter(), time.process_time()
    work()
    return {
        f"{what} ms": (time.perf_counter() - started) * 1000,
        f"{what} cpu ms": (time.process_time() - busy) * 1000,
    }


def measure(size: int, profile: bool) -> dict[str, float]:
    """Median milliseconds and bytes of exchanging a hundred entries against so long a history."""
    with tempfile.TemporaryDirectory() as name:
        os.environ[KEYS_VARIABLE] = str(Path(name) / "keys")
        started = time.perf_counter()
        history = History(Path(name), size)
        print(f"{size:>9,} entries made in {time.perf_counter() - started:.0f} s", flush=True)
        told: dict[str, list[float]] = {}
        watcher = cProfile.Profile()
        for round in range(ROUNDS):
            stored = history.write([HOUSE], NEW)
            before = history.on_the_stick()
            if profile and round:
                watcher.enable()
            row = timed("folder: leave", lambda: history.over_the_stick(history.house))
            row |= timed("folder: take", lambda: history.over_the_stick(history.barn))
            watcher.disable()
            row |= timed("folder: again", lambda: history.over_the_stick(history.barn))
            moved = history.on_the_stick() - before
            row["folder: (bytes - 4 KiB) / stored"] = (moved - 4096) / stored
            stored = history.write([HOUSE], NEW)
            row |= timed("line", history.over_the_line)
            row["line: (bytes - 4 KiB) / stored"] = (history.passed - 4096) / stored
            row |= timed("line: again", history.over_the_line)
            history.over_the_stick(history.barn)
            history.over_the_stick(history.house)
            for what, value in row.items():
                told.setdefault(what, []).append(value)
        history.close()
    told["peak memory so far MB"] = [resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024] * 2
    if profile:
        pstats.Stats(watcher).sort_stats("cumulative").print_stats(40)
    return {what: statistics.median(values[1:]) for what, values in told.items()}


def main() -> None:
    """Print a table: a row for each thing measured, a column for each length of history."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--million", action="store_true", help="also a million entries (minutes)")
    parser.add_argument(
        "--profile", action="store_true", help="say where the time of the folder goes"
    )
    parser.add_argument("sizes", nargs="*", type=int)
    asked = parser.parse_args()
    sizes = asked.sizes or [10_000, 100_000, *([1_000_000] if asked.million else [])]
    columns = [measure(size, asked.profile) for size in sizes]
    print(f"{'':<34}" + "".join(f"{size:>12,}" for size in sizes) + "   last / first")
    for what in columns[0]:
        values = [column[what] for column in columns]
        ratio = values[-1] / values[0] if values[0] else 0.0
        print(f"{what:<34}" + "".join(f"{value:>12.2f}" for value in values) + f"{ratio:>12.2f}")


if __name__ == "__main__":
    main()
