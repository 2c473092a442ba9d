"""What one care-plan record says in the shapes of the plan: words, whom it is for, and when.

Every way of saying when that a shipped item has can be told by a record. Must not know other items.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec import structs

from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Count, Flag
from herdsync.kinds.kind import Kind
from herdsync.merge.records import Record
from herdsync.projections.plan_items import (
    EVENING,
    MORNING,
    After,
    AgeWindow,
    AroundDue,
    Every,
    Item,
    Met,
    Season,
    Whom,
    bad,
)

DUE_DATE = "due-date"
BOTH = (MORNING, EVENING)

_SEX = {"male": ["buck"], "wether": ["buck"]}
_WINDOW_FIELDS = ("opens_days", "best_days", "closes_days", "lost_days", "ladder")
_SAME_NAME = ("in_milk", "bred", "kidded", "suckles", "weaned", "from_age_days", "to_age_days")
_NO_WAY: Mapping[str, Any] = {
    "every": None, "chore": [], "window": [], "after": None, "due_date": None, "season": None,
    "setting": "",
}  # fmt: skip


def plain_of(record: Record) -> dict[str, Any]:
    """Words, kinds and notes of an item as a record tells them. Raises BadBytes."""
    found: dict[str, Any] = {}
    for field, name in (("title", "work"), ("caution", "caution"), ("source", "source"),
                        ("law", "law"), ("says", "says")):  # fmt: skip
        if record.value(field):
            found[name] = str(record.value(field))
    if record.value("kind"):
        kind = str(record.value("kind"))
        found["by"] = [Met(kind=kind, where=_where(record, kind, "done_with"))]
    if record.value("quarantine") is not None:
        found["quarantine"] = bool(record.value("quarantine"))
    return found


def whom_of(record: Record, shipped: Whom) -> Whom:
    """Whom an item is for: as shipped, but for what a record tells."""
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
    for field in _SAME_NAME:
        if record.value(field) is not None:
            told[field] = record.value(field)
    return structs.replace(shipped, **told)


def when_of(record: Record, item: Item) -> dict[str, Any]:
    """The one way of ``when`` a record tells; empty where it leaves the item's. Raises BadBytes."""
    for way in (_every, _chore, _season, _window):
        found = way(record, item)
        if found is not None:
            return {**_NO_WAY, **found}
    return {}


def _every(record: Record, item: Item) -> dict[str, Any] | None:
    fields = ("every_days", "first_age_days", "early_days", "grace_days", "months")
    told = {name: record.value(name) for name in fields}
    told["months"] = [_number(item, one) for one in told["months"]] or None
    if told["every_days"] is None and (item.every is None or not any(told.values())):
        return None
    begun = item.every or Every(days=told["every_days"])
    renamed = {"every_days": "days", "early_days": "open_before", "grace_days": "grace"}
    changes = {renamed.get(name, name): value for name, value in told.items() if value is not None}
    if told["every_days"] is not None:
        changes["worm_days"] = None
    return {"every": structs.replace(begun, **changes)}


def _chore(record: Record, _: Item) -> dict[str, Any] | None:
    told = record.value("chore")
    if told is None:
        return None
    return {"chore": list(BOTH) if told == "both" else [str(told)]}


def _season(record: Record, item: Item) -> dict[str, Any] | None:
    opens, closes = record.value("season_from"), record.value("season_to")
    if not opens and not closes:
        return None
    begun = item.season
    opens = opens or (begun.opens if begun is not None else None)
    closes = closes or (begun.closes if begun is not None else None)
    if opens is None or closes is None:
        raise bad(item.id, "has a season with one end only; tell both season_from and season_to")
    return {"season": Season(opens=opens, closes=closes)}


