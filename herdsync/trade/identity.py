"""Marks a goat carries: herd prefix, year letter and number, electronic code, and where they go.

Knows letters and digits; must not know which animal holds which mark. Right and left are the
goat's. A typed letter is checked, never rewritten.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Literal, NamedTuple

from herdsync.trade.advice import Advice, Finding
from herdsync.trade.dates import add_months
from herdsync.trade.units import whole

Share = Literal["every", "odd", "even"]
CodeKind = Literal["country", "manufacturer", "test"]

# American Dairy Goat Association, tattoo policy page (registry): at most 4 letters or digits, and
# not one letter followed by digits, which would read as a left ear.
PREFIX_MOST = 4
_PREFIX = re.compile(r"[A-Z0-9]+")
_LEFT_EAR = re.compile(r"([A-Z])([0-9]{1,4})")
MOST_NUMBER = 9999
_PARITY: dict[Share, int] = {"odd": 1, "even": 0}
# Same registry: a mark is not used again within 22 years (an older text says 20).
REUSE_AFTER_YEARS = 22

# ISO 11784: 3 digits for country (ISO 3166-1 numeric) or manufacturer, 12 for the animal; 38 bits
# of it are the national code. 900-998 manufacturers, 999 test: from memory.
CODE_DIGITS = 15
NATIONAL_MOST = 2**38 - 1
MANUFACTURER_FIRST = 900
TEST_PREFIX = 999
_CODE = re.compile(r"[0-9]{15}")

# 9 CFR 79, as summed up by Ohio State Extension 2019 and Florida Administrative Code 5C-29.002.
OFFICIAL_ID_WETHER_MONTHS = 18


class LetterSeries(NamedTuple):
    """A registry's year letters: they repeat in order from ``first_year``, which is the first.

    Letters of years outside ``seen`` are extrapolated.
    """

    name: str
    letters: str
    first_year: int
    seen: tuple[int, int]
    source: str


# Dairy and miniature-dairy registries: G, I, O, Q and U are skipped.
DAIRY = LetterSeries(
    "dairy",
    "ABCDEFHJKLMNPRSTVWXYZ",
    2010,
    (2009, 2030),
    "American Dairy Goat Association and Miniature Dairy Goat Association, tattoo pages",
)
# A meat-goat registry: I, O, Q and U are skipped.
MEAT = LetterSeries(
    "meat",
    "ABCDEFGHJKLMNPRSTVWXYZ",
    2011,
    (1993, 2014),
    "US Goat Working Group, registry identification list",
)
SERIES: dict[str, LetterSeries] = {series.name: series for series in (DAIRY, MEAT)}
FIRST_YEAR, LAST_YEAR = 1950, 2150


class YearLetter(NamedTuple):
    """The letter of one year, and whether it was printed, announced or only extrapolated."""

    letter: str
    printed: bool
    reason: str


class ElectronicCode(NamedTuple):
    """A 15-digit code in its parts; kept as text, zeros and all."""

    code: str
    prefix: str
    national: str
    kind: CodeKind
    reason: str


class TattooSites(NamedTuple):
    """Where the herd's mark and the year's mark are put on one goat."""

    herd_mark: str
    year_mark: tuple[str, ...]
    reason: str


def year_letter(
    year: int, series: LetterSeries | None, announced: Mapping[int, str] | None = None
) -> YearLetter:
    """The tattoo letter of a birth year; what the registry announced overrides its series.

    ``series`` is None where the society announces each letter. Raises ValueError where the letter
    is then not given, or the year is out of range.
    """
    whole(year, "the year", FIRST_YEAR, LAST_YEAR)
    told = (announced or {}).get(year)
    if told is not None:
        return YearLetter(_letter(told), True, f"{year} is {told}, as announced by the registry")
    if series is None:
        raise ValueError(f"no letter is announced for {year}; type the one the registry gave out")
    letter = series.letters[(year - series.first_year) % len(series.letters)]
    printed = series.seen[0] <= year <= series.seen[1]
    words = "as printed" if printed else "extrapolated, check with the registry"
    return YearLetter(letter, printed, f"{year} is {letter} in the {series.name} series, {words}")


def check_letter(typed: str, expected: YearLetter) -> Finding:
    """Whether a typed year letter fits the birth year; a warning, nothing is rewritten."""
    if _letter(typed) == expected.letter:
        return Finding(Advice.OK, expected.reason)
    return Finding(
        Advice.LOOK, f"{typed} was typed, but {expected.reason}: read the ear or the papers again"
    )


def herd_prefix(text: str) -> str:
    """A herd prefix in capitals, where a registry would take it.

    Raises ValueError where it is empty, longer than four, not plain letters and digits, or one
    letter followed by digits.
    """
    prefix = text.strip().upper()
    if not _PREFIX.fullmatch(prefix):
        raise ValueError("a herd prefix is plain letters A to Z and digits; type it again")
    if len(prefix) > PREFIX_MOST:
        raise ValueError(f"the herd prefix {prefix[:12]} is longer than {PREFIX_MOST}; shorten it")
    if _LEFT_EAR.fullmatch(prefix):
        raise ValueError(
            f"the herd prefix {prefix} reads as year letter and number; use two letters or more"
        )
    return prefix


def left_ear(letter: str, number: int) -> str:
    """The left-ear mark: year letter and the number of that year's registered kid."""
    return f"{_letter(letter)}{whole(number, 'the number in the left ear', 1, MOST_NUMBER)}"


