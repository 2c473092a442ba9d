"""The care plan in words: every item as it counts on this farm, the retired ones last."""

from __future__ import annotations

from collections.abc import Iterator

from herdsync.answers import PlanLine
from herdsync.projections.farm_items import FarmPlan
from herdsync.projections.law_notes import CASTRATION, DISBUDDING, law_note
from herdsync.projections.look import Look
from herdsync.projections.plan import shipped_plan
from herdsync.projections.plan_items import AgeWindow, Item


def plan_lines(found: FarmPlan, look: Look) -> list[PlanLine]:
    """Every item with when it is due, its caution, law and source."""
    lines = [_line(item, look, False) for item in found.plan.items]
    shipped = {item.id: item for item in shipped_plan(found.plan.name).items}
    retired = [shipped[id] for id in found.retired if id in shipped]
    return lines + [_line(item, look, True) for item in retired]


def _line(item: Item, look: Look, retired: bool) -> PlanLine:
    when = "; ".join(_when(item))
    whom = {"pen": "for a pen", "farm": "once for the whole farm"}.get(item.on, "")
    return PlanLine(
        item.id, item.work, ", ".join(filter(None, [when, whom])), item.source, item.caution,
        _law(item, look), retired,
    )  # fmt: skip


def _law(item: Item, look: Look) -> str:
    if item.law == CASTRATION:
        return "by method and age: shown beside the work"
    if item.law == DISBUDDING and not look.settings.country:
        return "set the farm's country to see its law"
    return law_note(item.law, None, look)


def _when(item: Item) -> Iterator[str]:
    """In words when an item is due; exactly one of its ways is set."""
    if item.every is not None:
        yield f"every {item.every.days} days"
    if item.chore:
        yield f"each {' and '.join(item.chore)}"
    for window in item.window:
        yield _window(window)
    if item.after is not None:
        days = ", ".join(str(day) for day in item.after.days)
        days = days or f"{item.after.opens} to {item.after.closes}"
        yield f"{days} days after {item.after.kind.replace('-', ' ')}"
    if item.due_date is not None:
        due = item.due_date
        yield f"around the due date: day {due.opens:+d} to {due.closes:+d}, best {due.best:+d}"
    if item.season is not None:
        yield f"each year from {item.season.opens} to {item.season.closes}"


def _window(window: AgeWindow) -> str:
    unit = "hours" if window.hours else "days"
    weight = f" and {window.needs_kg} kg" if window.needs_kg else ""
    narrowed = [*window.whom.size, *window.whom.sex] if window.whom is not None else []
    whose = f" ({', '.join(narrowed)})" if narrowed else ""
    return f"at {window.opens} to {window.closes} {unit} of age{weight}{whose}"
