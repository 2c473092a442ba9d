"""The one thread that owns the farm: screens ask it for work and await what comes back.

Nothing of the farm is ever called on the screen's own loop, so a slow disk freezes no key.
Must not know any widget.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from herdsync.faults import Fault, Refused

if TYPE_CHECKING:
    from herdsync.farm import Farm

T = TypeVar("T")


class Trouble(Exception):
    """What a keeper is told when the farm could not answer: one sentence and a way on.

    ``refused``: the farm itself said no, in its own words.
    """

    def __init__(self, said: str, *, refused: bool = False) -> None:
        super().__init__(said)
        self.refused = refused


def outcome(work: Callable[[], T]) -> T | Trouble:
    """What work answers, or the trouble it met.

    It is caught on the thread itself: a StopIteration cannot cross to the loop, and whoever awaits
    it would wait for ever.
    """
    try:
        return work()
    except Trouble as trouble:
        return trouble
    except Fault as fault:
        return Trouble(str(fault), refused=isinstance(fault, Refused))
    except OSError as fault:
        said = fault.strerror or type(fault).__name__
        return Trouble(f"The disk or folder would not do it: {said}. Nothing was lost.")
    except Exception as fault:  # whatever fails inside, the keeper keeps the screen
        said = type(fault).__name__
        return Trouble(
            f"This could not be worked out ({said}). What was written is safe: go on elsewhere, "
            "and run 'herdsync verify'."
        )


class Farmhand:
    """Runs work on the farm in order, one piece at a time, in a thread of its own."""

    def __init__(self, opening: Callable[[], Farm]) -> None:
        self._opening = opening
        self._farm: Farm | None = None
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="farmhand")

    async def ask(self, work: Callable[[Farm], T]) -> T:
        """What ``work`` answers, done on the farm's own thread. Raises Trouble."""
        return await self._run(lambda: work(self._open()))

    async def do(self, work: Callable[[], T]) -> T:
        """Work that needs no open farm (founding, joining), on the same thread. Raises Trouble."""
        return await self._run(work)

    def another(self) -> Farm:
        """The farm opened once more, for work of its own; whoever asks closes it."""
        return self._opening()

    async def reopen(self) -> None:
        """Close the farm; the next piece of work opens it anew."""
        await self._run(self._close)

    def stop(self) -> None:
        """Finish what is under way, close the farm, end the thread."""
        self._thread.submit(self._close)
        self._thread.shutdown(wait=True)

    async def _run(self, work: Callable[[], T]) -> T:
        done = await asyncio.get_running_loop().run_in_executor(self._thread, outcome, work)
        if isinstance(done, Trouble):
            raise done
        return done

    def _open(self) -> Farm:
        if self._farm is None:
            self._farm = self._opening()
        return self._farm

    def _close(self) -> None:
        if self._farm is not None:
            self._farm.close()
            self._farm = None
