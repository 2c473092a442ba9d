"""How near two told times lie: hours that may be between them, days they may share, where to look."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from herdsync.kinds.kind import PairRule
from herdsync.merge.newest import Changes
from herdsync.merge.records import milliseconds
from herdsync.merge.rules import near_told, reach_around, reach_of
from tests.farmyard import Yard

NOON = "2025-03-10T12:00:00+00:00"


@pytest.mark.parametrize(
    ("hours", "or_same_date", "other", "near"),
    [
        (12, False, "2025-03-11T00:00:00+00:00", True),
        (12, False, "2025-03-11T00:00:01+00:00", False),
        (12, False, "2025-03-10T00:00:00+00:00", True),
        (12, False, "2025-03-09T23:59:59+00:00", False),
        # A day or a month may lie as near as its nearer end.
        (12, False, "2025-03-11", True),
        (11, False, "2025-03-11", False),
        (12, False, "2025-03", True),
        (12, False, "2025-02", False),
        (0, False, NOON, True),
        (0, False, "2025-03-10T12:00:01+00:00", False),
        (None, True, "2025-03-10T23:59:59+00:00", True),
        (None, True, "2025-03-10", True),
        (None, True, "2025-03-11", False),
        (None, False, NOON, False),
        (1, True, "2025-03-10T00:00:00+00:00", True),
        (1, True, "2025-03-11T00:00:00+00:00", False),
    ],
)
def test_how_near_two_acts_may_lie_to_be_one(
    hours: int | None, or_same_date: bool, other: str, near: bool
) -> None:
    rule = PairRule(within_hours=hours, or_same_date=or_same_date)
    assert near_told(rule, NOON, other) is near
    assert near_told(rule, other, NOON) is near


@pytest.mark.parametrize("hours", [None, 0, 1, 12, 240])
@pytest.mark.parametrize("or_same_date", [False, True])
@pytest.mark.parametrize("told", [NOON, "2025-03-10", "2025-03", "2025-03-10T23:59:59+14:00"])
def test_what_is_near_lies_where_it_is_looked_for(
    hours: int | None, or_same_date: bool, told: str
) -> None:
    rule = PairRule(within_hours=hours, or_same_date=or_same_date)
    yard = Yard()
    agate = yard.animal("Agate")
    times = [
        *(f"2025-{month:02d}" for month in range(1, 6)),
        *(f"2025-{month:02d}-{day:02d}" for month in (2, 3) for day in range(1, 29)),
        *(f"2025-03-{day:02d}T{hour:02d}:00:00-11:00" for day in (9, 10, 11) for hour in range(24)),
    ]
    ids = {yard.write("house", "note", about=agate, on=one, text="seen"): one for one in times}
    reach = reach_around(told, reach_of(rule))
    looked = {ids[one.id] for one in yard.shelf().within(agate, "note", reach)}
    assert {one for one in times if near_told(rule, told, one)} <= looked
    assert len(looked) < len(times)


def test_a_rule_reaches_as_far_as_its_hours_or_a_date_with_its_zones() -> None:
    # Dates are told by clocks from 12 hours behind to 14 hours ahead (public time zone data).
    assert reach_of(PairRule(within_hours=240)) == timedelta(hours=240)
    assert reach_of(PairRule(within_hours=None)) == timedelta(0)
    assert reach_of(PairRule(within_hours=1, or_same_date=True)) >= timedelta(days=1, hours=26)
    assert reach_of(PairRule(within_hours=240, or_same_date=True)) == timedelta(hours=240)


def test_which_records_changed_since_a_mark() -> None:
    yard = Yard()
    agate = yard.animal("Agate")
    begun = yard.shelf().changes(0)
    assert begun.records == frozenset({agate})
    assert yard.shelf().changes(begun.mark) == Changes(begun.mark, frozenset())
    yard.amend("house", agate, name="Opal")
    opal = yard.animal("Beryl")
    later = yard.shelf().changes(begun.mark)
    assert later.records == frozenset({agate, opal})
    for unknown in (-1, later.mark + 1):
        assert yard.shelf().changes(unknown) == Changes(later.mark, None)


def test_times_are_whole_milliseconds_since_1970_as_clocks_tell_them() -> None:
    # POSIX.1-2017, 4.16: seconds since the Epoch, leap seconds left out.
    assert milliseconds(datetime(1970, 1, 1, tzinfo=UTC)) == 0
    assert milliseconds(datetime(1969, 12, 31, 23, 59, 59, 999_000, tzinfo=UTC)) == -1
    behind = datetime(2001, 9, 9, 0, 46, 40, 1_999, tzinfo=timezone(timedelta(hours=-1)))
    assert milliseconds(behind) == 1_000_000_000_001
