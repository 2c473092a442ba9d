"""Settings and the care plan: a line each, changed with enter; reached from Partners."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import PlanLine, SettingLine
from herdsync.kinds import CATALOGUE
from tui.drafts import Draft
from tui.everywhere import write_down
from tui.forms.asking import Asked, Asking
from tui.forms.choosing import Choosing, Option
from tui.pages import settings, trial
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings

if TYPE_CHECKING:
    from herdsync.answers import PlanChange
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
    foot = ("back", "open", "trial", "record", "undo")
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
        self.start(partial(self._change, draft))

    async def _change(self, draft: Draft) -> None:
        await write_down(self, draft)

    def do_trial(self) -> None:
        """Choose a shipped plan and see what it would make due."""
        self.start(self._choose)

    async def _choose(self) -> None:
        plans = await self.home.hand.ask(lambda farm: farm.plans())
        options = [Option(name, name, says) for name, says in plans.items()]
        chosen = await self.home.push_screen_wait(Choosing("See which care plan?", options))
        if chosen is not None:
            await self.app.push_screen(TrialPlace(chosen.id))


class TrialPlace(Place):
    """What another shipped plan would make due; nothing is written until it is taken."""

    place = "partners"
    foot = ("back", "take-plan", "undo")
    BINDINGS = bindings("partners")

    def __init__(self, plan: str) -> None:
        super().__init__()
        self.plan = plan

    def read(self, farm: Farm) -> list[PlanChange]:
        """What would come, move or go."""
        return farm.preview_plan(self.plan, {}, trial.AHEAD_DAYS)

    def page(self, told: list[PlanChange]) -> Page:
        """A line each."""
        return trial.trial_page(self.plan, told, self.home.now())

    def do_take_plan(self) -> None:
        """Let it count, with the reason."""
        plan = self.plan

        def take(farm: Farm, told: Asked) -> str:
            farm.accept_plan(plan, told["because"])
            return f"The care plan {plan} counts from now on. u takes it back."

        about = trial.counted(self.told)
        form = Asking(
            f"Let the plan {plan} count",
            (("because", "Why", ""),),
            take,
            about=about,
            word="Take it",
        )
        self.home.ask(self, form)
