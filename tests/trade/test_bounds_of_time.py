"""Windows, months and intervals at their bounds. Plain arithmetic of the calendar; no published source."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from herdsync.trade.courses import dose_timing
from herdsync.trade.dates import Window, add_months

DAY = date(2026, 3, 1)
NEXT = date(2026, 3, 2)
AT = datetime(2026, 3, 1, 6, tzinfo=UTC)


def test_a_window_of_one_day_with_its_best_on_it() -> None:
    assert DAY in Window(DAY, DAY, DAY, "")
    assert NEXT not in Window(DAY, DAY, DAY, "")
    assert Window(DAY, NEXT, NEXT, "").best == NEXT
    with pytest.raises(ValueError, match="cannot close"):
        Window(NEXT, None, DAY, "")
    for outside in (DAY - timedelta(days=1), NEXT + timedelta(days=1)):
        with pytest.raises(ValueError, match="outside the window"):
            Window(DAY, outside, NEXT, "")


def test_months_reach_back_to_the_first_year_and_forward_to_the_last_but_one() -> None:
    assert add_months(date(2, 1, 15), -12) == date(1, 1, 15)
    assert add_months(date(9997, 1, 15), 12) == date(9998, 1, 15)
    for day, months in ((date(1, 1, 15), -12), (date(9998, 1, 15), 12)):
        with pytest.raises(ValueError, match="off the calendar"):
            add_months(day, months)


def test_an_interval_of_a_year_is_the_longest() -> None:
    year = timedelta(hours=24 * 366)
    assert dose_timing(AT, AT + year, 24 * 366).advice == "ok"
    with pytest.raises(ValueError, match="over a year"):
        dose_timing(AT, AT + year, 24 * 366 + 1)


def test_a_dose_seven_intervals_on_is_late_and_a_later_one_begins_another_course() -> None:
    # Common practice, no published source.
    week = timedelta(hours=7 * 24)
    assert dose_timing(AT, AT + week, 24).advice == "look"
    assert dose_timing(AT, AT + week + timedelta(seconds=1), 24).advice == "ok"


def test_the_same_moment_is_too_early_and_no_moment_before() -> None:
    assert dose_timing(AT, AT, 12).advice == "stop"
    with pytest.raises(ValueError, match="before the last one"):
        dose_timing(AT, AT - timedelta(seconds=1), 12)
