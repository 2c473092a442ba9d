"""The power goes at any write, sync, rename or new file of a day; what a disk may hold then is looked at.

``HERDSYNC_PROOF_CUTS`` sets how many cuts of each day are tried (0: every one, in every way).
"""

from __future__ import annotations

import os
import random
import shutil
from pathlib import Path

import pytest

from tests.power.disk import WAYS, Change
from tests.power.look import broken
from tests.power.storage import left, prepared, spent

CUTS = int(os.environ.get("HERDSYNC_PROOF_CUTS", "24"))
SAFE = {"record", "claim", "left", "backup", "founded"}


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepared(tmp_path_factory.mktemp("ready"))


def cuts_of(log: list[Change]) -> list[tuple[int, str]]:
    """After how many changes the power goes, and what the disk then has of what was not synced."""
    every = [(at, way) for at in range(len(log) + 1) for way in WAYS]
    return random.Random(5).sample(every, min(CUTS, len(every))) if CUTS else every


@pytest.mark.parametrize("name", ["ordinary", "founding"])
def test_nothing_acknowledged_is_lost_wherever_the_power_goes(
    name: str, ready: Path, tmp_path: Path
) -> None:
    day = spent(name, ready, tmp_path)
    assert (day.ended, day.said) == (0, "")
    assert {word for word, _ in day.told} <= SAFE and len(day.told) > 2
    assert len(day.log) > 50
    place = tmp_path / "place"
    faults = []
    for cut, way in cuts_of(day.log):
        disk, told = left(day, cut)
        place.mkdir()
        disk.left(way, random.Random(cut), place)
        faults += [(cut, way, one) for one in broken(name, place, told)]
        shutil.rmtree(place)
    assert faults == []
