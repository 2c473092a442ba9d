"""The sheet of one newborn kid: the animal itself, its weight at birth and its first colostrum in one go."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.widget import Widget
from textual.widgets import Static

from herdsync.kinds import CATALOGUE
from tui import words
from tui.drafts import Draft
from tui.forms.entry import Entry
from tui.forms.recording import SALT_BYTES, Names, Recording, entry_of

if TYPE_CHECKING:
    from herdsync.farm import Farm

FIRST = (
    "sex", "name", "birth_order", "presentation", "birth_help", "horns_born", "born", "sire", "breed",
    "kept_as",
)  # fmt: skip
WEIGHT, COLOSTRUM, PEN = "weight_kg", "colostrum_ml", "pen"
# What the farm says of a kid written down without a pen: here its pen is written right after it.
NO_PEN_YET = "stands in no pen yet"
NEWBORN = (
    "! A weak or cold kid is warmed first and fed after; tube feeding only by someone trained. Call the "
    "veterinarian for a kid that does not suck."
)


class Kid(Recording):
    """Writes the kid down, then what it weighed and drank and where it stands, each a record of its own.

    ``pen``: where its dam stands; it stands there from its birth on, unless the keeper says otherwise.
    """

    def __init__(self, draft: Draft, names: Names, pen: str = "") -> None:
        super().__init__(draft, names, NEWBORN)
        self._pen = pen
        self.keys = (
            "enter: next   ctrl+s: write   f6: more fields   esc: no further kid is written down"
        )
        self._salts: dict[str, bytes] = {}

    def lines(self) -> Iterable[Widget]:
        """What is seen at a birth first; weight and colostrum among it; the rest behind f6."""
        fields = self.draft.kind.fields
        weight = CATALOGUE["weighing"].fields["weight_kg"]
        for name in FIRST:
            yield entry_of(fields[name], self.draft.pairs.get(name, ""), self.names)
            if name == "born":
                yield Entry(
                    PEN, "pen", value=self._pen, choices=self.names.get("pen", []),
                    hint="Where it stands since its birth; blank: not told.",
                )  # fmt: skip
            if name == "birth_order":
                yield Entry(
                    WEIGHT, "weight at birth (kg)", hint=f"{weight.help} {weight.form.takes}"
                )
                yield Entry(
                    COLOSTRUM, "colostrum so far (mL)", hint="What it drank or was given until now."
                )
        silent = self.draft.silent
        for name in fields:
            if name not in FIRST and name not in silent:
                entry = entry_of(fields[name], self.draft.pairs.get(name, ""), self.names)
                entry.display = False
                yield entry
        yield Static("", id="apart")

    def given(self) -> dict[str, str]:
        """What was typed of the animal itself."""
        told = super().given()
        return {name: text for name, text in told.items() if name not in (WEIGHT, COLOSTRUM, PEN)}

    def unread(self, warnings: Iterable[str]) -> list[str]:
        """What is new to the keeper, but for what its pen mends right after."""
        penned = PEN in super().given()
        return [one for one in super().unread(warnings) if not (penned and NO_PEN_YET in one)]

    async def write(self) -> str:
        """The kid, then its weight, its colostrum and its pen; what was written once is not written again."""
        said = await super().write()
        kid = self.recorded.id
        told = super().given()
        born = self.draft.pairs.get("born", "")
        on = {"on": told.get("born", born)} if told.get("born", born) else {}
        warnings: list[str] = []
        if told.get(WEIGHT):
            weighed = {"weight_kg": told[WEIGHT], "how": "scale"} | on
            warnings += await self._also("weighing", weighed, kid)
        if told.get(COLOSTRUM):
            fed = {"what": "colostrum", "amount_ml": told[COLOSTRUM]} | on
            warnings += await self._also("feeding", fed, kid)
        if told.get(PEN):
            warnings += await self._also("pen-move", {"pen": told[PEN]} | on, kid)
        return words.with_warnings(said, self.unread(warnings))

    async def _also(self, kind: str, pairs: dict[str, str], kid: str) -> list[str]:
        salt = self._salts.setdefault(kind, self.home.wall.entropy(SALT_BYTES))

        def record(farm: Farm) -> list[str]:
            return farm.record(kind, pairs, [kid], salt).warnings

        return await self.home.hand.ask(record)
