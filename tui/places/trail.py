"""Trail: the account of every change, what was known at any entry, and proofs to hand out."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from herdsync.answers import HerdLine, Verified
from herdsync.kinds.on import parse_on
from tui import words
from tui.forms.asking import Asked, Asking
from tui.pages import herd, trail
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class TrailPlace(Place):
    """Newest first; enter opens the record."""

    place = "trail"
    foot = ("open", "narrow", "prove", "known", "amend", "retract", "check-bytes", "undo")
    BINDINGS = bindings("trail")
    narrow = trail.EVERYTHING

    def read(self, farm: Farm) -> trail.Trail:
        """The newest lines."""
        return trail.read(farm, further=bool(self.narrow.said))

    def page(self, told: trail.Trail) -> Page:
        """Those that hold the words asked for."""
        return trail.page(told, self.home.now(), narrow=self.narrow)

    def entry(self) -> str:
        """The entry under the cursor."""
        row = self.lines.current
        return row.key.split(" ")[0] if row is not None else ""

    def do_narrow(self) -> None:
        """Show only what one keeper or laptop wrote, of one kind, within some days, with some words."""
        now = self.home.now()

        def keep(farm: Farm, told: Asked) -> str:
            del farm
            days = {name: _day(told[name], now, self.home.zone) for name in ("first", "last")}
            self.narrow = trail.Narrow(**(told | days))
            return f"Only: {self.narrow.said}." if self.narrow.said else "All lines."

        here = self.narrow
        questions = (
            ("keeper", "Keeper", here.keeper), ("device", "Laptop", here.device),
            ("kind", "Kind", here.kind), ("first", "From", here.first),
            ("last", "Until", here.last), ("words", "Words", here.words),
        )  # fmt: skip
        hint = (
            "Blank wants all. Days such as 2026-02-22, today, yesterday. Kinds such as hoof-trim."
        )
        self.home.ask(self, Asking("Show only", questions, keep, word="Show", hint=hint))

    def do_prove(self) -> None:
        """Write a proof of the entry under the cursor."""
        entry = self.entry()
        if not entry:
            return

        def prove(farm: Farm, told: Asked) -> str:
            proved = farm.proof(entry, Path(told["file"]).expanduser())
            return f"Proof written to {proved.file}; it needs no herdsync to be checked."

        questions = (("file", "Write it to", f"proof-{entry[:8]}.txt"),)
        self.home.ask(self, Asking("A proof of this entry", questions, prove))

    def do_known(self) -> None:
        """See the herd as this entry knew it."""
        entry = self.entry()
        if entry:
            self.start(partial(self._known, entry))

    async def _known(self, entry: str) -> None:
        home = self.home

        def look() -> tuple[list[HerdLine], list[str]]:
            from herdsync.farm import Farm

            with Farm.open(home.folder, home.wall, by=home.by, known=entry) as farm:
                return farm.herd(every=True), farm.pens()

        lines, pens = await home.hand.do(look)
        self.app.push_screen(KnownPlace(entry, lines, pens))

    def do_check_bytes(self) -> None:
        """Check every stored byte."""
        self.say("Checking every byte...", "dim")
        self.start(self._verify)

    async def _verify(self) -> None:
        told = await self.home.hand.ask(lambda farm: farm.verify())
        self.say(verified(told), "late" if told.faults or told.forks else "good")

    def do_retract(self) -> None:
        """Open the record to take it back there."""
        row = self.lines.current
        if row is not None:
            self.opened(row)

    do_amend = do_retract


class KnownPlace(Place):
    """The herd as one entry and those before it knew it; nothing is written here."""

    place = "trail"
    foot = ("back",)
    BINDINGS = bindings("trail")

    def __init__(self, entry: str, lines: list[HerdLine], pens: list[str]) -> None:
        super().__init__()
        self.entry = entry
        self._known = herd.Herd(lines, pens, {})

    def read(self, farm: Farm) -> herd.Herd:
        """What was read when this was opened."""
        del farm
        return self._known

    def page(self, told: herd.Herd) -> Page:
        """The herd of then."""
        self.say(f"The herd as entry {self.entry[:8]} knew it. esc goes back.", "closing")
        return herd.page(told, self.home.now())

    def opened(self, row: Row) -> None:
        """What is known today of an animal is another place; nothing opens here."""
        self.say(f"{row.name}: as it was known then. esc goes back to today.", "dim")


def _day(text: str, now: datetime, zone: ZoneInfo) -> str:
    return parse_on(text, now, zone)[:10] if text else ""


def verified(told: Verified) -> str:
    """The outcome of checking every byte, in a sentence."""
    found = [
        f"{words.count(told.entries, 'entry', 'entries')} of "
        f"{words.count(told.devices, 'laptop')} checked"
    ]
    found += told.faults[:2] or ["every byte, link and signature is good"]
    found += told.forks[:1]
    if told.unvouched:
        found.append(f"{told.unvouched} not vouched for")
    return "; ".join(found) + "."
