"""Answering partners' laptops that call over the network, while the dashboard is open.

The farm is opened once more for it, in the farm's thread, so that whatever else the dashboard does
neither waits nor cuts a visit off. Must not know any widget.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import ExitStack
from typing import TYPE_CHECKING

from herdsync.meetings import Visited

if TYPE_CHECKING:
    from tui.farmhand import Farmhand

USUAL_PORT = 47_100
LEAST_PORT, MOST_PORT = 1_024, 65_535


class Listening:
    """Whether this laptop answers, on which port, and what the last visit came to."""

    def __init__(self, hand: Farmhand, told: Callable[[Visited], None]) -> None:
        self._hand = hand
        self._told = told
        self._open: ExitStack | None = None
        self.port = 0
        self.said = ""

    async def begin(self, port: int) -> None:
        """Answer from now on. Raises Trouble."""
        loop = asyncio.get_running_loop()

        def tell(visit: Visited) -> None:
            # Called from a thread of the listener's own: widgets are the loop's alone.
            loop.call_soon_threadsafe(self._told, visit)

        def begin() -> tuple[ExitStack, int]:
            with ExitStack() as opened:
                farm = opened.enter_context(self._hand.another())
                answered = opened.enter_context(farm.listening(port, tell))
                return opened.pop_all(), answered
            raise AssertionError("leaving the farm never swallows a fault")

        self._open, self.port = await self._hand.do(begin)

    async def end(self) -> None:
        """Answer no more."""
        if self._open is not None:
            await self._hand.do(self.stop)

    def stop(self) -> None:
        """Answer no more, at once; whoever is being answered is let go."""
        opened, self._open, self.port = self._open, None, 0
        if opened is not None:
            opened.close()


def visit_words(visit: Visited) -> str:
    """What a visit came to, in a sentence."""
    if visit.check:
        return f"{visit.who} asks to join; its screen must show {visit.check}. j lets it in."
    if visit.moved is None:
        return f"Refused {visit.who}: {visit.why}"
    return f"{visit.who} called: {visit.moved.received} received, {visit.moved.sent} sent."


def port_in(text: str) -> int:
    """The port a keeper typed; 0 where it is none that may be listened on."""
    told = text.strip() or str(USUAL_PORT)
    port = int(told) if told.isascii() and told.isdigit() and len(told) < 6 else 0
    return port if LEAST_PORT <= port <= MOST_PORT else 0
