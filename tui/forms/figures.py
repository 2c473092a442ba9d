"""The form for one figure an animal: a weight for each of ten kids, digits and enter."""

from __future__ import annotations

from collections.abc import Iterable

from textual.widget import Widget

from tui import words
from tui.drafts import Draft
from tui.farmhand import Trouble
from tui.forms.entry import Entry
from tui.forms.recording import SALT_BYTES, Names, entry_of, titled
from tui.forms.sheet import Sheet

PER_ANIMAL = "animal "
HELD_TAG = "■MILK apart"
NAME_CUT = 9


class Figures(Sheet):
    """One line an animal, then what all share; a line left blank writes nothing for that animal."""

    keeps = True

    def __init__(self, draft: Draft, names: Names, about: str = "") -> None:
        super().__init__()
        self.about = about
        self.draft = draft
        self.names = names
        self.caution = draft.warned
        self.title_text = titled(draft)
        self._salt = b""

    def lines(self) -> Iterable[Widget]:
        """A figure for each animal, then the fields they share."""
        fields = self.draft.kind.fields
        figure = fields[self.draft.one_figure]
        for id, name in self.draft.animals:
            hint = f"{figure.help} {figure.form.takes}"
            if self.draft.own(id):
                hint = f"Separate pail: her milk is held and is written down as not sold. {hint}"
            label = f"{name[:NAME_CUT]} {HELD_TAG}" if self.draft.own(id) else name
            yield Entry(f"{PER_ANIMAL}{id}", label, hint=hint, of=figure)
        first, _ = self.draft.asked()
        for name in first:
            if name != self.draft.one_figure:
                yield entry_of(fields[name], self.draft.pairs.get(name, ""), self.names)

    async def write(self) -> str:
        """Write a record for each animal that has a figure."""
        given = self.given()
        shared = {name: text for name, text in given.items() if not name.startswith(PER_ANIMAL)}
        figures = {
            id: given[f"{PER_ANIMAL}{id}"]
            for id, _ in self.draft.animals
            if f"{PER_ANIMAL}{id}" in given
        }
        if not figures:
            raise Trouble("No figure was typed. Type one, or leave with esc.")
        subject = self.draft.kind.subject or ""
        tellings = [
            shared | {subject: id, self.draft.one_figure: figure} | self.draft.own(id)
            for id, figure in figures.items()
        ]
        kind, salt = self.draft.kind.name, self._salt or self.home.wall.entropy(SALT_BYTES)
        self._salt = salt
        told = await self.home.hand.ask(lambda farm: farm.record_each(kind, tellings, salt))
        what = words.count(len(figures), self.draft.kind.title)
        said = f"{what[:1].upper()}{what[1:]} written down. u takes all back."
        return words.with_warnings(said, self.unread(told.warnings))
