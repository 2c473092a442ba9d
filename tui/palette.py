"""The command palette: every deed of the place and every place, from the one table of deeds."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from textual.command import DiscoveryHit, Hit, Hits, Provider

from herdsync.deeds import PLACES
from tui.places.place import Place
from tui.text import content

Command = tuple[str, str, Callable[[], object]]


class DeedCommands(Provider):
    """Deeds of the place underneath, and ways to the other places."""

    def _commands(self) -> list[Command]:
        found: list[Command] = []
        if isinstance(self.screen, Place):
            here = self.screen
            found += [
                (deed.word, deed.help, partial(here.action_deed, deed.id))
                for deed in here.offered()
                if deed.id not in ("open", "back", "number")
            ]
        go = getattr(self.app, "action_go", None)
        if go is not None:
            found += [(one.word, one.help, partial(go, one.id)) for one in PLACES]
        return found

    async def discover(self) -> Hits:
        """All of them, before anything is typed."""
        for word, said, command in self._commands():
            yield DiscoveryHit(content(word), command, text=word, help=said)

    async def search(self, query: str) -> Hits:
        """Those that fit what is typed."""
        matcher = self.matcher(query)
        for word, said, command in self._commands():
            told = f"{word}: {said}"
            score = matcher.match(told)
            if score > 0:
                yield Hit(score, matcher.highlight(told), command, text=told)
