"""Fixtures: two ways to keep a laptop's log, and a folder between laptops."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from herdsync.log.entry import Entry
from tests.exchange.laptops import Laptop, MemoryLaptop, StoreLaptop
from tests.exchange.porch import HERE, Porch

Maker = Callable[[str, Entry], Laptop]


@pytest.fixture(params=["memory", "store"])
def laptop(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Maker]:
    """Makes a laptop of a farm; every test runs in memory and on the real store."""
    made: list[StoreLaptop] = []

    def make(name: str, founding: Entry) -> Laptop:
        if request.param == "memory":
            return MemoryLaptop(name, founding)
        made.append(StoreLaptop(name, founding, tmp_path / f"farm-{name}"))
        return made[-1]

    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    yield make
    for one in made:
        one.store.close()


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """An empty folder that laptops exchange over."""
    folder = tmp_path / "stick"
    folder.mkdir()
    return folder


@pytest.fixture
def porch(tmp_path: Path) -> Iterator[Callable[..., Porch]]:
    open_ones: list[Porch] = []

    def make(laptop: Laptop, host: str = HERE) -> Porch:
        one = Porch(laptop, tmp_path, host)
        one.listener.start()
        open_ones.append(one)
        return one

    yield make
    for one in open_ones:
        one.listener.stop()
    assert threading.active_count() == 1 or not any(one.listener._threads for one in open_ones)
