"""Watching a folder while the program stays open. The watcher is a hint; looking again is the truth.

Native watching can end without a word when a stick is pulled, and never tells of what another machine
changed on a network share. So the folder is also looked into at every heartbeat, and its coming, going
or being another one starts the watching anew.
Must not know what the files are.
"""

from __future__ import annotations

import asyncio
import stat
from collections.abc import AsyncGenerator, Awaitable, Callable
from contextlib import aclosing, suppress
from pathlib import Path

from watchfiles import Change, awatch

from herdsync.exchange.folder import passed_over

HEARTBEAT_MS = 30_000
# How long a burst of changes may gather before it is told.
GATHER_MS = 200
POLL_MS = 2_000


async def watch(
    folder: Path,
    on_change: Callable[[], Awaitable[None]],
    stop: asyncio.Event,
    *,
    polling: bool = False,
    heartbeat_ms: int = HEARTBEAT_MS,
) -> None:
    """Await ``on_change`` at the start, after each change and at each heartbeat while the folder is there.

    Returns once ``stop`` is set. ``polling`` is for network shares. What ``on_change`` raises goes through.
    """
    while not stop.is_set():
        mark = await asyncio.to_thread(_mark_of, folder)
        if mark is None:
            await _pause(stop, min(heartbeat_ms, POLL_MS))
            continue
        await on_change()
        try:
            async with aclosing(_hints(folder, stop, polling, heartbeat_ms)) as hints:
                async for _ in hints:
                    if await asyncio.to_thread(_mark_of, folder) != mark:
                        break
                    await on_change()
        except _Unwatchable:
            # The system gives no watcher (its limit is reached): the heartbeat alone must do.
            await _pause(stop, heartbeat_ms)


class _Unwatchable(Exception):
    """The system gives no watcher for this folder."""


async def _hints(
    folder: Path, stop: asyncio.Event, polling: bool, heartbeat_ms: int
) -> AsyncGenerator[None, None]:
    """One item for each burst of changes and for each heartbeat without one."""
    try:
        async for _ in awatch(
            folder,
            watch_filter=_worth_a_look,
            debounce=GATHER_MS,
            stop_event=stop,
            rust_timeout=heartbeat_ms,
            yield_on_timeout=True,
            force_polling=polling,
            poll_delay_ms=POLL_MS,
            recursive=False,
            ignore_permission_denied=True,
        ):
            yield None
    except (OSError, RuntimeError) as fault:
        raise _Unwatchable from fault


def _worth_a_look(_change: Change, path: str) -> bool:
    return not passed_over(Path(path).name)


def _mark_of(folder: Path) -> tuple[int, int] | None:
    """What tells this folder from another that takes its place; None where there is none."""
    try:
        seen = folder.stat()
    except OSError:
        return None
    return (seen.st_dev, seen.st_ino) if stat.S_ISDIR(seen.st_mode) else None


async def _pause(stop: asyncio.Event, length_ms: int) -> None:
    with suppress(TimeoutError):
        await asyncio.wait_for(stop.wait(), length_ms / 1000)
