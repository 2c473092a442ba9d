"""When a kid becomes able to breed, and until when a castrated male still counts as entire.

Knows birth dates and castrations; must not know pens or who met whom. The days are earlier than
any textbook's on purpose: a wrong guess here is a doeling in kid by her brother.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from herdsync.trade.dates import Due, Window, add_days, window
from herdsync.trade.units import whole

# Common practice, no published source: males are apart or castrated by 8 weeks, 12 at the latest.
# Published: sexes apart at 3 to 5 months (Tamil Nadu Agricultural University agritech portal);
# a buckling may sire from 3 months (Extension Goat Handbook, NAL 1992: "early").
MALE_ABLE_DAYS = 56
SEPARATION_OVERDUE_DAYS = 84
# Extension Goat Handbook, NAL 1992: a doeling can conceive from 3 months.
FEMALE_ABLE_DAYS = 90
# The settings may move these no further than the published 3 to 5 months.
ABLE_LEAST_DAYS = 42
ABLE_MOST_DAYS = 150
# Sperm stays alive after castration for 3 to 4 weeks (from memory); the longer is counted.
FERTILE_AFTER_DAYS = 28
FERTILE_AFTER_LEAST_DAYS = 21
FERTILE_AFTER_MOST_DAYS = 56


@dataclass(frozen=True, slots=True)
class EntireSpan:
    """The days on which a male counts as able to sire; ``until`` is None while he is entire."""

    able_from: date
    until: date | None
    reason: str

    def __contains__(self, day: date) -> bool:
        return self.able_from <= day and (self.until is None or day <= self.until)


def able_to_sire(
    born: date,
    castrated: date | None = None,
    *,
    able_days: int = MALE_ABLE_DAYS,
    fertile_days: int = FERTILE_AFTER_DAYS,
) -> EntireSpan:
    """The days on which a male can sire, ``castrated`` being a castration recorded complete.

    Where he was castrated so early that he never could, ``until`` lies before ``able_from``.
    Raises ValueError for settings out of range or a castration before birth.
    """
    able_from = add_days(born, whole(able_days, "the age in days", ABLE_LEAST_DAYS, ABLE_MOST_DAYS))
    whole(
        fertile_days,
        "the days still fertile after castration",
        FERTILE_AFTER_LEAST_DAYS,
        FERTILE_AFTER_MOST_DAYS,
    )
    if castrated is None:
        return EntireSpan(
            able_from, None, f"an entire male counts as able to sire from {able_days} days"
        )
    if castrated < born:
        raise ValueError(f"castrated {castrated} lies before the birth on {born}; correct one")
    until = add_days(castrated, fertile_days)
    return EntireSpan(
        able_from,
        until,
        f"castrated {castrated}, he counts as entire to the end of {until} ({fertile_days} days)",
    )


def able_to_conceive(born: date, able_days: int = FEMALE_ABLE_DAYS) -> Due:
    """The first day on which a doeling may conceive. Raises ValueError out of 42 to 150 days."""
    whole(able_days, "the age in days", ABLE_LEAST_DAYS, ABLE_MOST_DAYS)
    return Due(add_days(born, able_days), f"a doeling may conceive from {able_days} days of age")


def separation(born: date) -> Window:
    """The days by which an entire buckling is apart from every female, relatives above all.

    He is due apart on the opening day, and overdue after the closing one.
    """
    reason = (
        f"entire at {MALE_ABLE_DAYS} days he may sire: keep him from every female, dam and sisters "
        f"first, or have him castrated; overdue after {SEPARATION_OVERDUE_DAYS} days"
    )
    return window(born, MALE_ABLE_DAYS, MALE_ABLE_DAYS, SEPARATION_OVERDUE_DAYS, reason)
