"""Watching a folder: each change is told, and so is what no watcher tells."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from watchfiles import Change

from herdsync.exchange import watch as watch_module
from herdsync.exchange.watch import watch

PATIENCE_S = 20
LONG_MS = 60_000


class Looks:
    """Counts how often the folder was to be looked into, and lets a test wait for the next time."""

    def __init__(self) -> None:
        self.count = 0
        self._more = asyncio.Condition()

    async def __call__(self) -> None:
        async with self._more:
            self.count += 1
            self._more.notify_all()

    async def beyond(self, count: int) -> None:
        async with asyncio.timeout(PATIENCE_S), self._more:
            await self._more.wait_for(lambda: self.count > count)


@asynccontextmanager
async def watching(folder: Path, **how: Any) -> AsyncIterator[Looks]:
    looks, stop = Looks(), asyncio.Event()
    task = asyncio.create_task(watch(folder, looks, stop, **how))
    try:
        yield looks
    finally:
        stop.set()
        await asyncio.wait_for(task, PATIENCE_S)


async def until_seen(looks: Looks, act: Callable[[int], object]) -> None:
    """Act until a look follows: a watcher may take a moment before it sees anything at all."""
    before = looks.count
    for number in range(PATIENCE_S * 5):
        act(number)
        await asyncio.sleep(0.2)
        if looks.count > before:
            return
    raise AssertionError("no change was told")


@pytest.mark.parametrize("polling", [False, True])
async def test_a_new_file_is_told(
    stick: Path, polling: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watch_module, "POLL_MS", 50)
    async with watching(stick, polling=polling, heartbeat_ms=LONG_MS) as looks:
        await looks.beyond(0)
        await until_seen(looks, lambda n: (stick / f"{n}.bundle").write_bytes(b"x"))


def test_unfinished_and_hidden_files_are_not_told() -> None:
    seen = [
        watch_module._worth_a_look(Change.added, f"stick/{name}")
        for name in (
            ".x.bundle-00.tmp",
            "x.tmp",
            "~x.bundle",
            "x.bundle",
            "x.bundle~",
            "x.swp.bundle",
        )
    ]
    assert seen == [False, False, False, True, False, True]


async def test_it_looks_again_at_every_heartbeat(stick: Path) -> None:
    async with watching(stick, heartbeat_ms=50) as looks:
        await looks.beyond(3)


async def test_a_folder_that_goes_and_returns_is_watched_again(
    stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watch_module, "POLL_MS", 50)
    async with watching(stick, heartbeat_ms=100) as looks:
        await looks.beyond(0)
        stick.rename(stick.with_name("pulled out"))
        await asyncio.sleep(0.3)
        gone = looks.count
        await asyncio.sleep(0.3)
        assert looks.count == gone
        stick.mkdir()
        await looks.beyond(gone)
        await until_seen(looks, lambda n: (stick / f"{n}.bundle").write_bytes(b"x"))


async def test_a_folder_not_there_yet_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watch_module, "POLL_MS", 50)
    later = tmp_path / "later"
    async with watching(later, heartbeat_ms=LONG_MS) as looks:
        await asyncio.sleep(0.2)
        assert looks.count == 0
        later.mkdir()
        await looks.beyond(0)


async def test_without_any_watcher_the_heartbeat_does(
    stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_left(*_: object, **__: object) -> Awaitable[None]:
        raise OSError(28, "inotify watch limit reached")

    monkeypatch.setattr(watch_module, "awatch", none_left)
    async with watching(stick, heartbeat_ms=50) as looks:
        await looks.beyond(3)


async def test_what_the_looking_raises_goes_through(stick: Path) -> None:
    async def broken() -> None:
        raise RuntimeError("the farm's file is damaged")

    with pytest.raises(RuntimeError, match="damaged"):
        await asyncio.wait_for(watch(stick, broken, asyncio.Event()), PATIENCE_S)


async def test_it_can_be_cancelled(stick: Path) -> None:
    looks = Looks()
    task = asyncio.create_task(watch(stick, looks, asyncio.Event(), heartbeat_ms=LONG_MS))
    await looks.beyond(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await asyncio.wait_for(task, PATIENCE_S)


def test_a_plain_exchange_loads_no_watcher() -> None:
    code = (
        "import sys; import herdsync.exchange.bundles, herdsync.exchange.doorstep;"
        "print([one for one in ('watchfiles', 'asyncio', 'ssl') if one in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
