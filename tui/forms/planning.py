"""The form for an item of the care plan: ``f5`` shows what the change would make due, unwritten."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widgets import Static

from tui.drafts import Draft
from tui.farmhand import Trouble
from tui.forms.recording import Names, Recording
from tui.pages.trial import AHEAD_DAYS, told_short
from tui.text import content
from tui.working import work_on


class PlanItem(Recording):
    """Writes a plan item down, as any record; tried before, nothing of it is kept."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f5", "try", show=False)]

    def __init__(self, draft: Draft, names: Names, about: str = "") -> None:
        super().__init__(draft, names, about)
        self.keys = "enter: next   ctrl+s: write   f5: try it   f6: more fields   esc: leave"

    def action_try(self) -> None:
        """Show what would change."""
        work_on(self, self._try, "looking", alone=True, fatal=True)

    async def _try(self) -> None:
        told = {**self.draft.silent, **self.given()}
        item = told.pop("item", self.draft.pairs.get("item", ""))
        try:
            changes = await self.home.hand.ask(
                lambda farm: farm.preview_plan(item, told, AHEAD_DAYS)
            )
            said = told_short(changes, self.home.now())
        except Trouble as trouble:
            said = str(trouble)
        found = self.query_one("#apart", Static)
        found.update(content(said))
        self.call_after_refresh(found.scroll_visible, animate=False)
