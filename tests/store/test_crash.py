"""Real processes killed at random moments, a full disk, a read-only folder, flipped bytes, two writers.

An outside checker with SQLite alone looks at what is left; then the farm is opened and verified.
``HERDSYNC_PROOF_KILLS`` sets how many processes are killed (2,000 for a long proof).
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from functools import partial
from pathlib import Path

import pytest

from herdsync.faults import DamagedFarm, Fault, Refused
from herdsync.log.entry import Entry
from herdsync.store.checking import check
from herdsync.store.database import FILE
from herdsync.store.store import Store
from tests.farmyard import Yard
from tests.merge.dump import dump
from tests.store.farms import everything, in_order, kept, secret_of, write

KILLS = int(os.environ.get("HERDSYNC_PROOF_KILLS", "84"))
AFRESH = 20  # kills, then a new farm: each look at a long log takes long
ID_BYTES = 32
NOBODY = 65_534

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked processes")


class Process:
    """A forked process that tells 32 bytes for each thing it was told is safe, until it ends."""

    def __init__(self, work: Callable[[Callable[[bytes], None]], None]) -> None:
        self.reads, writes = os.pipe()
        self.id = os.fork()
        if self.id == 0:
            os.close(self.reads)
            status = 1
            try:
                work(lambda told: _tell(writes, told))
                status = 0
            finally:
                os._exit(status)
        os.close(writes)

    def kill_after(self, seconds: float, told: int = 0) -> list[bytes]:
        """Kill it without warning a while after it told so much; answer all it had acknowledged."""
        heard = [piece for _ in range(told) if (piece := os.read(self.reads, ID_BYTES))]
        time.sleep(seconds)
        with suppress(ProcessLookupError):
            os.kill(self.id, signal.SIGKILL)
        return heard + self.wait()[1]

    def wait(self) -> tuple[int, list[bytes]]:
        """Its exit status once it has ended, and all it had acknowledged."""
        told = b""
        while piece := os.read(self.reads, 65_536):
            told += piece
        os.close(self.reads)
        status = os.waitpid(self.id, 0)[1]
        whole = len(told) // ID_BYTES * ID_BYTES
        return status, [told[at : at + ID_BYTES] for at in range(0, whole, ID_BYTES)]


def _tell(pipe: int, told: bytes) -> None:
    os.write(pipe, told[:ID_BYTES].ljust(ID_BYTES, b"\0"))


@pytest.fixture
def yard() -> Yard:
    return Yard()


@pytest.fixture
def folder(tmp_path: Path, yard: Yard) -> Iterator[Path]:
    kept(tmp_path / "farm", yard).close()
    yield tmp_path / "farm"


def stored(folder: Path) -> set[bytes]:
    """Ids in the file as SQLite alone sees them, after its own check of the file's integrity."""
    with closing(sqlite3.connect(folder / FILE)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return {id for (id,) in db.execute("SELECT id FROM entry")}


def verify(folder: Path) -> None:
    """The farm opens, may be written, verifies, and derives the same again."""
    store = Store(folder)
    assert store.why_read_only() == ""
    with store.reading() as view:
        found = check(view)
        before = dump(view.shelf)
    assert (found.faults, found.bad) == ([], [])
    store.refold()
    with store.reading() as view:
        assert dump(view.shelf) == before
        assert view.log.chains.branches() == {}
    store.close()


def appending(folder: Path, seed: str) -> Callable[[Callable[[bytes], None]], None]:
    def work(tell: Callable[[bytes], None]) -> None:
        store = Store(folder)
        for number in range(10_000):
            tell(write(store, seed=f"{seed}/{number}", text=f"{seed} {number}").id)

    return work


def test_killed_while_appending_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    chance = random.Random(9)
    told = 0
    for farm in range(0, KILLS, AFRESH):
        folder, safe = tmp_path / f"farm {farm}", set[bytes]()
        kept(folder).close()
        for kill in range(farm, min(farm + AFRESH, KILLS)):
            process = Process(appending(folder, f"run {kill}"))
            safe |= set(process.kill_after(chance.uniform(0.001, 0.03), chance.randrange(7)))
            assert safe <= stored(folder)
            if kill % 10 == 0:
                verify(folder)
        verify(folder)
        shutil.rmtree(folder)
        told += len(safe)
    assert told > KILLS


def batches(yard: Yard, size: int) -> list[list[Entry]]:
    barn = yard.devices["barn"]
    for number in range(size * 60):
        yard.write("barn", "note", on="2026-01-02", text=f"note {number}")
    own = in_order(e for e in barn.replica.entries.values() if e.header.device == barn.key.public)
    return [own[at : at + size] for at in range(0, len(own), size)]


def test_killed_while_importing_every_batch_is_whole_or_absent(
    folder: Path, yard: Yard, tmp_path: Path
) -> None:
    told = batches(yard, 7)
    chance = random.Random(10)
    pristine = (folder / FILE).read_bytes()
    seen_partial = 0

    def work(tell: Callable[[bytes], None]) -> None:
        store = Store(folder)
        for batch in told:
            store.take(batch, "barn")
            tell(batch[-1].id)

    for kill in range(KILLS):
        if kill % 8 == 0:
            shutil.rmtree(folder)
            folder.mkdir()
            (folder / FILE).write_bytes(pristine)
        safe = set(Process(work).kill_after(chance.uniform(0.001, 0.05), chance.randrange(4)))
        here = stored(folder)
        assert safe <= here
        for batch in told:
            assert len({entry.id for entry in batch} & here) in (0, len(batch))
        seen_partial += 0 < len(here) - 2 < 7 * len(told)
        if kill % 10 == 0:
            verify(folder)
    assert seen_partial > KILLS // 4
    verify(folder)


def test_killed_while_refolding_the_log_is_untouched(folder: Path, yard: Yard) -> None:
    store = Store(folder)
    for batch in batches(yard, 5)[:40]:
        store.take(batch, "barn")
    with store.reading() as view:
        before = dump(view.shelf)
    store.close()
    ids = stored(folder)
    chance = random.Random(11)
    for _ in range(max(4, KILLS // 10)):
        Process(lambda tell: Store(folder).refold()).kill_after(chance.uniform(0.005, 0.1))
        assert stored(folder) == ids
        again = Store(folder)
        with again.reading() as view:
            assert dump(view.shelf) == before
        again.close()
    verify(folder)


def test_killed_while_founding_it_can_be_founded_again(tmp_path: Path, yard: Yard) -> None:
    founding = in_order(yard.devices["house"].replica.entries.values())[0]
    secret = secret_of("house", founding.id)
    chance = random.Random(12)
    for number in range(max(6, KILLS // 8)):
        place = tmp_path / f"new {number}"
        Process(lambda tell, place=place: Store.create(place, founding, secret).close()).kill_after(  # type: ignore[misc]
            chance.uniform(0.0, 0.03)
        )
        if not (place / FILE).exists():
            Store.create(place, founding, secret).close()
        verify(place)


def test_two_processes_write_one_log_without_losing_anything(folder: Path) -> None:
    def work(seed: str) -> Callable[[Callable[[bytes], None]], None]:
        def writes(tell: Callable[[bytes], None]) -> None:
            store = Store(folder)
            for number in range(20):
                tell(write(store, seed=f"{seed}/{number}", text=f"{seed} {number}").id)
            store.close()

        return writes

    processes = [Process(work(seed)) for seed in ("one", "two", "three")]
    ended = [process.wait() for process in processes]
    assert [status for status, _ in ended] == [0, 0, 0]
    told = [id for _, ids in ended for id in ids]
    assert len(set(told)) == 60
    assert set(told) <= stored(folder)
    verify(folder)


# Storage that fails.


def told_of(work: Callable[[], object]) -> bytes:
    """What came of it in one word, for a process to tell."""
    try:
        work()
    except Refused as fault:
        return b"refused" if fault.mend and "Traceback" not in str(fault) else b"no mend"
    except Fault:
        return b"fault"
    except BaseException as fault:
        return type(fault).__name__.encode()
    return b"written"


@pytest.mark.parametrize("room", [0, 1, 100, 4_096, 5_000, 9_000, 20_000])
def test_a_full_disk_is_said_and_nothing_is_half_written(folder: Path, room: int) -> None:
    # The system itself refuses to let any file grow beyond the limit, at whatever point that falls.
    store = Store(folder)
    write(store, text="before")
    store.close()
    before = stored(folder)

    def work(tell: Callable[[bytes], None]) -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        inner = Store(folder)
        most = max(path.stat().st_size for path in folder.iterdir())
        limits = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (max(most, 4_096 * 8) + room, limits[1]))
        said = b"written"
        number = 0
        while said == b"written" and number < 200:
            number += 1
            said = told_of(partial(write, inner, seed=f"{number}", text="x" * 900))
        tell(said)
        tell(number.to_bytes(4, "big"))
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        # With room again the same open store goes on as if nothing had been.
        tell(told_of(lambda: write(inner, seed="after", text="after")))
        inner.close()

    status, told = Process(work).wait()
    assert status == 0
    said, counted, after = told
    assert said.rstrip(b"\0") == b"refused"
    assert after.rstrip(b"\0") == b"written"
    number = int.from_bytes(counted[:4], "big")
    assert len(stored(folder)) == len(before) + number - 1 + 1
    verify(folder)


def test_a_read_only_folder_is_said_and_nothing_is_written() -> None:
    # In a place of its own that a user without rights can look into but not write to.
    with tempfile.TemporaryDirectory() as told:
        place = Path(told)
        place.chmod(0o755)
        kept(place / "farm").close()
        before = stored(place / "farm")
        for path in [place / "farm", *(place / "farm").iterdir()]:
            path.chmod(0o555 if path.is_dir() else 0o444)

        def work(tell: Callable[[bytes], None]) -> None:
            if os.geteuid() == 0:
                os.setgid(NOBODY)
                os.setuid(NOBODY)

            def tries() -> None:
                store = Store(place / "farm")
                with store._db.writing() as connection:
                    connection.execute("INSERT INTO about VALUES ('x', x'00')")

            tell(told_of(tries))
            founding = in_order(Yard().devices["house"].replica.entries.values())[0]
            secret = secret_of("house", founding.id)
            tell(told_of(lambda: Store.create(place / "farm" / "deeper", founding, secret)))

        status, said = Process(work).wait()
        assert (status, [one.rstrip(b"\0") for one in said]) == (0, [b"refused", b"refused"])
        assert stored(place / "farm") == before


def damage(raw: bytes, chance: random.Random) -> bytes:
    """Bytes of a file as a failing disk may leave them: a bit, some bytes, a sector."""
    changed = bytearray(raw)
    kind = chance.randrange(3)
    if kind == 0:
        changed[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
    elif kind == 1:
        for _ in range(20):
            changed[chance.randrange(len(raw))] = chance.randrange(256)
    else:
        at = chance.randrange(len(raw) // 512) * 512
        changed[at : at + 512] = bytes(512)
    return bytes(changed)


def test_damaged_bytes_give_a_sentence_never_a_traceback(
    folder: Path, yard: Yard, tmp_path: Path
) -> None:
    store = Store(folder)
    agate = write(store, "animal", name="Agate", sex="doe").record_id
    for number in range(12):
        write(store, "hoof-trim", animal=agate, on=f"2026-01-{number + 1:02}")
    barn = yard.devices["barn"]
    barn.replica.take(everything(store))
    yard.amend("barn", agate, name="Opal")
    yard.write("barn", "hoof-trim", animal=agate, on="2026-01-01")
    arriving = in_order(barn.replica.entries.values())
    store.take(arriving[:-1], "barn")
    store.close()
    raw = (folder / FILE).read_bytes()
    chance = random.Random(13)
    noticed = 0
    for number in range(60):
        place = tmp_path / f"damaged {number}"
        place.mkdir()
        (place / FILE).write_bytes(damage(raw, chance))
        noticed += visited(place, arriving)
        shutil.rmtree(place)
    assert noticed > 10


def visited(place: Path, arriving: list[Entry]) -> bool:
    """Ask everything of a damaged farm; whether it said that it is damaged."""
    asked: list[Callable[[Store], object]] = [
        lambda store: everything(store),
        lambda store: looked(store),
        lambda store: verified(store),
        lambda store: store.take(arriving, "barn"),
        lambda store: write(store),
        lambda store: store.refold(),
        lambda store: store.take_bundle_number(),
    ]
    noticed = False
    try:
        store = Store(place)
    except DamagedFarm:
        return True
    except Refused:
        return False
    for ask in asked:
        try:
            ask(store)
        except DamagedFarm as fault:
            noticed = True
            assert fault.mend
        except Fault:
            pass
    store.close()
    return noticed


def looked(store: Store) -> None:
    with store.reading() as view:
        dump(view.shelf)


def verified(store: Store) -> None:
    with store.reading() as view:
        if check(view).faults:
            raise DamagedFarm("the check says so", "mend it")


def test_a_file_that_is_no_farm_is_refused_in_a_sentence(tmp_path: Path) -> None:
    for number, raw in enumerate((b"", b"not a database", b"SQLite format 3\0" + bytes(4_000))):
        place = tmp_path / str(number)
        place.mkdir()
        (place / FILE).write_bytes(raw)
        with pytest.raises((DamagedFarm, Refused)):
            Store(place)
