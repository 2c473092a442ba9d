"""What this program does with a long history, measured in a process of its own each.

Each measure takes the folder of a prepared farm and answers its figures by name. Rates are by the second
of processor time, which other work on the machine changes little; an act is told by the clock too.
"""

from __future__ import annotations

import gc
import os
import resource
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from herdsync.exchange.bundles import exchange_folder
from herdsync.farm import Farm
from herdsync.start import COLLECT_AFTER
from herdsync.store import aside
from herdsync.store.database import FILE
from herdsync.store.keyring import KEYS_VARIABLE, Secret
from herdsync.store.store import Store
from herdsync.wall import Wall
from tests.bench import floors
from tests.bench.floors import processor_s
from tests.bench.herd_history import NOW
from tests.bench.stream import NAMES, read_stream
from tests.exchange.laptops import entropy_of, founding_of, key_of, seeds_of

Figures = dict[str, float]
BATCH = 10_000
ACTS = 60
MEBIBYTE_KIB = 1024


def stream_of(folder: Path) -> Path:
    """Where a prepared farm's entries lie in a file."""
    return folder / "stream"


@contextmanager
def opened(folder: Path, at: datetime = NOW) -> Iterator[Farm]:
    """The prepared farm, as its first laptop has it."""
    os.environ[KEYS_VARIABLE] = str(folder / "keys")
    with Farm.open(folder / "farm", Wall(at)) as farm:
        yield farm


def measured(measure: Callable[[Path], Figures], folder: Path) -> Figures:
    """A measure's figures and the most memory its process held."""
    # As the console command does.
    gc.set_threshold(*COLLECT_AFTER)
    figures = measure(folder)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MEBIBYTE_KIB
    return figures | {f"{measure.__name__}, MiB": most}


def taking(folder: Path) -> Figures:
    """A partner's whole history taken in: read, checked, stored, merged."""
    os.environ[KEYS_VARIABLE] = str(folder / "keys")
    founding = founding_of(NAMES[0])
    store = Store.create(folder / "farm", founding, Secret(founding.id, *seeds_of(NAMES[0])))
    count, begun = 0, processor_s()
    for batch in read_stream(stream_of(folder), BATCH):
        taken = store.take(batch, "the stream")
        assert not taken.refused and not taken.parked
        count += len(batch)
    seconds = processor_s() - begun
    store.close()
    size = (folder / "farm" / FILE).stat().st_size
    return {
        "entries": count,
        "import, entries/s": count / seconds,
        "on disk, bytes/act": size / count,
    }


def recording(folder: Path) -> Figures:
    """One act, from the door until it is durable and merged; then until it is shown in due work."""
    alone, shown, worked = [], [], []
    with opened(folder) as farm:
        does = [line.id for line in farm.herd() if line.sex == "doe"]
        farm.due()
        for number in range(ACTS):
            told = {"on": (NOW - timedelta(minutes=number)).isoformat(), "front_left": "ok"}
            begun, working = time.perf_counter(), processor_s()
            farm.record("hoof-trim", told, [does[number % len(does)]])
            alone.append((time.perf_counter() - begun) * 1000)
            worked.append((processor_s() - working) * 1000)
            farm.due()
            shown.append((time.perf_counter() - begun) * 1000)
    return {
        "one act, ms": statistics.median(alone),
        "one act, ms of processor": statistics.median(worked),
        "one act in due work, ms": statistics.median(shown),
    }


def looking(folder: Path) -> Figures:
    """From the closed farm to a full due board: as a day's first look, and with what that one left."""
    taken = []
    aside.drop(folder / "farm")
    for _ in range(2):
        begun = processor_s()
        with opened(folder) as farm:
            farm.due()
        taken.append((processor_s() - begun) * 1000)
    return {
        "a day's first board, ms of processor": taken[0],
        "open to due board, ms of processor": taken[1],
    }


def refolding(folder: Path) -> Figures:
    """Everything derived dropped and folded again."""
    with opened(folder) as farm:
        begun = processor_s()
        farm.refold()
        seconds = processor_s() - begun
        with farm._store.reading() as view:
            return {"refold, entries/s": view.log.count() / seconds}


def verifying(folder: Path) -> Figures:
    """Every stored byte against its hash, links and signature, and the fold against its tables."""
    with opened(folder) as farm:
        begun = processor_s()
        verified = farm.verify()
        assert not verified.faults
        return {"verify, entries/s": verified.entries / (processor_s() - begun)}


def carrying(folder: Path) -> Figures:
    """Everything left on an empty carrier, and taken from it by another laptop."""
    stick = folder / "stick"
    stick.mkdir()
    with opened(folder) as farm:
        begun = processor_s()
        moved = exchange_folder(stick, farm._store, 0, entropy_of("carrying"))
        leaving = moved.sent / (processor_s() - begun)
    size = sum(one.stat().st_size for one in stick.iterdir())
    founding = founding_of(NAMES[0])
    secret = Secret(founding.id, *seeds_of(NAMES[1]))
    barn = Store.create(folder / "other", founding, secret)
    assert barn.key.public == key_of(NAMES[1]).public
    begun = processor_s()
    taken = exchange_folder(stick, barn, 0, entropy_of("taking"))
    seconds = processor_s() - begun
    barn.close()
    return {
        "on a carrier, bytes/act": size / moved.sent,
        "leave all, entries/s": leaving,
        "take all, entries/s": taken.received / seconds,
    }


def floor(folder: Path) -> Figures:
    """The floors, on entries of the same stream."""
    some = next(read_stream(stream_of(folder), BATCH))
    place = folder / "floors"
    place.mkdir()
    durable, worked = floors.durable_insert_ms(place, some)
    return {
        "durable insert, ms": durable,
        "durable insert, ms of processor": worked,
        "bulk insert, rows/s": floors.bulk_inserts(place, some),
        "Ed25519 verify, /s": floors.verifications(some),
        "SHA-256, /s": floors.hashes(some),
        "decode, /s": floors.decodings(some),
        **floors.git_rates(place, some),
    }


MEASURES: tuple[Callable[[Path], Figures], ...] = (
    taking, floor, recording, looking, carrying, refolding, verifying
)  # fmt: skip
