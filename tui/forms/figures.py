"""The form for one figure an animal: a weight for each of ten kids, digits and enter."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.widget import Widget

from tui import words
from tui.drafts import Draft
from tui.forms.entry import Entry
from tui.forms.recording import SALT_BYTES, Names, entry_of, titled
from tui.forms.sheet import Sheet

if TYPE_CHECKING:
    from herdsync.farm import Farm

PER_ANIMAL = "animal "


class Figures(Sheet):
    """One line an animal, then what all share; a line left blank writes nothing for that animal."""

    def __init__(self, draft: Draft, names: Names, about: str = "") -> None:
        super().__init__()
        self.about = about
        self.draft = draft
        self.names = names
        self.caution = draft.warned
        self.title_text = titled(draft)
        self._salts: dict[str, bytes] = {}

    def lines(self) -> Iterable[Widget]:
        """A figure for each animal, then the fields they share."""
        fields = self.draft.kind.fields
        figure = fields[self.draft.one_figure]
        for id, name in self.draft.animals:
            hint = f"{figure.help} {figure.form.takes}"
            yield Entry(f"{PER_ANIMAL}{id}", name, hint=hint)
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
        for id in figures:
            self._salts.setdefault(id, self.home.wall.entropy(SALT_BYTES))
        names = dict(self.draft.animals)

        def record(farm: Farm) -> list[str]:
            warnings: list[str] = []
            for id, figure in figures.items():
                pairs = shared | {self.draft.one_figure: figure}
                told = farm.record(self.draft.kind.name, pairs, [id], self._salts[id])
                warnings += [f"{names[id]}: {one}" for one in told.warnings]
            return warnings

        warnings = await self.home.hand.ask(record)
        what = words.count(len(figures), self.draft.kind.title)
        return " ".join([f"{what[:1].upper()}{what[1:]} written down.", *warnings])
