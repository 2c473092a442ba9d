"""The farm's settings: what each means, what counts where nothing is set, and what is set.

A setting is a keyed record; a value that cannot be right is set aside for the default and named,
because looking must never fail. Must not know the disk or the clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import time
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from msgspec import Struct

from herdsync.answers import SettingLine
from herdsync.merge.records import Record, Records
from herdsync.trade import egg_reduction, hooves, maturity, milk, reproduction, screening
from herdsync.trade.identity import MOST_NUMBER, Share, herd_prefix

DEFAULT_PLAN = "hill-and-barn-1"


class Setting(Struct, frozen=True):
    """One setting: its key, how its text is read, its default and one plain sentence of help."""

    key: str
    default: str
    help: str
    read: Callable[[str], Any]


class Numbers(Struct, frozen=True):
    """Which left-ear numbers a laptop suggests: a share of all, or of a block of them."""

    share: Share = "every"
    block: tuple[int, int] | None = None


class Settings(Struct, frozen=True):
    """All settings of a farm as they count. Field names are the keys with ``-`` as ``_``."""

    zone: ZoneInfo
    farm_name: str
    letters: str
    letters_announced: Mapping[int, str]
    prefix: str
    country: str
    plan: str
    plan_hash: str
    walk: tuple[str, ...]
    morning: time
    evening: time
    hoof_days: int
    male_able_days: int
    female_able_days: int
    fertile_days: int
    quarantine_days: int
    suckling_days: int
    gestation_standard: int
    gestation_miniature: int
    dry_days: int
    worm_months: tuple[int, ...]
    tattoo_share: Mapping[str, Numbers]
    short_eared: tuple[str, ...]
    test_months: Mapping[str, int]
    cells_limit: int
    eggs_expected: int
    eggs_least: int
    weight_unit: str
    temperature_unit: str


def _one_of(*words: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in words:
            raise ValueError(f"write one of: {', '.join(words)}")
        return text

    return read


def _whole(least: int, most: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not text.isascii() or not text.isdigit() or not least <= int(text) <= most:
            raise ValueError(f"write a whole number from {least} to {most}")
        return int(text)

    return read


def _zone(text: str) -> ZoneInfo:
    try:
        return ZoneInfo(text)
    except (KeyError, ValueError, OSError) as fault:
        raise ValueError("write a zone such as Europe/Berlin") from fault


def _clock(text: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError as fault:
        raise ValueError("write a time such as 06:30") from fault


def _words(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(",") if word.strip())


def _months(text: str) -> tuple[int, ...]:
    months = tuple(_whole(1, 12)(word) for word in _words(text))
    if len(set(months)) != len(months):
        raise ValueError("write each month once, such as 4,5,6")
    return months


def _announced(text: str) -> Mapping[int, str]:
    found: dict[int, str] = {}
    for word in _words(text):
        year, _, letter = word.partition("=")
        if not letter.isascii() or not letter.isalpha() or len(letter) != 1:
            raise ValueError("write years with their letters, such as 2026=V,2027=W")
        found[_whole(1970, 2200)(year)] = letter.upper()
    return found


_SHARES: Mapping[str, Share] = {"every": "every", "odd": "odd", "even": "even"}


def _by_word(text: str, read: Callable[[str], Any]) -> dict[str, Any]:
    """``word=value`` pairs with commas; a value without a word counts for every other one ("")."""
    found: dict[str, Any] = {}
    for part in _words(text):
        word, equals, value = part.rpartition("=")
        if (equals and not word.strip()) or word.strip().casefold() in found:
            raise ValueError("write each name once, such as house=odd,barn=even")
        found[word.strip().casefold()] = read(value.strip())
    return found


def _numbers(text: str) -> Mapping[str, Numbers]:
    return _by_word(text, _share_or_block)


def _share_or_block(text: str) -> Numbers:
    if text in _SHARES:
        return Numbers(_SHARES[text])
    first, dash, last = text.partition("-")
    try:
        block = (_whole(1, MOST_NUMBER)(first), _whole(1, MOST_NUMBER)(last))
    except ValueError:
        dash = ""
    if not dash or block[1] < block[0]:
        raise ValueError("write every, odd, even, a block such as 1-49, or house=odd,barn=even")
    return Numbers(block=block)


def _month_counts(text: str) -> Mapping[str, int]:
    found = _by_word(text, _whole(1, screening.LONGEST_INTERVAL_MONTHS))
    return {"": screening.INTERVAL_MONTHS} | found


def _prefix(text: str) -> str:
    return herd_prefix(text) if text else ""


def _country(text: str) -> str:
    if not text:
        return ""
    code = text.upper()
    if not code.isascii() or not code.replace("-", "").isalnum() or len(code) > 6:
        raise ValueError("write a country code such as GB, DE or US")
    return code


SETTINGS: tuple[Setting, ...] = (
    Setting("zone", "UTC", "The time zone whose days and hours count.", _zone),
    Setting("farm-name", "", "What the farm is called on papers.", str),
    Setting(
        "letters",
        "dairy",
        "The series of tattoo year letters: dairy, meat, or none (announced each year).",
        _one_of("dairy", "meat", "none"),
    ),
    Setting(
        "letters-announced",
        "",
        "Letters the registry announced, such as 2026=V,2027=W; they come before the series.",
        _announced,
    ),
    Setting("prefix", "", "The herd prefix tattooed in the right ear.", _prefix),
    Setting("country", "", "The country whose law is shown, by its code.", _country),
    Setting("plan", DEFAULT_PLAN, "The shipped care plan that counts.", str),
    Setting("plan-hash", "", "The hash of that plan when it was accepted.", str),
    Setting("walk", "", "Pens in the order of the walk, by name with commas.", _words),
    Setting("morning", "06:30", "When the morning chores begin.", _clock),
    Setting("evening", "18:00", "When the evening chores begin.", _clock),
    Setting(
        "hoof-days",
        str(hooves.TRIM_INTERVAL_DAYS),
        "Days from one hoof trim to the next.",
        _whole(hooves.TRIM_LEAST_DAYS, hooves.TRIM_MOST_DAYS),
    ),
    Setting(
        "male-able-days",
        str(maturity.MALE_ABLE_DAYS),
        "Age in days from which a male counts as able to sire.",
        _whole(maturity.ABLE_LEAST_DAYS, maturity.ABLE_MOST_DAYS),
    ),
    Setting(
        "female-able-days",
        str(maturity.FEMALE_ABLE_DAYS),
        "Age in days from which a doeling counts as able to conceive.",
        _whole(maturity.ABLE_LEAST_DAYS, maturity.ABLE_MOST_DAYS),
    ),
    Setting(
        "fertile-days",
        str(maturity.FERTILE_AFTER_DAYS),
        "Days a male still counts as entire after a complete castration.",
        _whole(maturity.FERTILE_AFTER_LEAST_DAYS, maturity.FERTILE_AFTER_MOST_DAYS),
    ),
    Setting(
        "quarantine-days",
        str(screening.QUARANTINE_DAYS),
        "Days a newcomer is kept apart where its arrival names no day.",
        _whole(1, 365),
    ),
    Setting(
        "suckling-days",
        "90",
        "Age in days up to which a kid counts as drinking from its dam.",
        _whole(42, 365),
    ),
    Setting(
        "gestation-standard",
        str(reproduction.GESTATION_DAYS["standard"]),
        "Days carried by does of standard breeds.",
        _whole(145, 155),
    ),
    Setting(
        "gestation-miniature",
        str(reproduction.GESTATION_DAYS["miniature"]),
        "Days carried by does of miniature breeds.",
        _whole(145, 153),
    ),
    Setting(
        "dry-days",
        str(reproduction.DRY_DAYS),
        "Days a doe is dry before she is due.",
        _whole(reproduction.DRY_LEAST_DAYS, reproduction.DRY_MOST_DAYS),
    ),
    Setting(
        "worm-months",
        "4,5,6,7,8,9,10",
        "Months in which worms are about, by number with commas.",
        _months,
    ),
    Setting(
        "tattoo-share",
        "every",
        "Which tattoo numbers a laptop suggests: every, odd, even, a block such as 1-49, or one for "
        "each laptop by its name, such as house=odd,barn=even.",
        _numbers,
    ),
    Setting(
        "short-eared",
        "LaMancha",
        "Breeds whose ears are too short for a tattoo, with commas: the tail web takes the marks.",
        _words,
    ),
    Setting(
        "test-months",
        str(screening.INTERVAL_MONTHS),
        "Months from one disease test to the next, for all or by disease: 12 or 12,johnes=6.",
        _month_counts,
    ),
    Setting(
        "cells-limit",
        str(milk.CELLS_HIGHEST_PER_ML),
        "Most somatic cells per mL in milk that is sold, as the law of the place has it.",
        _whole(1, milk.CELLS_COUNTED_MOST),
    ),
    Setting(
        "eggs-expected",
        str(egg_reduction.PAIRED_EXPECTED_PERCENT),
        "Reduction in per cent that a wormer which works is expected to reach.",
        _whole(50, 100),
    ),
    Setting(
        "eggs-least",
        str(egg_reduction.PAIRED_LOWER_PERCENT),
        "Per cent that the lower limit of a reduction must reach.",
        _whole(50, 100),
    ),
    Setting("weight-unit", "kg", "The unit weights are shown in.", _one_of("kg", "lb")),
    Setting("temperature-unit", "C", "The unit temperatures are shown in.", _one_of("C", "F")),
)

BY_KEY: Mapping[str, Setting] = {setting.key: setting for setting in SETTINGS}


def settings_of(records: Records) -> Settings:
    """The settings as they count; what cannot be right is passed over for the default."""
    told = {
        str(record.value("key")): str(record.value("value"))
        for record in records.of_kind("setting")
    }
    return _settings(tuple(told.get(setting.key) for setting in SETTINGS))


# They are asked for at every look and act, and seldom change.
@lru_cache(maxsize=8)
def _settings(told: tuple[str | None, ...]) -> Settings:
    values = {
        setting.key.replace("-", "_"): _value(setting, text)
        for setting, text in zip(SETTINGS, told, strict=True)
    }
    assert set(values) == set(Settings.__struct_fields__)
    return Settings(**values)


def setting_lines(records: Records) -> list[SettingLine]:
    """Every setting with what counts and its help; unknown ones of a newer program last."""
    told = {str(record.value("key")): record for record in records.of_kind("setting")}
    lines = []
    for setting in SETTINGS:
        record = told.pop(setting.key, None)
        text = str(record.value("value")) if record is not None else setting.default
        lines.append(SettingLine(setting.key, text, _help(setting, text), _disputed(record)))
    for key, record in sorted(told.items()):
        text = str(record.value("value"))
        lines.append(SettingLine(key, text, "Not known to this program.", _disputed(record)))
    return lines


def check_setting(key: str, text: str) -> None:
    """Raise ValueError with what to write instead where a setting cannot take this text."""
    if key not in BY_KEY:
        raise ValueError(f"no setting is called {key!r}; known are {', '.join(BY_KEY)}")
    BY_KEY[key].read(text)


def _value(setting: Setting, text: str | None) -> Any:
    if text is not None:
        try:
            return setting.read(text)
        except ValueError:
            pass
    return setting.read(setting.default)


def _help(setting: Setting, text: str) -> str:
    try:
        setting.read(text)
    except ValueError as fault:
        return f"{setting.help} What is set cannot be used ({fault}): {setting.default} counts."
    return setting.help


def _disputed(record: Record | None) -> bool:
    return record is not None and record.disputed("value")
