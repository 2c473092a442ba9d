"""Disease tests: when the next falls, what a result means, and how long papers must be kept.

A negative result is a statement about one date. The tool never deletes; a keeping period only says
until when something must be there. Must not know records, laboratories or which animal it is.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.bounds import share
from herdsync.trade.dates import Due, add_days, add_months, add_years
from herdsync.trade.units import Amount, plain, whole

# Yearly in breeders' practice for caprine arthritis encephalitis (CAE), caseous lymphadenitis
# (CL) and Johne's disease: common practice, no published source.
INTERVAL_MONTHS = 12
# Newcomers: 30 days apart (several extension pages), tested again at the end (common practice).
QUARANTINE_DAYS = 30
LONGEST_INTERVAL_MONTHS = 120

# Youngest age, in months, at which a test tells something: common practice for CAE (kids carry
# their dam's antibodies), from memory for Johne's ELISA. CL: as CAE, common practice.
YOUNGEST_MONTHS = {"cae": 6, "cl": 6, "johnes": 18}

# WSU Veterinary Extension, Johne's disease, 2023: the ELISA finds 30-50 % of what faecal PCR or
# culture finds.
JOHNES_ELISA_SENSITIVITY_LOWEST = Decimal("0.30")
JOHNES_ELISA_SENSITIVITY_HIGHEST = Decimal("0.50")

LONGEST_KEEPING_YEARS = 100


class KeepingPeriod(NamedTuple):
    """For how many years one kind of paper must be kept, where, and who says so."""

    key: str
    years: int
    what: str
    source: str


KEEPING_PERIODS = (
    KeepingPeriod("us-extralabel", 2, "records of extra-label use (USA)", "21 CFR 530.5"),
    KeepingPeriod(
        "england-medicine",
        5,
        "purchases and treatments (England)",
        "English trading-standards guidance on veterinary medicine records",
    ),
    KeepingPeriod("eu-medicine", 5, "treatments (European Union)", "from memory"),
    KeepingPeriod("identity-sales", 5, "official identity and sales", "from memory"),
)


class Newcomer(NamedTuple):
    """The days that follow from an arrival: end of quarantine and the test before joining."""

    quarantine_until: date
    retest_on: date
    reason: str


class ResultMeaning(NamedTuple):
    """What a positive and a negative result are worth; None where such a result cannot occur.

    ``positive_is_right``: chance that a positive animal has the disease. ``negative_is_wrong``:
    chance that a negative animal has it all the same.
    """

    positive_is_right: Fraction | None
    negative_is_wrong: Fraction | None
    reason: str


def next_test(last_test: date, interval_months: int = INTERVAL_MONTHS) -> Due:
    """The day of the next test: the last one plus the interval of that disease.

    Raises ValueError for an impossible interval.
    """
    months = whole(interval_months, "the interval in months", 1, LONGEST_INTERVAL_MONTHS)
    return Due(add_months(last_test, months), f"{months} months after the test of {last_test}")


def telling_from(born: date, disease: str) -> Due:
    """The day from which a test of this animal tells something (cae, cl or johnes).

    Raises ValueError for another disease: no age is known for it.
    """
    months = YOUNGEST_MONTHS.get(disease)
    if months is None:
        known = ", ".join(YOUNGEST_MONTHS)
        raise ValueError(f"no youngest age is known for {disease}; known are {known}")
    return Due(
        add_months(born, months), f"a test for {disease} tells little before {months} months"
    )


def newcomer(arrived: date, quarantine_days: int = QUARANTINE_DAYS) -> Newcomer:
    """What an animal from elsewhere must wait for; the test before purchase comes before that.

    Raises ValueError for an impossible quarantine.
    """
    days = whole(quarantine_days, "the quarantine in days", 1, 365)
    until = add_days(arrived, days)
    return Newcomer(
        until,
        until,
        f"apart for {days} days from {arrived}, tested again before joining the herd; the test "
        "before purchase speaks of that day only",
    )


def result_meaning(prevalence: Amount, sensitivity: Amount, specificity: Amount) -> ResultMeaning:
    """What a result means where ``prevalence`` of such animals have the disease; all shares 0-1.

    Right positive = p se / (p se + (1-p)(1-sp)); wrong negative = p (1-se) / (p (1-se) + (1-p) sp).
    Raises ValueError for a share outside 0 to 1.
    """
    sick = share(prevalence, "the prevalence")
    found = share(sensitivity, "the sensitivity")
    cleared = share(specificity, "the specificity")
    right = _ratio(sick * found, (1 - sick) * (1 - cleared))
    wrong = _ratio(sick * (1 - found), (1 - sick) * cleared)
    sentences = [f"the test finds {plain(found * 100)} of 100 carriers"]
    if right is not None:
        sentences.append(f"of 100 positive animals {plain(right * 100, 1)} have the disease")
    if wrong is not None:
        sentences.append(f"of 100 negative ones {plain(wrong * 100, 1)} have it all the same")
    return ResultMeaning(right, wrong, "; ".join(sentences) + "; a negative speaks of one day only")


def all_carriers_missed(carriers: int, sensitivity: Amount) -> Fraction:
    """The chance that a herd test finds none of its carriers: (1 - sensitivity)^carriers.

    Raises ValueError for a share outside 0 to 1 or an impossible number.
    """
    count = whole(carriers, "the carriers", 0, 10_000)
    return (1 - share(sensitivity, "the sensitivity")) ** count


def keep_until(event_on: date, years: int) -> Due:
    """The day until which a paper must be kept; 29 February rolls to 1 March.

    Raises ValueError for an impossible number of years.
    """
    span = whole(years, "the years of keeping", 0, LONGEST_KEEPING_YEARS)
    on = add_years(event_on, span)
    return Due(
        on, f"must be kept until {on}, {span} years after {event_on}; nothing is deleted then"
    )


def _ratio(part: Fraction, rest: Fraction) -> Fraction | None:
    return part / (part + rest) if part + rest else None
