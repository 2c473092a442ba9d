"""The care plan: what a change of it would make due, and taking another shipped plan.

A change of one item is tried on the farm itself and taken back whole, so that what is foretold is
what recording it would do.
"""

from __future__ import annotations

from collections.abc import Mapping

from herdsync import answers
from herdsync.acts.acting import Acting
from herdsync.answers import PlanChange
from herdsync.faults import Refused
from herdsync.kinds import kind_named, parse_fields
from herdsync.projections.farm_items import FarmPlan, farm_plan, plan_in_force
from herdsync.projections.herd import Herd
from herdsync.projections.plan import shipped_plan, shipped_plans
from herdsync.projections.preview import preview
from herdsync.projections.settings import settings_of


class _TakenBack(Exception):
    """Ends a trial; everything it wrote is undone with its transaction."""


class Planning(Acting):
    """Trials of the care plan, and its acceptance."""

    def plans(self) -> dict[str, str]:
        """The shipped plans this program has, each with what it is for."""
        return {name: shipped_plan(name).title for name in shipped_plans()}

    def preview_plan(
        self, what: str, changes: Mapping[str, str], days: int | None = None
    ) -> list[PlanChange]:
        """What would become due, go or move: under the shipped plan ``what``, or with the plan item
        ``what`` told so (as `record("plan-item")` reads it). Nothing is written.

        With ``days`` also among what opens within so many days. Raises Refused where the item could
        not count.
        """
        if what in shipped_plans() and not changes:
            with self._herd() as herd:
                before = plan_in_force(herd.records, herd.look.settings)
                after = farm_plan(herd.records, shipped_plan(what))
                return preview(herd, before.plan, after.plan, days)
        if not changes:
            raise Refused(
                f"'{what}' is no shipped plan, and no change of an item was told.",
                f"Name one of: {', '.join(shipped_plans())}; or an item with what is to change, such "
                "as 'hoof-trim every_days=42' or 'lice retired=yes'.",
            )
        return self._tried(dict(changes) | {"item": what}, days)

    def _tried(self, pairs: Mapping[str, str], days: int | None) -> list[PlanChange]:
        found: list[PlanChange] = []
        spec = kind_named("plan-item")
        try:
            with self._writing() as (writing, typed):
                before = plan_in_force(writing.shelf, settings_of(writing.shelf))
                act, _ = self._begin(writing, spec, parse_fields(spec, pairs, typed, partial=False))
                writing.append(act)
                writing.view.fold_in(writing.entries)
                herd = Herd(writing.shelf, settings_of(writing.shelf), self._wall.now())
                after = plan_in_force(writing.shelf, herd.look.settings)
                _refuse_faults(before, after)
                found = preview(herd, before.plan, after.plan, days)
                raise _TakenBack
        except _TakenBack:
            return found

    def accept_plan(self, name: str, because: str = "") -> answers.Recorded:
        """Let a shipped plan count from now on, as it is in this program. Raises Refused."""
        if name not in shipped_plans():
            raise Refused(
                f"No care plan is called {name[:60]!r}.",
                f"Take one of: {', '.join(shipped_plans())}.",
            )
        reason = {"because": because} if because else {}
        told = {"plan": name, "plan-hash": shipped_plan(name).hash}
        return self.record_each(
            "setting", [{"key": key, "value": value} | reason for key, value in told.items()]
        )


def _refuse_faults(before: FarmPlan, after: FarmPlan) -> None:
    new = [fault for fault in after.faults if fault not in before.faults]
    if new:
        raise Refused(new[0], "Nothing was written.")
