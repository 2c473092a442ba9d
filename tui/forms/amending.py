"""The form that tells fields of a record anew; what was told before stays in the trail."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.widget import Widget
from textual.widgets import Static

from herdsync.answers import RecordAnswer
from herdsync.kinds import CATALOGUE
from tui import words
from tui.farmhand import Trouble
from tui.forms.entry import Entry
from tui.forms.recording import Names, entry_of
from tui.forms.sheet import Sheet
from tui.text import content

if TYPE_CHECKING:
    from herdsync.farm import Farm

BECAUSE = "because "


class Amending(Sheet):
    """Every field of the record; only those changed are told, a blank one is cleared."""

    write_word = "Change it"
    keeps = True

    def __init__(self, told: RecordAnswer, names: Names) -> None:
        super().__init__()
        self.told = told
        self.names = names
        self.kind = CATALOGUE.get(told.kind)
        self.title_text = f"Change {told.title}"
        self.caution = self.kind.caution if self.kind is not None else ""
        self._before: dict[str, str] = {}

    def lines(self) -> Iterable[Widget]:
        """A line a field; those in dispute are resolved elsewhere."""
        if self.kind is None:
            yield Static(content("A newer program wrote this; only that one can change it."))
            return
        for name, field in self.kind.fields.items():
            told = self.told.fields.get(name)
            if told is not None and told.disputed:
                yield Static(content(f"  {name.replace('_', ' ')}: disputed, see Conflicts (6)"))
                continue
            if name == self.kind.keyed:
                continue
            shown = told.shown if told is not None else ""
            entry = entry_of(field, shown, self.names)
            self._before[name] = shown
            yield entry
        yield Entry(BECAUSE, "because", hint="Why it is changed; the trail keeps it.")

    def on_mount(self) -> None:
        """What stood there is compared as it was shown."""
        super().on_mount()
        self._before = {entry.field: entry.typing.value.strip() for entry in self.entries}

    async def write(self) -> str:
        """Tell what differs from what was shown."""
        now = {entry.field: entry.text for entry in self.entries}
        because = now.pop(BECAUSE, "")
        changes = [
            f"{name}={text}" for name, text in now.items() if text != self._before.get(name, "")
        ]
        if not changes:
            raise Trouble("Nothing was changed. Type over a line, or leave with esc.")
        fields = {change.partition("=")[0] for change in changes}
        shown = [
            claim.id
            for name in fields & set(self.told.fields)
            for claim in self.told.fields[name].claims
            if claim.stands
        ]

        def amend(farm: Farm) -> list[str]:
            return farm.amend(self.told.id, changes, because, shown).warnings

        warnings = await self.home.hand.ask(amend)
        return words.with_warnings(f"{self.told.title} changed. u takes it back.", warnings)
