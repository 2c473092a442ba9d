"""Whether an item of a care plan holds together; the first thing wrong with it, as a sentence.

Must not know files or any animal.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from msgspec import structs

from herdsync.kinds import CATALOGUE
from herdsync.projections.plan_items import CHORES, FACTS, After, AroundDue, Item, bad

HOLDS = ("milk", "meat", "breeding", "leaving")
DAYS_LIMIT = 10_000
SETTINGS_OF_DAYS = ("hoof-days", "dry-days", "quarantine-days")

_WEIGHT = re.compile(r"\d{1,3}(?:\.\d{1,3})?", re.ASCII)


def check_item(item: Item) -> None:
    """Raise BadBytes unless an item holds together; says which and how to mend it."""
    if len(item.ways) != 1:
        ways = ", ".join(item.ways) or "none"
        raise bad(
            item.id,
            f"needs exactly one of every, chore, window, after, due_date, season; it has {ways}",
        )
    if not item.work or not item.source:
        raise bad(item.id, "needs the words of the work and its source")
    if item.on not in ("animal", "pen", "farm"):
        raise bad(item.id, "is for an animal, a pen or the farm, nothing else")
    if item.on != "animal" and not (item.every or item.chore or item.season):
        raise bad(item.id, f"is for a {item.on}: give it every, chore or season")
    if item.on == "farm" and (item.by or item.pen):
        raise bad(item.id, "is for the whole farm: it has no pen, and a chore done does it")
    if item.met_if and item.met_if not in FACTS:
        raise bad(item.id, f"is met by a fact not known here; known are {', '.join(FACTS)}")
    if item.setting and item.setting not in SETTINGS_OF_DAYS:
        raise bad(item.id, f"takes its days from {item.setting!r}, which is no setting of days")
    for hold in [*item.barred_by, *item.tells_holds]:
        if hold not in HOLDS:
            raise bad(item.id, f"names the hold {hold!r}; known are {', '.join(HOLDS)}")
    for met in [*item.by, *(item.after.until if item.after else [])]:
        _check_met(item.id, met.kind, met.where)
    if bool(item.gentle) != (item.gentle_days is not None):
        raise bad(item.id, "needs both a gentle word and its days, or neither")
    _check_when(item)
    for name in item.presets:
        check_item(structs.replace(item.under(name), presets={}))


def _check_when(item: Item) -> None:
    if any(chore not in CHORES for chore in item.chore):
        raise bad(item.id, f"has a chore that is none of {', '.join(CHORES)}")
    for window in item.window:
        if window.needs_kg and not _WEIGHT.fullmatch(window.needs_kg):
            raise bad(item.id, "needs a weight that is no number of kilograms")
        _check_days(item.id, window.opens, window.best, window.closes, window.lost)
    if item.after is not None:
        _check_met(item.id, item.after.kind, item.after.where)
        _check_met(item.id, item.after.kind, item.after.unless)
        _check_after(item.id, item.after)
    if item.due_date is not None:
        _check_around(item.id, item.due_date)
    if item.season is not None:
        for day in (item.season.opens, item.season.closes):
            month, _, of_month = day.partition("-")
            if not (month.isdigit() and of_month.isdigit() and len(day) == 5):
                raise bad(item.id, "has a season day that is not MM-DD")
            if not (1 <= int(month) <= 12 and 1 <= int(of_month) <= 31):
                raise bad(item.id, "has a season day no calendar has")
        if not 0 <= item.season.back_days <= 366:
            raise bad(item.id, "looks back further than a year")
    if item.every is not None:
        every = item.every
        if every.first_after:
            _check_met(item.id, every.first_after, {})
        if any(not 1 <= month <= 12 for month in every.months):
            raise bad(item.id, "has a month that no year has")
        numbers = (every.days, every.open_before, every.grace, every.first_age_days or 0)
        if not 1 <= every.days <= DAYS_LIMIT or not all(0 <= n <= DAYS_LIMIT for n in numbers):
            raise bad(item.id, f"has days outside 0 to {DAYS_LIMIT}")


def _check_around(id: str, around: AroundDue) -> None:
    bases = (around.opens_from, around.best_from, around.closes_from)
    if any(base not in ("due", "earliest", "latest") for base in bases):
        raise bad(id, "counts from a day that is not due, earliest or latest")
    if len(set(bases)) == 1:
        _check_days(id, around.opens, around.best, around.closes, around.lost)


def _check_after(id: str, after: After) -> None:
    if after.unless_told and after.unless_told not in CATALOGUE[after.kind].fields:
        raise bad(id, f"asks for {after.unless_told!r}, which {after.kind} has not")
    if after.which not in ("latest", "first", "each"):
        raise bad(id, "follows the latest, the first or each act, nothing else")
    if not after.days:
        _check_days(id, after.opens, after.best, after.closes, after.lost)
    elif after.days != sorted(set(after.days)) or not 0 <= after.days[0] <= DAYS_LIMIT:
        raise bad(id, "has a ladder whose days do not rise")
    elif after.days[-1] > DAYS_LIMIT:
        raise bad(id, f"has days over {DAYS_LIMIT}")


def _check_days(id: str, opens: int, best: int | None, closes: int, lost: int | None) -> None:
    told = [opens, *([] if best is None else [best]), closes, *([] if lost is None else [lost])]
    if told != sorted(told):
        raise bad(id, f"has a window whose days do not rise: {told}")
    if not all(abs(day) <= DAYS_LIMIT for day in told):
        raise bad(id, f"has days over {DAYS_LIMIT}")


def _check_met(id: str, kind_name: str, where: Mapping[str, Any]) -> None:
    kind = CATALOGUE.get(kind_name)
    if kind is None:
        raise bad(id, f"names the kind {kind_name!r}, which is not known")
    for key in where:
        for name in key.split("|"):
            if name not in kind.fields:
                raise bad(id, f"names the field {name!r}, which {kind.title} does not have")