def _window(record: Record, item: Item) -> dict[str, Any] | None:
    """A window told by a record: about birth, about another act, or about the due date."""
    after = record.value("after")
    if after is None and not any(record.value(name) not in (None, []) for name in _WINDOW_FIELDS):
        return None
    if after == DUE_DATE or (after is None and item.due_date is not None):
        return {"due_date": _around(record, item)}
    if after is not None or item.after is not None:
        return {"after": _following(record, item, after)}
    shipped = item.window[0] if len(item.window) == 1 else None
    opens, best, closes = _days(record, shipped)
    hours = record.value("in_hours")
    return {
        "window": [
            AgeWindow(
                opens=opens, best=best, closes=closes, lost=_lost(record, shipped),
                hours=bool(hours) if hours is not None else shipped is not None and shipped.hours,
                needs_kg=shipped.needs_kg if shipped is not None else "",
                counts_from=shipped.counts_from if shipped is not None else None,
            )
        ]
    }  # fmt: skip


def _around(record: Record, item: Item) -> AroundDue:
    shipped = item.due_date
    opens, best, closes = _days(record, shipped)
    base = record.value("counted_from")
    bases = dict.fromkeys(("opens_from", "best_from", "closes_from"), base) if base else {}
    begun = shipped or AroundDue(opens=opens, best=opens, closes=closes)
    aim = best if best is not None else opens
    return structs.replace(
        begun, opens=opens, best=aim, closes=closes, lost=_lost(record, shipped), **bases
    )


def _following(record: Record, item: Item, kind: object) -> After:
    """A window or ladder after an act; where the act is another, nothing of the shipped one stays."""
    same = kind is None or (item.after is not None and item.after.kind == kind)
    shipped = item.after if same else None
    followed = str(kind if kind is not None else shipped and shipped.kind)
    begun = shipped or After(kind=followed)
    ladder = sorted({_number(item, one) for one in record.value("ladder")})
    changes: dict[str, Any] = {"lost": _lost(record, shipped)}
    if ladder:
        changes["days"] = ladder
    elif any(record.value(name) is not None for name in _WINDOW_FIELDS[:3]):
        opens, best, closes = _days(record, None)
        changes |= {"days": [], "opens": opens, "best": best, "closes": closes}
    if record.value("which") is not None:
        changes["which"] = str(record.value("which"))
    if record.value("after_with"):
        changes["where"] = _where(record, followed, "after_with")
    if record.value("until"):
        ends = str(record.value("until"))
        changes["until"] = [Met(kind=ends, where=_where(record, ends, "until_with"))]
    return structs.replace(begun, **changes)


def _days(record: Record, shipped: AgeWindow | AroundDue | None) -> tuple[int, int | None, int]:
    """When a window opens, is best and closes; what is left out follows from what is told."""
    opens, best, closes = (record.value(name) for name in _WINDOW_FIELDS[:3])
    if opens is None and best is None and closes is None and shipped is not None:
        return shipped.opens, shipped.best, shipped.closes
    if opens is None:
        opens = best if best is not None else 0
    if closes is None:
        closes = max(opens, best if best is not None else opens)
    return opens, best, closes


def _lost(record: Record, shipped: AgeWindow | AroundDue | After | None) -> int | None:
    told: int | None = record.value("lost_days")
    return told if told is not None or shipped is None else shipped.lost


def _number(item: Item, text: object) -> int:
    told = str(text).strip()
    if not told.isascii() or not told.isdigit():
        raise bad(item.id, f"has {told[:20]!r} where a whole number belongs")
    return int(told)


def _where(record: Record, kind_name: str, field: str) -> dict[str, Any]:
    """Conditions told as ``field=value``; several values of one field are alternatives."""
    found: dict[str, Any] = {}
    kind = CATALOGUE.get(kind_name)
    for told in record.value(field):
        name, _, value = str(told).partition("=")
        if not value:
            raise bad(str(record.value("item")), f"has {told[:40]!r} where field=value belongs")
        found.setdefault(name.strip(), []).append(_value(kind, name.strip(), value.strip()))
    return found


def _value(kind: Kind | None, name: str, text: str) -> str | bool | int:
    """A condition's value in the form of the field it is about."""
    spec = kind.fields.get(name) if kind is not None else None
    word = spec.form.word if spec is not None else ""
    if word == Flag.word:
        return text.casefold() in ("yes", "true")
    if word == Count.word and text.isdigit():
        return int(text)
    return text
