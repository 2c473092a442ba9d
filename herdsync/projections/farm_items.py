"""The farm's own care-plan items: records that add to a shipped plan, change it or retire from it.

An item that cannot hold together is left out and named; a shipped one keeps counting as shipped.
"""

from __future__ import annotations

from dataclasses import dataclass

from msgspec import structs

from herdsync.faults import BadBytes
from herdsync.kinds.ids import text_id
from herdsync.merge.records import Record, Records
from herdsync.projections.plan import shipped_plan
from herdsync.projections.plan_check import check_item
from herdsync.projections.plan_items import Item, Plan, bad
from herdsync.projections.settings import DEFAULT_PLAN, Settings
from herdsync.projections.told_items import plain_of, when_of, whom_of

OWN_SOURCE = "this farm's own item"


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
            f"Look through it, then accept it: herdsync plan --accept {shipped.name}",
        )
    found = farm_plan(records, shipped)
    return FarmPlan(found.plan, faults + found.faults, found.retired)


def farm_plan(records: Records, shipped: Plan) -> FarmPlan:
    """The shipped plan with the farm's own items worked in, in the plan's order, own ones last."""
    told = {str(record.value("item")): record for record in records.of_kind("plan-item")}
    if not told:
        return FarmPlan(shipped, (), ())
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
        preset = record.value("preset")
        begun = item.under(str(preset)) if preset else item
        changed = structs.replace(begun, **plain_of(record), **when_of(record, begun))
        changed = structs.replace(
            changed, whom=whom_of(record, item.whom), pen=_narrowed(item, record)
        )
        check_item(changed)
    except (BadBytes, ValueError) as fault:
        faults.append(f"{_told(item.id, fault)} The item counts as shipped.")
        return item
    return changed


def _narrowed(item: Item, record: Record) -> str:
    """The one pen that a shipped item for pens is narrowed to; as shipped where none is told."""
    pen = record.value("pen")
    if not isinstance(pen, bytes):
        return item.pen
    if item.on != "pen":
        raise bad(item.id, "is not for pens, so none can be told; say whom by sex, age or group")
    return text_id(pen)


def _own(record: Record, faults: list[str]) -> list[Item]:
    id = str(record.value("item"))
    pen = record.value("pen")
    begun = Item(
        id=id,
        work=str(record.value("title") or id),
        on=_place(record),
        pen=text_id(pen) if isinstance(pen, bytes) else "",
        source=str(record.value("source") or OWN_SOURCE),
    )
    try:
        begun = structs.replace(begun, whom=whom_of(record, begun.whom))
        item = structs.replace(begun, **plain_of(record), **when_of(record, begun))
        check_item(item)
    except (BadBytes, ValueError) as fault:
        faults.append(f"{_told(id, fault)} It does not count until then.")
        return []
    return [item]


def _place(record: Record) -> str:
    """What an own item is for."""
    if record.value("whole_farm"):
        return "farm"
    at_pen = isinstance(record.value("pen"), bytes) or record.value("quarantine") is not None
    return "pen" if at_pen else "animal"


def _told(id: str, fault: Exception) -> str:
    """The fault as a sentence naming the item."""
    return str(fault) if isinstance(fault, BadBytes) else str(bad(id, f"cannot be read: {fault}"))
