"""When a kid becomes able to breed, and until when a castrated male still counts as entire.

Knows birth dates and castrations; must not know pens or who met whom. The days are earlier than
any textbook's on purpose: a wrong guess here is a doeling in kid by her brother.
"""

from __future__ import annotations

from datetime import date

from herdsync.trade.dates import Window, window

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


def separation(born: date) -> Window:
    """The days by which an entire buckling is apart from every female, relatives above all.

    He is due apart on the opening day, and overdue after the closing one.
    """
    reason = (
        f"entire at {MALE_ABLE_DAYS} days he may sire: keep him from every female, dam and sisters "
        f"first, or have him castrated; overdue after {SEPARATION_OVERDUE_DAYS} days"
    )
    return window(born, MALE_ABLE_DAYS, MALE_ABLE_DAYS, SEPARATION_OVERDUE_DAYS, reason)
