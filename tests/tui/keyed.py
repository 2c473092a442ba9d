"""A keeper's hands on a dashboard: command lines of a story done by pressing keys alone.

What is on the screen may be read (where the cursor stands, which line has the focus), as a keeper
reads it; nothing is done but by keys.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from herdsync.kinds import CATALOGUE
from tests.tui.stage import Stage
from tui.forms.amending import BECAUSE
from tui.forms.entry import Entry
from tui.forms.figures import PER_ANIMAL, Figures
from tui.widgets.accounts import Accounts
from tui.widgets.lines import Lines

STEPS_MOST = 60
PLACE_OF = {
    "due": "1", "timers": "f4", "herd": "2", "find": "2", "conflicts": "6", "trail": "7", "show": "7",
    "devices": "8",
}  # fmt: skip


class NotThere(Exception):
    """What was to be typed on or pointed at is not on the screen; says what is."""


class Hands:
    """Ten fingers on the dashboard of one laptop."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage

    @property
    def screen(self) -> Any:
        return self.stage.app.screen

    async def do(self, words: Sequence[str]) -> str:
        """What a command line would do; the screen afterwards."""
        verb, *rest = words
        plain = [word for word in rest if not word.startswith("--") and "=" not in word]
        given = dict(word.split("=", 1) for word in rest if "=" in word)
        options = [(a[2:], b) for a, b in pairwise(rest) if a[:2] == "--"]
        named = dict(options)
        because = named.get("because", "")
        if verb in PLACE_OF:
            return await self.stage.press(PLACE_OF[verb])
        if verb == "record":
            return await self.record(plain[0], given, [b for a, b in options if a == "for"])
        if verb == "amend":
            return await self.amend(plain[0], given, because)
        if verb == "resolve":
            return await self.resolve(plain[0], named.get("take", ""), named.get("value"), because)
        if verb in ("same", "different"):
            return await self.tie(verb, plain[:2], because)
        if verb == "proof":
            return await self.prove(plain[0], named["out"])
        if verb == "verify":
            return await self.stage.press("8", "v")
        told: str = await getattr(self, verb)(plain, named)
        return told

    # Beginnings.

    async def found(self, plain: Sequence[str], named: dict[str, str]) -> str:
        """Found the farm; the recovery words are written down and read back."""
        assert "There is no farm in this folder yet" in self.stage.text
        await self.stage.press("enter")
        await self.fill({"name": plain[0]} | named)
        told = self.stage.text
        words = dict(re.findall(r"\b(\d+) ([a-z]{3,})\b", told))
        assert {int(number) for number in words} == set(range(1, 25)), told
        await self.stage.press("enter")
        asked = {one.field: words[one.field.removeprefix("word ")] for one in self.screen.entries}
        return await self.fill(asked)

    async def join(self, plain: Sequence[str], named: dict[str, str]) -> str:
        """Ask to join; answers the code."""
        await self.stage.press("down", "enter")
        told = await self.fill({"carrier": plain[0], **named})
        code = re.search(r"\b([A-Z0-9]{4}(?:-[A-Z0-9]{4}){3})\b", told)
        assert code is not None, told
        return code.group(1)

    async def admit(self, plain: Sequence[str], named: dict[str, str]) -> str:
        """Let a partner in."""
        await self.stage.press("8", "j")
        return await self.fill({"carrier": plain[0], "code": named["code"]})

    async def exchange(self, plain: Sequence[str], named: dict[str, str]) -> str:
        """Exchange; on a laptop that asked to join, take the farm."""
        del named
        if "There is no farm in this folder yet" in self.stage.text:
            await self.stage.press("down", "down", "enter")
            return await self.fill({"carrier": plain[0]})
        await self.stage.press("b")
        return await self.fill({"carrier": plain[0]})

    async def who(self, name: str) -> None:
        """Say who is at the keyboard."""
        await self.stage.press("f2")
        await self.fill({"by": name})

    # Acts.

    async def record(self, kind: str, given: dict[str, str], whom: Sequence[str]) -> str:
        """Write an act down for the animals named."""
        subject = CATALOGUE[kind].subject or ""
        given = dict(given)
        names = [given.pop(subject)] if subject in given else list(whom)
        await self.stage.press("2", "escape")
        for name in names:
            await self.point(lambda row, wanted=name: row.name == wanted)
            if len(names) > 1:
                await self.stage.press("space")
        await self.stage.press("r")
        await self.stage.type(CATALOGUE[kind].title)
        await self.point(lambda row: row.key == kind)
        await self.stage.press("enter")
        if isinstance(self.screen, Figures):
            figure = given.pop(self.screen.draft.one_figure)
            given |= {f"{PER_ANIMAL}{id}": figure for id, _ in self.screen.draft.animals}
        told = await self.fill(given)
        if kind == "kidding":
            await self.stage.press("escape")
        return told

    async def amend(self, ref: str, given: dict[str, str], because: str) -> str:
        """Change fields of a record, found on its animal's page or in the trail."""
        if ref.isalpha() and ref[:1].isupper():
            await self.stage.press("f")
            await self.stage.type(ref)
            await self.stage.press("enter")
        else:
            await self.stage.press("7")
            await self.point(lambda row: row.record == ref)
            await self.stage.press("e")
        await self.stage.press("e")
        return await self.fill(given | ({BECAUSE: because} if because else {}))

    async def resolve(self, conflict: str, take: str, value: str | None, because: str) -> str:
        """Resolve a conflict: take an account, or say what is right."""
        await self.stage.press("6")
        if not any(one.id == conflict for one in self.screen.told.lines):
            await self.stage.press("i")
        await self.point(lambda row: row.key == conflict)
        if value is not None:
            await self.stage.press("v")
            return await self.fill({"value": value, "because": because})
        await self.why(because)
        accounts = self.screen.query_one(Accounts)
        for _ in range(STEPS_MOST):
            if accounts.chosen is not None and accounts.chosen.id == take:
                break
            await self.stage.press("right")
        return await self.stage.press("t")

    async def tie(self, verb: str, records: Sequence[str], because: str) -> str:
        """Say that two records are one, or two."""
        await self.stage.press("6")
        lines = self.screen.told.lines
        pair = next(one.id for one in lines if set(records) <= set(one.records))
        await self.point(lambda row: row.key == pair)
        await self.why(because)
        return await self.stage.press("s" if verb == "same" else "d")

    async def why(self, because: str) -> None:
        """Say why, before choosing."""
        if because:
            await self.stage.press("w")
            await self.fill({"because": because})

    async def prove(self, entry: str, out: str) -> str:
        """Write a proof of an entry."""
        await self.stage.press("7")
        await self.point(lambda row: row.key.startswith(entry))
        await self.stage.press("k")
        return await self.fill({"file": out})

    # Fingers.

    async def point(self, wanted: Any) -> None:
        """Move the cursor of the list to the line wanted."""
        lines = self.screen.query_one(Lines)
        for _ in range(STEPS_MOST):
            if lines.current is not None and wanted(lines.current):
                return
            there = [place for place, row in enumerate(lines.rows) if wanted(row)]
            if not there:
                raise NotThere(self.stage.text)
            here = lines._cursor
            passed = lines.rows[min(there[0], here) + 1 : max(there[0], here) + 1]
            steps = max(1, sum(not row.heading for row in passed))
            await self.stage.press(*["down" if there[0] > here else "up"] * steps)
        raise AssertionError(f"the cursor does not get there:\n{self.stage.text}")

    async def fill(self, given: dict[str, str]) -> str:
        """Type on the lines of a form and write it down."""
        form = self.screen
        if form.caution:
            await self.stage.press("enter")
        for name, text in given.items():
            if not self.line(name).display:
                await self.stage.press("f6")
            await self.go_to(self.line(name))
            await self.stage.press("end", "ctrl+u")
            await self.stage.type(text)
        await self.stage.press("ctrl+s")
        assert self.screen is not form, self.stage.text
        return self.stage.text

    def line(self, name: str) -> Entry:
        """The line of a form for one field."""
        found = [entry for entry in self.screen.entries if entry.field == name]
        if not found:
            raise NotThere(self.stage.text)
        entry: Entry = found[0]
        return entry

    async def go_to(self, entry: Entry) -> None:
        """From line to line until the one wanted has the focus."""
        for _ in range(STEPS_MOST):
            if entry.typing.has_focus:
                return
            chain = self.screen.focus_chain
            steps = chain.index(entry.typing) - chain.index(self.screen.focused)
            await self.stage.press(*["down" if steps > 0 else "up"] * abs(steps))
        raise AssertionError(f"{entry.field} is out of reach:\n{self.stage.text}")
