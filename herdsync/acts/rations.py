"""A ration as a keeper typed it in a TOML file: read, checked and completed from what is known."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from herdsync.answers import RationSum
from herdsync.faults import Refused
from herdsync.merge.records import Records
from herdsync.projections.rations import Fed, known_portion, ration_sum
from herdsync.trade.feed import AS_FED, DRY, Portion

RATION_BYTES = 100_000
_BASES = {
    "as fed": AS_FED, "as-fed": AS_FED, "as_fed": AS_FED, "fed": AS_FED,
    "dry": DRY, "dm": DRY, "dry matter": DRY, "dry-matter": DRY, "dry_matter": DRY,
}  # fmt: skip
_FEED_KEYS = {
    "name", "amount_g", "calcium_percent", "phosphorus_percent", "basis", "amount_basis",
    "dry_matter_percent", "copper_ppm", "molybdenum_ppm", "selenium_ppm",
    "ammonium_chloride_percent",
}  # fmt: skip
_KEYS = {"feed", "for", "sheep", "target_ratio", "name", "note"}


def toml(file: Path) -> dict[str, Any]:
    """The file's content. Raises Refused where it cannot be read or is no ration."""
    try:
        raw = file.read_bytes()
        if len(raw) > RATION_BYTES:
            raise Refused(f"{file} is too large for a ration.", "Name the ration's file.")
        told = tomllib.loads(raw.decode("utf-8"), parse_float=Decimal)
    except OSError as fault:
        raise Refused(f"{file} could not be read ({fault.strerror}).", "Name the file.") from fault
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as fault:
        raise Refused(f"{file} is no TOML file ({fault}).", "Mend that line.") from fault
    strange = sorted(set(told) - _KEYS)
    if strange:
        raise Refused(f"A ration has no '{strange[0][:40]}'.", f"Use {', '.join(sorted(_KEYS))}.")
    return told


def feeds_of(told: Mapping[str, Any], records: Records) -> list[Fed]:
    """The feeds of a ration. Raises Refused or ValueError where a figure is missing or wrong."""
    feeds = told.get("feed")
    if not isinstance(feeds, list) or not all(isinstance(one, dict) for one in feeds):
        raise Refused(
            "The ration has no [[feed]].", "Write one [[feed]] with its figures for each."
        )
    return [_fed(one, records) for one in feeds]


def summed(told: Mapping[str, Any], feeds: list[Fed]) -> RationSum:
    """The sums of a ration's feeds. Raises ValueError where they allow none."""
    sheep, target = told.get("sheep", False), told.get("target_ratio")
    if not isinstance(sheep, bool):
        raise Refused("sheep says whether sheep eat of it.", "Write sheep = true or false.")
    if target is not None and not _number(target):
        raise Refused("target_ratio is no number.", "Write a number such as 2.0.")
    return ration_sum(feeds, str(told.get("for", "")), target=target, sheep=sheep)


def _fed(feed: Mapping[str, Any], records: Records) -> Fed:
    strange = sorted(set(feed) - _FEED_KEYS)
    if strange:
        raise Refused(
            f"A feed has no '{strange[0][:40]}'.", f"Use {', '.join(sorted(_FEED_KEYS))}."
        )
    name = str(feed.get("name", "a feed"))
    amount_g = _figure(feed, "amount_g", name)
    if amount_g is None:
        raise Refused(f"{name} has no amount_g.", "Write how many grams a day are fed.")
    if "calcium_percent" not in feed and "phosphorus_percent" not in feed:
        return known_portion(records, name, amount_g)
    portion = Portion(
        name,
        amount_g,
        _figure(feed, "calcium_percent", name),
        _figure(feed, "phosphorus_percent", name),
        _basis(str(feed.get("basis", AS_FED)), name),
        _basis(str(feed["amount_basis"]), name) if "amount_basis" in feed else None,
        _figure(feed, "dry_matter_percent", name),
    )
    return Fed(
        portion,
        _figure(feed, "copper_ppm", name),
        _figure(feed, "molybdenum_ppm", name),
        _figure(feed, "selenium_ppm", name),
        _figure(feed, "ammonium_chloride_percent", name),
    )


def _figure(feed: Mapping[str, Any], key: str, name: str) -> Any:
    value = feed.get(key)
    if value is not None and not _number(value):
        raise Refused(f"{key} of {name} is no number.", "Write a number such as 1.5.")
    return value


def _number(value: object) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool)


def _basis(text: str, name: str) -> str:
    if text.casefold() not in _BASES:
        raise Refused(f"The basis of {name} is '{text[:40]}'.", "Write 'as fed' or 'dry'.")
    return _BASES[text.casefold()]
