"""A farm to import into and to write papers of, and two laptops of one farm."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from herdsync import founding
from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.cli.laptops import Laptops

AT = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Farm]:
    """A farm without records, open on the laptop house, on 1 June 2026."""
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    wall = Wall(AT)
    founding.found(tmp_path / "farm", wall, name="Quillmoor Dairy", keeper="Oda", device="house")
    with Farm.open(tmp_path / "farm", wall) as farm:
        yield farm


@pytest.fixture
def pair(tmp_path: Path) -> Laptops:
    """A farm on the laptops house and barn."""
    laptops = Laptops.beside(tmp_path)
    laptops.pair()
    return laptops
