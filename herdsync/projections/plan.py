"""The care plan as data: its shapes, and the strict reading of a shipped plan.

A plan is read as a whole or refused with the sentence of its first fault. Must not know any animal.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib import resources
from typing import Any

import msgspec
from msgspec import Struct

from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE

MORNING, MIDDAY, EVENING, NIGHT = CHORES = ("morning", "midday", "evening", "night")
HOLDS = ("milk", "meat", "breeding", "leaving")
DAYS_LIMIT = 10_000
APART, TATTOOED = FACTS = ("apart", "tattooed")
_WEIGHT = re.compile(r"\d{1,3}(?:\.\d{1,3})?", re.ASCII)
SETTINGS_OF_DAYS = ("hoof-days", "dry-days")


class Whom(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Whom an item is for; what is left out does not matter. Lists: any of these.

    ``sex`` as born; ``entire`` and ``wether`` as castrations tell; ``heads`` as they are now.
    """

    sex: list[str] = []
    entire: bool | None = None
    wether: bool | None = None
    from_age_days: int | None = None
    to_age_days: int | None = None
    horns_born: list[str] = []
    heads: list[str] = []
    in_milk: bool | None = None
    bred: bool | None = None
    kidded: bool | None = None
    suckles: bool | None = None
    weaned: bool | None = None
    covered: bool | None = None
    kept_as: list[str] = []
    not_kept_as: list[str] = []
    size: list[str] = []
    groups: list[str] = []
    standing: tuple[str, ...] = ("here",)


