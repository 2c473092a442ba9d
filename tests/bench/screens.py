"""What the dashboard's screen costs: ``python -m tests.bench.screens [records]``.

Rounds of a farm of 1,000 animals in a file, beside a bare table of Textual's own with as many rows of
the same words: from opening the app to the first whole screen, and from a key to the repaint. Both by
turns in one run, in processor time of all threads, medians. Prints; asserts nothing.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from textual.app import App, ComposeResult
from textual.widgets import DataTable

from herdsync.desk import Desk
from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.bench.due import InFile
from tests.bench.herd_history import NOW
from tests.tui.stage import Stage
from tui.app import Dashboard
from tui.farmhand import Farmhand
from tui.widgets.lines import Lines

SIZE = (100, 30)
RECORDS, RUNS, KEYS = 10_000, 5, 40
Cells = list[tuple[str, ...]]


class Bare(App[None]):
    """A table and nothing else."""

    def __init__(self, cells: Cells) -> None:
        super().__init__()
        self._cells = cells

    def compose(self) -> ComposeResult:
        """The table."""
        yield DataTable(cursor_type="row")

    def on_mount(self) -> None:
        """Fill it."""
        table: DataTable[str] = self.query_one(DataTable)
        table.add_columns(
            *("State", "Animal", "Mark", "Work", "Until", "Why")[: len(self._cells[0])]
        )
        table.add_rows(self._cells)
        table.focus()


class Watched(Stage):
    """Waits for any app until it has drawn."""

    @property
    def _busy(self) -> bool:
        typed = getattr(self.app, "typed_ahead", None)
        return any(one.is_running for one in self.app.workers) or not (typed is None or typed.idle)


async def timed(app: App[Any]) -> tuple[float, float]:
    """Milliseconds of the processor to the first whole screen, and for a key, the median of many."""
    begun = time.process_time()
    async with app.run_test(size=SIZE) as pilot:
        stage = Watched(app, pilot)  # type: ignore[arg-type]
        await stage.settle()
        first = time.process_time() - begun
        keys = []
        for _ in range(KEYS):
            at = time.process_time()
            stage._send("down")
            await stage.settle()
            keys.append(time.process_time() - at)
    return first * 1000, statistics.median(keys) * 1000


def dashboard(folder: Path) -> Dashboard:
    """The dashboard on a farm, as it opens."""
    wall = Wall(NOW)
    return Dashboard(Farmhand(lambda: Farm.open(folder, wall)), wall, folder, desk=Desk())


async def rows_of(folder: Path) -> Cells:
    """The words of every line of Rounds."""
    app = dashboard(folder)
    async with app.run_test(size=SIZE) as pilot:
        await Watched(app, pilot).settle()
        rows = app.screen.query_one(Lines).rows
        return [tuple(cell.text for cell in row.cells) for row in rows if not row.heading]


def main(words: Sequence[str]) -> int:
    """Make the farm, take both by turns, print."""
    records = int(words[0]) if words else RECORDS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "farm"
        folder.mkdir()
        os.environ["HERDSYNC_KEYS"] = str(Path(name) / "keys")
        InFile(records, folder).store.close()
        cells = asyncio.run(rows_of(folder))
        bare, ours = [], []
        for _ in range(RUNS):
            bare.append(asyncio.run(timed(Bare(cells))))
            ours.append(asyncio.run(timed(dashboard(folder))))
    print(
        f"{len(cells):,} lines of 1,000 animals, {records:,} records; ms of the processor, medians"
    )
    for place, what in enumerate(("to the first whole screen", "from a key to the repaint")):
        table, own = (statistics.median(one[place] for one in runs) for runs in (bare, ours))
        print(
            f"{what:28} bare table {table:8.1f}  Rounds {own:8.1f}  +{own - table:.0f}  x{own / table:.2f}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
