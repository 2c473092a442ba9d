"""The farm's own care-plan items: records that add to a shipped plan, change it or retire from it.

An item that cannot hold together is left out and named; a shipped one keeps counting as shipped.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from msgspec import structs

from herdsync.faults import BadBytes
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record, Records
from herdsync.projections.plan import (
    CHORES,
    After,
    AgeWindow,
    AroundDue,
    Every,
    Item,
    Met,
    Plan,
    Season,
    Whom,
    check_item,
    shipped_plan,
)
from herdsync.projections.settings import DEFAULT_PLAN, Settings

DUE_DATE = "due-date"
OWN_SOURCE = "this farm's own item"

_SEX = {"male": ["buck"], "wether": ["buck"]}
_WINDOW_FIELDS = ("opens_days", "best_days", "closes_days")


@dataclass(frozen=True)
class FarmPlan:
    """The plan as it counts on this farm, with a sentence for each own item that cannot."""

    plan: Plan
    faults: tuple[str, ...]
    retired: tuple[str, ...]


def plan_in_force(records: Records, settings: Settings) -> FarmPlan:
    """The plan the farm has set, with its own items; a plan this program lacks is said, not fatal."""
    faults: tuple[str, ...] = ()
    try:
        shipped = shipped_plan(settings.plan)
    except BadBytes as fault:
        shipped = shipped_plan(DEFAULT_PLAN)
        faults = (f"{fault} Until then {DEFAULT_PLAN} counts.",)
    if settings.plan_hash and settings.plan_hash != shipped.hash and not faults:
        faults = (
            f"The care plan {shipped.name} is not, byte for byte, the one this farm accepted. "
            "Look through it and set plan-hash anew.",
        )
    found = farm_plan(records, shipped)
    return FarmPlan(found.plan, faults + found.faults, found.retired)


def farm_plan(records: Records, shipped: Plan) -> FarmPlan:
    """The shipped plan with the farm's own items worked in, in the plan's order, own ones last."""
    told = {str(record.value("item")): record for record in records.of_kind("plan-item")}
    items: list[Item] = []
    faults: list[str] = []
    retired: list[str] = []
    for item in shipped.items:
        record = told.pop(item.id, None)
        if record is not None and record.value("retired"):
            retired.append(item.id)
            continue
        items.append(item if record is None else _mended(item, record, faults))
    for _, record in sorted(told.items()):
        if not record.value("retired"):
            items += _own(record, faults)
    plan = Plan(shipped.name, shipped.title, tuple(items), shipped.hash)
    return FarmPlan(plan, tuple(faults), tuple(retired))


def _mended(item: Item, record: Record, faults: list[str]) -> Item:
    """A shipped item with the fields a record tells in place of the shipped ones."""
    try:
        changed = structs.replace(item, **_plain(record), **_when(record, item))
        changed = structs.replace(changed, whom=_whom(record, item.whom))
        check_item(changed)
    except (BadBytes, ValueError) as fault:
        faults.append(f"{fault} The item counts as shipped.")
        return item
    return changed


def _own(record: Record, faults: list[str]) -> list[Item]:
    id = str(record.value("item"))
    pen = record.value("pen")
    title = str(record.value("title") or id)
    begun = Item(
        id=id,
        work=title,
        on="pen" if isinstance(pen, bytes) else "animal",
        pen=text_id(pen) if isinstance(pen, bytes) else "",
        source=str(record.value("source") or OWN_SOURCE),
        whom=_whom(record, Whom()),
    )
    try:
        item = structs.replace(begun, **_plain(record), **_when(record, begun))
        check_item(item)
    except (BadBytes, ValueError) as fault:
        faults.append(f"{fault} It does not count until then.")
        return []
    return [item]


def _plain(record: Record) -> dict[str, Any]:
    """Words, kind and notes of an item as a record tells them."""
    found: dict[str, Any] = {}
    for field, name in (("title", "work"), ("caution", "caution"), ("source", "source")):
        if record.value(field):
            found[name] = str(record.value(field))
    if record.value("law"):
        found["law"] = str(record.value("law"))
    if record.value("kind"):
        found["by"] = [Met(kind=str(record.value("kind")))]
    return found


def _whom(record: Record, shipped: Whom) -> Whom:
    told: dict[str, Any] = {}
    sex = record.value("sex")
    if sex is not None:
        told["sex"] = _SEX.get(str(sex), [str(sex)])
        told["wether"] = True if sex == "wether" else None
        told["entire"] = True if sex == "buck" else None
    for field, name in (("horns", "heads"), ("kept_as", "kept_as"), ("size", "size")):
        if record.value(field) is not None:
            told[name] = [str(record.value(field))]
    if record.value("groups"):
        told["groups"] = [str(group) for group in record.value("groups")]
    for field in ("in_milk", "from_age_days", "to_age_days"):
        if record.value(field) is not None:
            told[field] = record.value(field)
    return structs.replace(shipped, **told)


def _when(record: Record, item: Item) -> dict[str, Any]:
    """The one way of ``when`` a record tells; empty where it leaves the shipped one."""
    nothing: dict[str, Any] = {
        "every": None, "chore": [], "window": [], "after": None, "due_date": None, "season": None,
        "setting": "",
    }  # fmt: skip
    days = {name: record.value(name) for name in _WINDOW_FIELDS}
    if record.value("every_days") is not None:
        first = item.every.first_age_days if item.every is not None else None
        grace = item.every.grace if item.every is not None else 0
        every = Every(days=record.value("every_days"), first_age_days=first, grace=grace)
        return nothing | {"every": every}
    if record.value("chore") is not None:
        chore = str(record.value("chore"))
        return nothing | {"chore": list(CHORES) if chore == "both" else [chore]}
    if record.value("season_from") and record.value("season_to"):
        season = Season(opens=record.value("season_from"), closes=record.value("season_to"))
        return nothing | {"season": season}
    if all(value is None for value in days.values()):
        return {}
    return nothing | _window(record, item, days)


def _window(record: Record, item: Item, days: Mapping[str, int | None]) -> dict[str, Any]:
    """A window told by a record: about birth, about another act, or about the due date."""
    opens = days["opens_days"] if days["opens_days"] is not None else days["best_days"] or 0
    best = days["best_days"]
    closes = days["closes_days"]
    if closes is None:
        closes = max(opens, best if best is not None else opens)
    after = record.value("after")
    if after == DUE_DATE or (after is None and item.due_date is not None):
        aim = best if best is not None else opens
        return {"due_date": AroundDue(opens=opens, best=aim, closes=closes)}
    shipped = item.after.kind if item.after is not None else None
    if after is not None or shipped is not None:
        kind = str(after or shipped)
        return {"after": After(kind=kind, opens=opens, best=best, closes=closes)}
    return {"window": [AgeWindow(opens=opens, best=best, closes=closes)]}