def read_left_ear(text: str) -> tuple[str, int]:
    """Year letter and number of a left-ear mark as read; S3, s03 and S 3 are one mark.

    Raises ValueError where it is not a letter and a number.
    """
    match = _LEFT_EAR.fullmatch("".join(text.upper().split()))
    if match is None or int(match[2]) == 0:
        raise ValueError(f"{text[:20]!r} is not a year letter and a number such as S3; read again")
    return match[1], int(match[2])


def next_number(
    taken: Iterable[int], share: Share = "every", block: tuple[int, int] | None = None
) -> int:
    """The next number to suggest for the left ear, above all that were used within this share.

    ``share`` and ``block`` keep two laptops apart. A gap is not filled: its number may stand in an
    ear already. Raises ValueError where the block is used up.
    """
    first, last = block if block is not None else (1, MOST_NUMBER)
    whole(first, "the first number of the block", 1, MOST_NUMBER)
    whole(last, "the last number of the block", first, MOST_NUMBER)
    start = first if share == "every" or first % 2 == _PARITY[share] else first + 1
    stride = 1 if share == "every" else 2
    ours = [n for n in taken if start <= n <= last and (n - start) % stride == 0]
    number = max(ours) + stride if ours else start
    if number > last:
        raise ValueError(f"the numbers {first} to {last} are used up; set a new block")
    return number


def mark_free_again(used_year: int, year: int) -> Finding:
    """Whether a mark used in one year may stand in another goat's ear in a later one."""
    apart = year - used_year
    if apart < REUSE_AFTER_YEARS:
        return Finding(
            Advice.STOP,
            f"used {apart} years before; registries want {REUSE_AFTER_YEARS}, choose another",
        )
    return Finding(Advice.OK, f"last used {apart} years before")


def tattoo_sites(*, short_ears: bool) -> TattooSites:
    """Where a goat's two marks go: ears, or the tail web where the ears are too short."""
    if short_ears:
        return TattooSites(
            "right tail web",
            ("left tail web", "centre tail web"),
            "ears too short for a tattoo: the tail web takes both marks",
        )
    return TattooSites("right ear", ("left ear",), "herd mark right, year mark left, of the goat")


def electronic_code(text: str) -> ElectronicCode:
    """A 15-digit code read off a transponder, split and checked; spaces do not count.

    Raises ValueError where it is not 15 digits or its national part is beyond 38 bits.
    """
    code = "".join(text.split())
    if not _CODE.fullmatch(code):
        raise ValueError(f"{text[:24]!r} is not a code of {CODE_DIGITS} digits; read it again")
    prefix, national = code[:3], code[3:]
    if int(national) > NATIONAL_MOST:
        raise ValueError(f"the number {national} is over {NATIONAL_MOST}; read the code again")
    if prefix == "000":
        raise ValueError("a code cannot begin with 000; read it again")
    kind: CodeKind = "country"
    if int(prefix) == TEST_PREFIX:
        kind = "test"
    elif int(prefix) >= MANUFACTURER_FIRST:
        kind = "manufacturer"
    return ElectronicCode(code, prefix, national, kind, f"{prefix} is a {kind} code")


def us_official_id(
    on: date, born: date | None, *, wether: bool, to_slaughter: bool = False
) -> Finding:
    """Whether US scrapie rules want official identification before a goat leaves on a day.

    A wether of unknown age counts as grown.
    """
    grown = born is None or add_months(born, OFFICIAL_ID_WETHER_MONTHS) <= on
    if not wether or (grown and not to_slaughter):
        return Finding(
            Advice.LOOK,
            "official identification is needed before it leaves: a registry tattoo counts only "
            "with its certificate and an approved registry; ask the state's office",
        )
    return Finding(Advice.OK, "no official identification is asked for in the United States")


def _letter(text: str) -> str:
    letter = text.strip().upper()
    if len(letter) != 1 or not "A" <= letter <= "Z":
        raise ValueError(f"{text[:12]!r} is not one letter A to Z; type the year letter")
    return letter
