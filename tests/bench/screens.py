"""What the dashboard's screens cost: ``python -m tests.bench.screens [records]``.

The places with long lists, of a farm of 1,000 animals in a file with 100 conflicts, each beside a bare
table of Textual's own with as many rows of the same words: from opening the app (Rounds) or pressing
the place's key to the whole screen, and from a key to the repaint, within a screenful and where the
list scrolls. By turns in one run, in processor time of all threads, medians. The collector's
thresholds are raised, as the console command does. Prints; asserts nothing.
"""

from __future__ import annotations

import asyncio
import gc
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from textual.app import App, ComposeResult
from textual.screen import Screen
from textual.widgets import DataTable

from herdsync.desk import Desk
from herdsync.farm import Farm
from herdsync.start import COLLECT_AFTER
from herdsync.wall import Wall
from tests.bench.due import InFile
from tests.bench.herd_history import NOW
from tests.tui.stage import Stage
from tui.app import Dashboard
from tui.farmhand import Farmhand
from tui.widgets.lines import Lines

if TYPE_CHECKING:
    from textual.pilot import Pilot

SIZE = (100, 30)
RECORDS, RUNS, CONFLICTS = 10_000, 5, 100
PLACES = {"Rounds": "1", "Herd": "2", "Medicine": "4", "Conflicts": "6", "Trail": "7"}
NEAR, PAST, FAR = 10, 40, 20  # keys within a screenful, keys to the foot of any, keys that scroll
Rows = list[tuple[str, ...]]
T = TypeVar("T")


class Cost(NamedTuple):
    """Milliseconds of the processor: to the whole screen, of it the farm's thread, for keys."""

    whole: float
    farm: float
    near: float
    far: float


class Table(Screen[None]):
    """Rows in a table and nothing else."""

    def __init__(self, rows: Rows) -> None:
        super().__init__()
        self._rows = rows

    def compose(self) -> ComposeResult:
        """The table."""
        yield DataTable(cursor_type="row")

    def on_mount(self) -> None:
        """Fill it."""
        table: DataTable[str] = self.query_one(DataTable)
        table.add_columns(*(f"Column {place}" for place in range(max(map(len, self._rows)))))
        table.add_rows(self._rows)
        table.focus()


class Bare(App[None]):
    """A table at once, or a table a key, each on a screen of its own."""

    def __init__(self, rows: Rows, by_key: dict[str, Rows] | None = None) -> None:
        super().__init__()
        self._rows = rows
        for key in by_key or {}:
            self.bind(key, f"open('{key}')")
        self._by_key = by_key or {}

    def on_mount(self) -> None:
        """Show the first."""
        self.push_screen(Table(self._rows))

    def action_open(self, key: str) -> None:
        """Show another."""
        self.push_screen(Table(self._by_key[key]))


class Weighed(Farmhand):
    """A farmhand that counts what its thread takes."""

    taken_s = 0.0

    async def ask(self, work: Callable[[Farm], T]) -> T:
        """What the work answers."""

        def weigh(farm: Farm) -> T:
            begun = time.thread_time()
            try:
                return work(farm)
            finally:
                self.taken_s += time.thread_time() - begun

        return await super().ask(weigh)


class Watched(Stage):
    """Waits for any app until it has drawn."""

    @property
    def _busy(self) -> bool:
        typed = getattr(self.app, "typed_ahead", None)
        return any(one.is_running for one in self.app.workers) or not (typed is None or typed.idle)

    async def key_ms(self, key: str) -> float:
        """Press a key until everything has come to rest."""
        begun = time.process_time()
        self._send(key)
        await self.settle()
        return (time.process_time() - begun) * 1000


def dashboard(folder: Path) -> Dashboard:
    """The dashboard on a farm, as it opens."""
    wall = Wall(NOW)
    return Dashboard(Weighed(lambda: Farm.open(folder, wall)), wall, folder, desk=Desk())


@contextmanager
def farm_of(records: int) -> Iterator[Path]:
    """A farm of 1,000 animals, and of some that had gone when something was done to them."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "farm"
        folder.mkdir()
        os.environ["HERDSYNC_KEYS"] = str(Path(name) / "keys")
        file = InFile(records, folder)
        for number in range(CONFLICTS):
            sheet = {"name": f"Gone {number}", "sex": "doe", "born": "2020-03-01"}
            gone = file.write("animal", sheet)
            file.write("leaving", {"animal": gone, "on": "2025-03-01", "how": "sold"})
            file.write("hoof-trim", {"animal": gone, "on": "2025-06-01"})
        file.store.close()
        yield folder


async def rows_of(folder: Path) -> dict[str, Rows]:
    """The words of every line of every place, by its key."""
    app = dashboard(folder)
    found: dict[str, Rows] = {}
    async with app.run_test(size=SIZE) as pilot:
        stage = Watched(app, pilot)
        for key in PLACES.values():
            await stage.press(key)
            rows = app.screen.query_one(Lines).rows
            found[key] = [tuple(cell.text for cell in row.cells) for row in rows]
    return found


async def costs(app: App[Any]) -> dict[str, Cost]:
    """What each place costs in one run of an app."""
    found = {}
    hand = getattr(app, "hand", Weighed)
    begun = time.process_time()
    async with app.run_test(size=SIZE) as pilot:
        stage = watching(app, pilot)
        await stage.settle()
        whole = (time.process_time() - begun) * 1000
        for place, key in PLACES.items():
            before = 0.0 if place == "Rounds" else hand.taken_s
            if place != "Rounds":
                whole = await stage.key_ms(key)
            farm = (hand.taken_s - before) * 1000
            near = [await stage.key_ms("down") for _ in range(NEAR)]
            for _ in range(PAST):
                await stage.key_ms("down")
            far = [await stage.key_ms("down") for _ in range(FAR)]
            found[place] = Cost(whole, farm, statistics.median(near), statistics.median(far))
    return found


def watching(app: App[Any], pilot: Pilot[Any]) -> Watched:
    """Eyes on an app, our own or bare."""
    return Watched(app, pilot)  # type: ignore[arg-type]


def main(words: Sequence[str]) -> int:
    """Make the farm, take both by turns, print."""
    gc.set_threshold(*COLLECT_AFTER)
    with farm_of(int(words[0]) if words else RECORDS) as folder:
        rows = asyncio.run(rows_of(folder))
        bare, ours = [], []
        for _ in range(RUNS):
            bare.append(asyncio.run(costs(Bare(rows[PLACES["Rounds"]], rows))))
            ours.append(asyncio.run(costs(dashboard(folder))))
    print("milliseconds of the processor, medians: bare table, place, difference or ratio")
    for place, key in PLACES.items():
        table, own = (
            Cost(
                *(statistics.median(one) for one in zip(*(run[place] for run in runs), strict=True))
            )
            for runs in (bare, ours)
        )
        print(
            f"{place:9} {len(rows[key]):6,} lines  whole screen {table.whole:6.0f} {own.whole:6.0f}"
            f" {own.whole - table.whole:+6.0f} (farm's thread {own.farm:.0f})"
            f"  a key {table.near:5.1f} {own.near:5.1f} x{own.near / table.near:.2f}"
            f"  scrolling {table.far:5.1f} {own.far:5.1f} x{own.far / table.far:.2f}",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
