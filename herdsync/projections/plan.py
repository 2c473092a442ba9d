"""The shipped care plans: the strict reading of a plan's file, and which ones there are.

A plan is read as a whole or refused with the sentence of its first fault. Must not know any animal.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from importlib import resources
from typing import Any

import msgspec
from msgspec import Struct

from herdsync.faults import BadBytes
from herdsync.projections.plan_check import check_item
from herdsync.projections.plan_items import Item, Plan, bad


class _File(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A plan as its file tells it: whole, or as the changes it makes to the plan named ``base``."""

    name: str
    title: str
    says: str = ""
    base: str = ""
    item: list[Item] = []
    change: list[dict[str, Any]] = []
    retire: list[str] = []


def read_plan(raw: bytes) -> Plan:
    """A plan from the bytes of its file. Raises BadBytes with the first fault as a sentence.

    The hash of a plan that builds on another covers that one's hash too.
    """
    try:
        file = msgspec.convert(tomllib.loads(raw.decode("utf-8")), _File)
        base = shipped_plan(file.base) if file.base else None
        items = [*_changed(base, file), *file.item] if base is not None else file.item
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, msgspec.ValidationError) as fault:
        raise BadBytes(f"The care plan cannot be read: {fault}.", "Mend that line.") from fault
    seen: set[str] = set()
    for item in items:
        if item.id in seen:
            raise bad(item.id, "stands twice; give one of them another name")
        seen.add(item.id)
        check_item(item)
    signed = raw if base is None else raw + bytes.fromhex(base.hash)
    return Plan(file.name, file.title, tuple(items), hashlib.sha256(signed).hexdigest())


def _changed(base: Plan, file: _File) -> Iterator[Item]:
    """The items of the plan built on, as this file leaves them."""
    changes = {str(change.get("id")): change for change in file.change}
    for name in [*changes, *file.retire]:
        if base.item(name) is None:
            raise bad(name, f"is changed or retired, but {base.name} has no such item")
    for item in base.items:
        if item.id not in file.retire:
            told = msgspec.to_builtins(item) | changes.get(item.id, {})
            yield msgspec.convert(told, Item)


def shipped_plans() -> list[str]:
    """The names of all plans in the package, oldest name first."""
    folder = resources.files(__package__) / "plans"
    return sorted(
        one.name.removesuffix(".toml") for one in folder.iterdir() if one.name.endswith(".toml")
    )


@lru_cache(maxsize=16)
def shipped_plan(name: str) -> Plan:
    """The shipped plan of that name. Raises BadBytes naming those there are."""
    if name not in shipped_plans():
        raise BadBytes(
            f"No care plan is called {name[:60]!r}.", f"Take one of: {', '.join(shipped_plans())}."
        )
    return read_plan((resources.files(__package__) / "plans" / f"{name}.toml").read_bytes())
