"""Taking records from a table (CSV): tried first, line by line, then written when the keeper says so."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual.widget import Widget
from textual.widgets import Static

from herdsync.kinds import CATALOGUE
from tui import words
from tui.forms.entry import Entry
from tui.forms.sheet import Sheet
from tui.text import content

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.places.place import Place

REFUSED_SHOWN = 12
WARNINGS_SHOWN = 6
HINTS = {
    "file": "A table saved as CSV: the first line names the columns, such as name, sex, born, dam.",
    "kind": "What each line is.",
    "dates": "The order of day and month where dates are not written as 2026-02-22: ymd, dmy, mdy.",
    "parents": "Whether parents nobody knows yet are written as animals outside the herd: yes or no.",
}


def take(farm: Farm, told: dict[str, str], *, dry_run: bool) -> Any:
    """Take, or only try, the lines of the file told."""
    return farm.import_sheet(
        Path(told["file"]).expanduser(), told["kind"] or "animal", dates=told["dates"],
        add_parents=told["parents"].casefold().startswith("y"), dry_run=dry_run,
    )  # fmt: skip


class Naming(Sheet):
    """Which file, of what kind; nothing is written here."""

    title_text = "Records from a table (CSV)"
    about = (
        "The file is tried first: you see what stands and what does not before anything is written."
    )
    write_word = "Try it"
    keys = "enter: next line   ctrl+s: try it   esc: leave, nothing is written"

    def __init__(self) -> None:
        super().__init__()
        self.told: dict[str, str] = {}
        self.tried: Any = None

    def lines(self) -> Iterable[Widget]:
        """File, kind, dates, parents."""
        for name, label, first in (
            ("file", "File", ""), ("kind", "Kind", "animal"), ("parents", "Write parents", "yes"),
            ("dates", "Order of dates", ""),
        ):  # fmt: skip
            kinds = list(CATALOGUE) if name == "kind" else []
            yield Entry(name, label, value=first, hint=HINTS[name], choices=kinds)

    async def write(self) -> str:
        """Try it."""
        self.told = {"file": "", "kind": "", "dates": "", "parents": ""} | self.given()
        self.tried = await self.home.hand.ask(lambda farm: take(farm, self.told, dry_run=True))
        return "tried"


class Tried(Sheet):
    """What a try came to; pressing writes it."""

    keys = "enter or ctrl+s: write what stands   esc: leave, nothing is written"

    def __init__(self, naming: Naming, tried: Any) -> None:
        super().__init__()
        self._naming, self._tried = naming, tried
        self.title_text = f"Tried: {tried.file}"
        self.about = summed(tried)
        self.write_word = f"Write {words.count(tried.written, 'record')}"

    def lines(self) -> Iterable[Widget]:
        """Columns, then what was refused, then what to know."""
        yield Static(content(report(self._tried)), id="told")

    async def write(self) -> str:
        """Write what stands."""
        told = self._naming.told
        done = await self.home.hand.ask(lambda farm: take(farm, told, dry_run=False))
        return f"{summed(done)} Lines that were refused can be mended in the file and taken again."


def summed(told: Any) -> str:
    """Lines, records and refusals in one sentence."""
    would = "would be " if told.dry_run else ""
    return (
        f"{words.count(told.lines, 'line')}: {words.count(told.written, 'record')} {would}written, "
        f"{told.here} here already, {told.refused_lines} refused."
    )


def report(told: Any) -> str:
    """How the columns were read, which lines were refused and why, what to know."""
    taken = [f"{one.heading} → {one.field}" for one in told.columns if one.field]
    left = [one.heading for one in told.columns if not one.field]
    lines = [f"Columns: {', '.join(taken)}."] if taken else []
    lines += [f"Left out: {', '.join(left)}."] if left else []
    lines += [f"Line {one.line}: {one.why}" for one in told.refused[:REFUSED_SHOWN]]
    more = told.refused_lines - min(REFUSED_SHOWN, len(told.refused))
    lines += [f"and {more} more refused: 'herdsync import' lists them all."] if more else []
    return "\n".join([*lines, *told.warnings[:WARNINGS_SHOWN]])


async def import_table(place: Place) -> None:
    """Name a file, see what it would bring, write it."""
    naming = Naming()
    if await place.home.push_screen_wait(naming) is None or naming.tried is None:
        return
    said = await place.home.push_screen_wait(Tried(naming, naming.tried))
    if said is not None:
        place.say(said)
        place.reload()
