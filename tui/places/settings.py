"""Settings and the care plan: a line each, changed with enter; reached from Partners."""

from __future__ import annotations

from typing import TYPE_CHECKING

from herdsync.answers import PlanLine, SettingLine
from herdsync.kinds import CATALOGUE
from tui.drafts import Draft
from tui.everywhere import write_down
from tui.forms.asking import Asked, Asking
from tui.pages import settings
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.farm import Farm


class SettingsPlace(Place):
    """A line a setting; enter changes it."""

    place = "partners"
    foot = ("back", "open", "undo")
    BINDINGS = bindings("partners")

    def read(self, farm: Farm) -> list[SettingLine]:
        """The settings."""
        return farm.settings()

    def page(self, told: list[SettingLine]) -> Page:
        """A line each."""
        return settings.settings_page(told)

    def opened(self, row: Row) -> None:
        """Change the setting."""
        line = next(one for one in self.told if one.key == row.name)

        def change(farm: Farm, told: Asked) -> str:
            farm.set(line.key, told["value"], told["because"])
            return f"{line.key} is {told['value']} now. u takes it back."

        questions = (("value", line.key, line.value), ("because", "Why", ""))
        self.home.ask(self, Asking(line.help, questions, change, word="Set it"))


class PlanPlace(Place):
    """A line an item of the care plan; enter changes it."""

    place = "partners"
    foot = ("back", "open", "record", "undo")
    BINDINGS = bindings("partners")

    def read(self, farm: Farm) -> list[PlanLine]:
        """The care plan."""
        return farm.plan()

    def page(self, told: list[PlanLine]) -> Page:
        """A line each."""
        return settings.plan_page(told)

    def opened(self, row: Row) -> None:
        """Change the item: retire it, or give it other days."""
        line = next(one for one in self.told if one.id == row.name)
        draft = Draft(CATALOGUE["plan-item"], {"item": line.id}, [], line.caution, line.work)
        self.start(self._change(draft))

    async def _change(self, draft: Draft) -> None:
        await write_down(self, draft)