class Met(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """An act that does the work: its kind, and what its fields must hold.

    A key of ``where`` names a field, or several with ``|`` of which one must hold; the value is
    one allowed value or a list of them. ``of`` matches a procedure by its kind or its record.
    """

    kind: str
    where: dict[str, str | bool | int | list[str | bool | int]] = {}


class Every(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Every so many days after the last such act; first at an age.

    ``worm_days`` counts instead in the months the farm has set for worms. It may be done
    ``open_before`` days early and is late after ``grace`` days (``first_grace`` the first time).
    """

    days: int
    worm_days: int | None = None
    first_age_days: int | None = None
    open_before: int = 0
    grace: int = 0
    first_grace: int | None = None


class AgeWindow(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Days (or hours) of age, both ends included; after ``lost`` the work is missed.

    ``whom`` narrows one of several windows of an item; the first that fits counts.
    """

    opens: int
    best: int | None = None
    closes: int
    lost: int | None = None
    hours: bool = False
    needs_kg: str = ""
    whom: Whom | None = None


class After(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Days after another act: a ladder of ``days``, or one window.

    ``which``: the latest, the first, or each such act counts. ``until``: acts that end it.
    """

    kind: str
    where: dict[str, str | bool | int | list[str | bool | int]] = {}
    which: str = "latest"
    days: list[int] = []
    opens: int = 0
    best: int | None = None
    closes: int = 0
    lost: int | None = None
    until: list[Met] = []


class AroundDue(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Days before (negative) or after a doe's due date, or the earliest or latest day she may kid.

    ``opens_from``, ``best_from`` and ``closes_from`` say which: due, earliest or latest.
    """

    opens: int
    best: int
    closes: int
    lost: int | None = None
    opens_from: str = "due"
    best_from: str = "due"
    closes_from: str = "due"


class Season(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A part of the year, both ends included, as ``MM-DD``; it may run over new year."""

    opens: str
    closes: str


class Item(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One piece of work the plan asks for. Exactly one of the six ways of ``when`` is set.

    ``by``: the acts that do it, the one to record first; a ``chore-done`` of its id always does.
    ``setting``: the farm setting that gives its days. ``met_if``: a derived fact that does it.
    ``watch``: a time to keep an eye open, over when it is over. ``missed_days``: so long after its
    last chance missed work is still told. ``tells_holds``: holds said beside
    it; ``barred_by``: holds that forbid it. ``law`` is text, or the name of a table of country law.
    """

    id: str
    work: str
    by: list[Met] = []
    on: str = "animal"
    pen: str = ""
    whom: Whom = Whom()
    every: Every | None = None
    chore: list[str] = []
    window: list[AgeWindow] = []
    after: After | None = None
    due_date: AroundDue | None = None
    season: Season | None = None
    quarantine: bool | None = None
    setting: str = ""
    met_if: str = ""
    barred_by: list[str] = []
    tells_holds: list[str] = []
    says: str = ""
    caution: str = ""
    law: str = ""
    source: str
    hazard: bool = False
    watch: bool = False
    held_work: str = ""
    gentle: str = ""
    gentle_days: int | None = None
    missed_days: int = 28

    @property
    def ways(self) -> list[str]:
        """The ways of ``when`` that are set."""
        found = {
            "every": self.every, "chore": self.chore, "window": self.window, "after": self.after,
            "due_date": self.due_date, "season": self.season,
        }  # fmt: skip
        return [name for name, told in found.items() if told]

    @property
    def kind(self) -> str:
        """The kind of record that does the work."""
        return self.by[0].kind if self.by else "chore-done"


class Plan(Struct, frozen=True):
    """A care plan: ``hash`` is the SHA-256 (hex) of its bytes as shipped, without farm items."""

    name: str
    title: str
    items: tuple[Item, ...]
    hash: str

    def item(self, id: str) -> Item | None:
        """The item of that name."""
        return next((item for item in self.items if item.id == id), None)


class _File(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    name: str
    title: str
    says: str = ""
    item: list[Item]


def read_plan(raw: bytes) -> Plan:
    """A plan from the bytes of its file. Raises BadBytes with the first fault as a sentence."""
    try:
        told = tomllib.loads(raw.decode("utf-8"))
        file = msgspec.convert(told, _File)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, msgspec.ValidationError) as fault:
        raise BadBytes(f"The care plan cannot be read: {fault}.", "Mend that line.") from fault
    seen: set[str] = set()
    for item in file.item:
        if item.id in seen:
            raise _bad(item.id, "stands twice; give one of them another name")
        seen.add(item.id)
        check_item(item)
    return Plan(file.name, file.title, tuple(file.item), hashlib.sha256(raw).hexdigest())


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


def check_item(item: Item) -> None:
    """Raise BadBytes unless an item holds together; says which and how to mend it."""
    if len(item.ways) != 1:
        ways = ", ".join(item.ways) or "none"
        raise _bad(
            item.id,
            f"needs exactly one of every, chore, window, after, due_date, season; it has {ways}",
        )
    if not item.work or not item.source:
        raise _bad(item.id, "needs the words of the work and its source")
    if item.on not in ("animal", "pen"):
        raise _bad(item.id, "is for an animal or a pen, nothing else")
    if item.on == "pen" and not (item.every or item.chore or item.season):
        raise _bad(item.id, "is for a pen: give it every, chore or season")
    if item.met_if and item.met_if not in FACTS:
        raise _bad(item.id, f"is met by a fact not known here; known are {', '.join(FACTS)}")
    if item.setting and item.setting not in SETTINGS_OF_DAYS:
        raise _bad(item.id, f"takes its days from {item.setting!r}, which is no setting of days")
    for hold in [*item.barred_by, *item.tells_holds]:
        if hold not in HOLDS:
            raise _bad(item.id, f"names the hold {hold!r}; known are {', '.join(HOLDS)}")
    for met in [*item.by, *(item.after.until if item.after else [])]:
        _check_met(item.id, met.kind, met.where)
    _check_when(item)


def _check_when(item: Item) -> None:
    if any(chore not in CHORES for chore in item.chore):
        raise _bad(item.id, f"has a chore that is none of {', '.join(CHORES)}")
    for window in item.window:
        if window.needs_kg and not _WEIGHT.fullmatch(window.needs_kg):
            raise _bad(item.id, "needs a weight that is no number of kilograms")
        _check_days(item.id, window.opens, window.best, window.closes, window.lost)
    if item.after is not None:
        _check_met(item.id, item.after.kind, item.after.where)
        _check_after(item.id, item.after)
    if item.due_date is not None:
        _check_around(item.id, item.due_date)
    if item.season is not None:
        for day in (item.season.opens, item.season.closes):
            month, _, of_month = day.partition("-")
            if not (month.isdigit() and of_month.isdigit() and len(day) == 5):
                raise _bad(item.id, "has a season day that is not MM-DD")
            if not (1 <= int(month) <= 12 and 1 <= int(of_month) <= 31):
                raise _bad(item.id, "has a season day no calendar has")
    if item.every is not None:
        every = item.every
        numbers = (every.days, every.open_before, every.grace, every.first_age_days or 0)
        if not 1 <= every.days <= DAYS_LIMIT or not all(0 <= n <= DAYS_LIMIT for n in numbers):
            raise _bad(item.id, f"has days outside 0 to {DAYS_LIMIT}")


def _check_around(id: str, around: AroundDue) -> None:
    bases = (around.opens_from, around.best_from, around.closes_from)
    if any(base not in ("due", "earliest", "latest") for base in bases):
        raise _bad(id, "counts from a day that is not due, earliest or latest")
    if len(set(bases)) == 1:
        _check_days(id, around.opens, around.best, around.closes, around.lost)


def _check_after(id: str, after: After) -> None:
    if after.which not in ("latest", "first", "each"):
        raise _bad(id, "follows the latest, the first or each act, nothing else")
    if not after.days:
        _check_days(id, after.opens, after.best, after.closes, after.lost)
    elif after.days != sorted(set(after.days)) or not 0 <= after.days[0] <= DAYS_LIMIT:
        raise _bad(id, "has a ladder whose days do not rise")
    elif after.days[-1] > DAYS_LIMIT:
        raise _bad(id, f"has days over {DAYS_LIMIT}")


def _check_days(id: str, opens: int, best: int | None, closes: int, lost: int | None) -> None:
    told = [opens, *([] if best is None else [best]), closes, *([] if lost is None else [lost])]
    if told != sorted(told):
        raise _bad(id, f"has a window whose days do not rise: {told}")
    if not all(abs(day) <= DAYS_LIMIT for day in told):
        raise _bad(id, f"has days over {DAYS_LIMIT}")


def _check_met(id: str, kind_name: str, where: Mapping[str, Any]) -> None:
    kind = CATALOGUE.get(kind_name)
    if kind is None:
        raise _bad(id, f"names the kind {kind_name!r}, which is not known")
    for key in where:
        for name in key.split("|"):
            if name not in kind.fields:
                raise _bad(id, f"names the field {name!r}, which {kind.title} does not have")


def _bad(id: str, what: str) -> BadBytes:
    return BadBytes(f"The item {id[:60]!r} of the care plan {what}.", "Mend it there.")
