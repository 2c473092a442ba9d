"""What a change of the care plan would make due: the work of one look under two plans, compared.

Must not know how a plan is changed or whether it will be.
"""

from __future__ import annotations

from herdsync.answers import DueLine, PlanChange
from herdsync.projections.due import Rounds
from herdsync.projections.herd import Herd
from herdsync.projections.plan_items import Plan

NEW = "new"
GONE = "gone"
MOVED = "moved"


def preview(herd: Herd, before: Plan, after: Plan, days: int | None = None) -> list[PlanChange]:
    """What would come, go or move if ``after`` took the place of ``before``, in walk order.

    With ``days`` what opens within so many days is compared too. Work that only changes its words is
    left out.
    """
    old = {line.id: line for line in Rounds(herd, before).lines(days=days)}
    found = []
    for line in Rounds(herd, after).lines(days=days):
        was = old.pop(line.id, None)
        if was is None:
            found.append(_change(NEW, line, None))
        elif (was.state, was.due) != (line.state, line.due):
            found.append(_change(MOVED, line, was))
    return found + [_change(GONE, line, line) for line in old.values()]


def _change(what: str, line: DueLine, was: DueLine | None) -> PlanChange:
    now = line if what != GONE else None
    return PlanChange(
        what=what,
        animal=line.animal,
        name=line.name,
        pen=line.pen,
        item=line.item,
        work=line.work,
        state_before=was.state if was is not None else "",
        due_before=was.due if was is not None else "",
        state_after=now.state if now is not None else "",
        due_after=now.due if now is not None else "",
        reason=line.reason,
    )
