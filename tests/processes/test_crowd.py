"""Two dashboards, a watcher, commands, a partner and an onlooker on one farm and one stick at once.

``HERDSYNC_CROWD_SECONDS`` sets how long (600 for a long proof).
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.cli.laptops import Laptops
from tests.processes import crowd
from tests.processes.crowd import Told

SECONDS = float(os.environ.get("HERDSYNC_CROWD_SECONDS", "4"))


@pytest.fixture
def laptops(tmp_path: Path) -> Laptops:
    made = Laptops.beside(tmp_path)
    made.pair()
    for name in ("Agate", "Opal", "Mica", "Beryl"):
        made.ask("house", "record", "animal", f"name={name}", "sex=doe", "born=2022-03-01")
    made.meet()
    return made


@pytest.fixture
def told(laptops: Laptops) -> Iterator[list[Told]]:
    folder, stick = laptops.stage.folder, laptops.stick
    house = (str(folder / "house"), str(folder / "house-keys"))
    barn = (str(folder / "barn"), str(folder / "barn-keys"))
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(6, mp_context=fresh, initializer=crowd.bind) as pool:
        running = [
            pool.submit(crowd.dashboard, *house, 1, SECONDS),
            pool.submit(crowd.dashboard, *house, 2, SECONDS),
            pool.submit(crowd.watcher, *house, stick, SECONDS),
            pool.submit(crowd.commands, *house, SECONDS),
            pool.submit(crowd.onlooker, *house, SECONDS),
            pool.submit(crowd.partner, *barn, stick, SECONDS),
        ]
        yield [one.result() for one in running]


def test_nothing_is_lost_torn_or_refused(
    laptops: Laptops, told: list[Told], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert all(one.turns > 0 for one in told)
    assert [one.refused for one in told] == [[]] * len(told)
    assert [one.torn for one in told] == [[]] * len(told)
    laptops.meet()
    for laptop in ("house", "barn"):
        monkeypatch.setenv("HERDSYNC_KEYS", str(laptops.stage.folder / f"{laptop}-keys"))
        with Farm.open(laptops.stage.folder / laptop, Wall()) as farm:
            assert crowd.lost(farm, told) == []
            assert farm.verify().faults == []
            agate = farm.show("Agate")
            assert not agate.fields["breed"].disputed
            amended = {one[:26] for each in told for one in each.claims}
            assert len(agate.fields["breed"].claims) == len(amended)
    assert laptops.ask("house", "herd") == laptops.ask("barn", "herd")
