"""What stands in a keeper's own table, as the keeper would type it here: dates, amounts, blanks.

Only what can mean one thing is turned; what could mean two is refused with both. Must not know the
farm or any kind.
"""

from __future__ import annotations

import re
from fractions import Fraction

from herdsync.faults import Refused
from herdsync.kinds.field import Field
from herdsync.kinds.forms import Choice, Date, Flag, On
from herdsync.kinds.quantities import Quantity, decimal_text, parts, written

ORDERS = ("dmy", "mdy", "ymd")
BLANKS = frozenset(
    {"", "-", "--", "\u2013", "\u2014", "?", "n/a", "na", "none", "nil", "unknown", "."}
)
# Years of two digits: a herd's records reach back some decades and no day forward.
TURN_OF_CENTURY = 70
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CLOCK = r"(?:[ T,]+(\d{1,2}[:.h]\d{2})(?::\d{2})?\s*(am|pm)?)?"
_NUMBERS = re.compile(rf"(\d{{1,4}})([./\- ])(\d{{1,2}})\2(\d{{1,4}}){_CLOCK}", re.IGNORECASE)
_DAY_MONTH = re.compile(
    rf"(\d{{1,2}})(?:st|nd|rd|th)?[ .\-]+([a-z]{{3,9}})\.?,?[ \-]+(\d{{2,4}}){_CLOCK}",
    re.IGNORECASE,
)
_MONTH_DAY = re.compile(
    rf"([a-z]{{3,9}})\.?[ \-]+(\d{{1,2}})(?:st|nd|rd|th)?,?[ \-]+(\d{{2,4}}){_CLOCK}", re.IGNORECASE
)
_MONTH = re.compile(r"([a-z]{3,9})\.?,?[ \-]+(\d{4})", re.IGNORECASE)
_POUNDS = re.compile(
    r"(\d+)\s*(?:lbs?|pounds?|#)\s*,?\s*(\d+(?:\.\d+)?)\s*(?:ozs?|ounces?)", re.IGNORECASE
)
_COMMA = re.compile(r"(-?\d+),(\d+)(\s*[^\d.,]*)")
_SEX = {"f": "doe", "m": "buck", "d": "doe", "b": "buck"}
_TICKS = frozenset({"x", "\u2713", "\u2714", "ok"})


def typed(field: Field, cell: str, *, unit: str = "", order: str = "") -> str:
    """The cell as it is typed here; empty for a blank. ``order``: of day and month, where it is told.

    Raises Refused where a date or number can mean two things.
    """
    told = cell.strip()
    if told.lower() in BLANKS and not isinstance(field.form, Choice):
        return ""
    if isinstance(field.form, Choice) and told.lower() in BLANKS - {"unknown"}:
        return ""
    if isinstance(field.form, On | Date):
        return _day(told, order, clock=isinstance(field.form, On))
    if isinstance(field.form, Quantity):
        return _amount(told, unit)
    if isinstance(field.form, Flag) and told.lower() in _TICKS:
        return "yes"
    if isinstance(field.form, Choice) and "doe" in field.form.words:
        return _SEX.get(told.lower(), told)
    return told


def _amount(told: str, unit: str) -> str:
    """An amount with one unit and a point; a bare number gets the column's."""
    if pounds := _POUNDS.fullmatch(told):
        number = written(int(pounds[1]) * 16 + Fraction(pounds[2]), "oz")
        return f"{decimal_text(*parts(number)[:2])} oz"
    if comma := _COMMA.fullmatch(told):
        whole, places, rest = comma.groups()
        if len(places) == 3 and whole not in ("0", "-0"):
            raise Refused(
                f"{told!r} may be {whole}.{places} or {whole}{places}.", "Write it without a comma."
            )
        told = f"{whole}.{places}{rest}"
    bare = told.replace(".", "", 1).removeprefix("-")
    return f"{told} {unit}" if unit and bare.isdigit() else told


def _day(told: str, order: str, *, clock: bool) -> str:
    """A date, month or moment as it is typed here; what is none of the forms known goes on as it is."""
    if found := _NUMBERS.fullmatch(told):
        first, sign, second, last, at, half = found.groups()
        day = _of_numbers(told, (first, second, last), sign, order)
    elif found := _DAY_MONTH.fullmatch(told):
        number, month, year, at, half = found.groups()
        day = _named(told, year, month, number)
    elif found := _MONTH_DAY.fullmatch(told):
        month, number, year, at, half = found.groups()
        day = _named(told, year, month, number)
    elif (found := _MONTH.fullmatch(told)) and clock and found[1][:3].lower() in _MONTHS:
        return f"{found[2]}-{_month(found[1]):02d}"
    else:
        return told
    return f"{day} {_clock(at, half)}" if at and clock else day


def _of_numbers(told: str, numbers: tuple[str, str, str], sign: str, order: str) -> str:
    first, second, last = numbers
    if len(first) > 2 or order == "ymd":
        return _iso(told, first, int(second), int(last))
    one, two = int(first), int(second)
    if order == "mdy" and sign != ".":
        return _iso(told, last, one, two)
    # With points between, the day comes first: common practice, no published source.
    if order == "dmy" or sign == "." or one > 12:
        return _iso(told, last, two, one)
    if two > 12:
        return _iso(told, last, one, two)
    if one == two:
        return _iso(told, last, one, two)
    day, month = _iso(told, last, two, one), _iso(told, last, one, two)
    raise Refused(
        f"{told!r} may be {day} or {month}.", "Say which with --dates dmy or --dates mdy."
    )


def _named(told: str, year: str, month: str, day: str) -> str:
    if month[:3].lower() not in _MONTHS:
        raise Refused(f"{told[:40]!r} names no month known here.", "Write it as 2026-02-22.")
    return _iso(told, year, _month(month), int(day))


def _month(word: str) -> int:
    return _MONTHS.index(word[:3].lower()) + 1


def _iso(told: str, year: str, month: int, day: int) -> str:
    if len(year) in (1, 3):
        raise Refused(f"{told[:40]!r} has no year to go by.", "Write it as 2026-02-22.")
    number = int(year)
    if len(year) <= 2:
        number += 2000 if number < TURN_OF_CENTURY else 1900
    return f"{number:04d}-{month:02d}-{day:02d}"


def _clock(at: str, half: str | None) -> str:
    hour, minute = (int(part) for part in re.split(r"[:.hH]", at))
    if half and hour <= 12:
        hour = hour % 12 + (12 if half.lower() == "pm" else 0)
    return f"{hour:02d}:{minute:02d}"
