"""Partners: laptops, exchange, admission, settings, care plan, backup, checking every byte."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from herdsync.answers import Admission, PlanLine, SettingLine
from herdsync.kinds import CATALOGUE
from tui import words
from tui.drafts import Draft
from tui.everywhere import write_down
from tui.forms.asking import Asked, Asking
from tui.pages import partners
from tui.pages.page import Page, Row
from tui.places.place import Place, bindings
from tui.places.trail import verified

if TYPE_CHECKING:
    from herdsync.farm import Farm


class PartnersPlace(Place):
    """A line a laptop."""

    place = "partners"
    foot = ("exchange", "admit", "settings", "plan", "backup", "check-bytes", "who")
    BINDINGS = bindings("partners")

    def read(self, farm: Farm) -> partners.Partners:
        """The laptops."""
        return partners.read(farm)

    def page(self, told: partners.Partners) -> Page:
        """A line each."""
        return partners.page(told, self.home.now())

    def opened(self, row: Row) -> None:
        """What a laptop wrote stands in the trail."""
        self.say(f"7 shows the trail; n there narrows it to '{row.name}'.", "dim")

    def do_admit(self) -> None:
        """See who waits, and let in whom the code proves."""

        def admit(farm: Farm, told: Asked) -> str:
            self.home.carrier = told["carrier"]
            carrier = str(Path(told["carrier"]).expanduser())
            return admitted(farm.admit(carrier, told["code"], told["role"] or "keeper"))

        questions = (
            ("carrier", "Folder or stick", self.home.carrier),
            ("code", "The code they read out", ""),
            ("role", "Role", "keeper"),
        )
        hint = "Roles: keeper, helper, reader. Without a code this only shows who waits."
        form = Asking("Let a partner's laptop in", questions, admit, word="Let in", hint=hint)
        self.home.ask(self, form)

    def do_settings(self) -> None:
        """The farm's settings."""
        self.app.push_screen(SettingsPlace())

    def do_plan(self) -> None:
        """The care plan."""
        self.app.push_screen(PlanPlace())

    def do_backup(self) -> None:
        """Write the farm to one file."""

        def back_up(farm: Farm, told: Asked) -> str:
            backed = farm.backup(Path(told["file"]).expanduser())
            return f"{words.count(backed.entries, 'entry', 'entries')} written to {backed.file}."

        questions = (("file", "Write it to", "herdsync-backup.db"),)
        hint = "The backup holds no key: it opens to read, and joins afresh to write."
        self.home.ask(self, Asking("Back the farm up", questions, back_up, hint=hint))

    def do_check_bytes(self) -> None:
        """Check every stored byte."""
        self.say("Checking every byte...", "dim")
        self.start(self._verify())

    async def _verify(self) -> None:
        told = await self.home.hand.ask(lambda farm: farm.verify())
        self.say(verified(told), "late" if told.faults or told.forks else "good")


def admitted(told: Admission) -> str:
    """Who came in and who waits."""
    said = [f"Let in: {one.keeper} at {one.device}." for one in told.admitted]
    said += [f"Waiting: {one.keeper} at {one.device}." for one in told.waiting]
    return " ".join(said) or "Nobody waits on that carrier."


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
        return partners.settings_page(told)

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
        return partners.plan_page(told)

    def opened(self, row: Row) -> None:
        """Change the item: retire it, or give it other days."""
        line = next(one for one in self.told if one.id == row.name)
        draft = Draft(CATALOGUE["plan-item"], {"item": line.id}, [], line.caution, line.work)
        self.start(self._change(draft))

    async def _change(self, draft: Draft) -> None:
        await write_down(self, draft)
