"""Courses of treatment under way: which dose comes next, and not before when.

Counted from the latest instant the last dose can have been given, by the longest interval anybody
told: a late or doubled entry never frees a dose earlier. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from fractions import Fraction

from msgspec import Struct

from herdsync.kinds.quantities import amount
from herdsync.merge.records import Record
from herdsync.projections import moments
from herdsync.projections.goat import Goat
from herdsync.projections.withholding import given_to
from herdsync.trade.advice import Advice, Finding
from herdsync.trade.courses import TOLERANCE_SHARE, dose_timing
from herdsync.trade.dates import add_hours

# A dose that nobody gave for so many intervals is no course any more, unless a course says so:
# common practice, no published source.
FORGOTTEN_INTERVALS = 3


class NextDose(Struct, frozen=True):
    """The next dose of a course: of what, when (UTC), the how-manieth, by which records.

    ``course`` is None where the product's own interval makes the course. ``last`` is None before
    the first dose.
    """

    product: Record | None
    course: Record | None
    last: datetime | None
    at: datetime
    early: datetime
    late: datetime
    number: int
    doses: int | None
    given: tuple[Record, ...]

    @property
    def anchor(self) -> Record:
        """The record the next dose counts from."""
        record = self.given[-1] if self.given else self.course
        assert record is not None
        return record


def next_doses(goat: Goat) -> list[NextDose]:
    """The next dose of every course of an animal that is under way."""
    doses = [dose for dose in given_to(goat) if dose.kind == "dose"]
    found = list(_of_courses(goat, doses))
    found += _of_products(goat, doses)
    return sorted(found, key=lambda one: (one.at, one.anchor.id))


def dose_gap(
    goat: Goat, product: bytes, at: datetime, given: Record | None = None
) -> Finding | None:
    """Whether a dose of a product at an instant would be too early or late after the last one.

    ``given`` is that dose where it is written down already. The longest interval of the product
    and of a running course of it counts. None where none is told or no dose of it came before.
    """
    record = goat.look.records.get(product)
    if record is None:
        return None
    courses = [
        course
        for course in goat.acts.get("course", [])
        if _product_of(goat, course) == record.id and not course.value("stopped")
    ]
    told = [_longest(one, "interval_h") for one in (record, *courses)]
    hours = max((one for one in told if one is not None), default=None)
    if hours is None:
        return None
    doses = [dose for dose in given_to(goat) if _product_of(goat, dose) == record.id]
    others = [dose for dose in doses if given is None or dose.id != given.id]
    before = [last for last in (_last(goat, dose) for dose in others) if last <= at]
    if not before:
        return None
    finding = dose_timing(max(before), at, hours)
    return None if finding.advice is Advice.OK else finding


def _of_courses(goat: Goat, doses: Iterable[Record]) -> Iterator[NextDose]:
    for course in goat.acts.get("course", []):
        if course.value("stopped"):
            continue
        product = _product(goat, course)
        given = [dose for dose in doses if _belongs(goat, dose, course)]
        hours = _longest(course, "interval_h") or _longest(product, "interval_h")
        total = course.value("doses") or (product.value("course_doses") if product else None)
        begins = [moments.span(told, goat.look.zone)[0] for told in course.values("on")]
        if hours is None or not begins or (total is not None and _count(given) >= total):
            continue
        yield _next(goat, product, course, given, hours, total, min(begins))


def _of_products(goat: Goat, doses: Iterable[Record]) -> Iterator[NextDose]:
    """Courses nobody wrote down as such: a product with an interval and more doses to come."""
    by_product: dict[bytes, list[Record]] = {}
    for dose in doses:
        told = _product_of(goat, dose)
        if told is not None and not dose.safety_values("course"):
            by_product.setdefault(told, []).append(dose)
    planned = {_product_of(goat, course) for course in goat.acts.get("course", [])}
    for id, given in sorted(by_product.items()):
        product = goat.look.records.get(id)
        hours = _longest(product, "interval_h")
        total = product.value("course_doses") if product is not None else None
        if hours is None or total is None or id in planned:
            continue
        chain = _chain(goat, given, hours)
        if _count(chain) < total:
            coming = _next(goat, product, None, chain, hours, total, goat.look.moment)
            if goat.look.moment <= add_hours(coming.at, hours * FORGOTTEN_INTERVALS):
                yield coming


def _next(
    goat: Goat,
    product: Record | None,
    course: Record | None,
    given: list[Record],
    hours: Fraction,
    total: int | None,
    begins: datetime,
) -> NextDose:
    given = sorted(given, key=lambda dose: (_last(goat, dose), dose.id))
    last = _last(goat, given[-1]) if given else None
    at = begins if last is None else add_hours(last, hours)
    slack = hours * TOLERANCE_SHARE
    early = at if last is None else add_hours(at, -slack)
    return NextDose(
        product, course, last, at, early, add_hours(at, slack),
        _count(given) + 1, total, tuple(given),
    )  # fmt: skip


def _chain(goat: Goat, given: list[Record], hours: Fraction) -> list[Record]:
    """The newest doses that follow each other closely enough to be one course."""
    ordered = sorted(given, key=lambda dose: (_last(goat, dose), dose.id))
    chain = ordered[-1:]
    for dose in reversed(ordered[:-1]):
        if add_hours(_last(goat, dose), hours * FORGOTTEN_INTERVALS) < _last(goat, chain[0]):
            break
        chain.insert(0, dose)
    return chain


def _count(given: Iterable[Record]) -> int:
    return sum(1 for dose in given if dose.vouched and dose.stands)


def _last(goat: Goat, dose: Record) -> datetime:
    """The latest instant a dose can have been given."""
    told = [moments.span(str(one), goat.look.zone)[1] for one in dose.safety_values("on")]
    return max(told, default=goat.look.moment)


def _belongs(goat: Goat, dose: Record, course: Record) -> bool:
    named = dose.safety_values("course")
    if named:
        return any(one in course.ids for one in named)
    starts = [moments.span(told, goat.look.zone)[0] for told in course.values("on")]
    same = _product_of(goat, dose) == _product_of(goat, course)
    return same and _last(goat, dose) >= min(starts, default=goat.look.moment)


def _product_of(goat: Goat, record: Record) -> bytes | None:
    told = record.value("product")
    return goat.look.records.canonical(told) if isinstance(told, bytes) else None


def _product(goat: Goat, record: Record) -> Record | None:
    told = record.value("product")
    return goat.look.records.get(told) if isinstance(told, bytes) else None


def _longest(record: Record | None, field: str) -> Fraction | None:
    told = record.safety_values(field) if record is not None else []
    hours = [amount(one, "h") for one in told]
    return max((one for one in hours if one > 0), default=None)
