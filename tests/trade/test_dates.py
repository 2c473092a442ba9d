"""Calendar and clock arithmetic. Dates computed independently; zones are public time zone data."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.dates import (
    Window,
    add_days,
    add_hours,
    add_months,
    add_years,
    age_days,
    day_begins,
    day_ends,
    hours_between,
    in_utc,
    local_day,
    window,
)

BERLIN = ZoneInfo("Europe/Berlin")
HAVANA = ZoneInfo("America/Havana")
SOME_DAY = st.dates(date(1990, 1, 1), date(2090, 1, 1))


def test_a_window_includes_both_ends() -> None:
    days = window(date(2026, 2, 17), 4, 5, 7, "why")
    assert (days.opens, days.best, days.closes) == (
        date(2026, 2, 21),
        date(2026, 2, 22),
        date(2026, 2, 24),
    )
    assert date(2026, 2, 21) in days
    assert date(2026, 2, 24) in days
    assert date(2026, 2, 20) not in days
    assert date(2026, 2, 25) not in days


def test_a_window_that_runs_backwards_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot close"):
        Window(date(2026, 2, 2), None, date(2026, 2, 1), "why")
    with pytest.raises(ValueError, match="outside the window"):
        Window(date(2026, 2, 2), date(2026, 2, 9), date(2026, 2, 3), "why")


def test_age_counts_the_birth_day_as_day_0() -> None:
    assert age_days(date(2026, 2, 17), date(2026, 2, 17)) == 0
    assert age_days(date(2024, 2, 28), date(2024, 3, 1)) == 2
    with pytest.raises(ValueError, match="before the birth"):
        age_days(date(2026, 2, 17), date(2026, 2, 16))


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2025, 7, 31), 7, date(2026, 3, 1)),
        (date(2023, 7, 31), 7, date(2024, 3, 1)),
        (date(2025, 12, 31), 2, date(2026, 3, 1)),
        (date(2025, 11, 30), 1, date(2025, 12, 30)),
        (date(2025, 1, 15), -1, date(2024, 12, 15)),
    ],
)
def test_a_month_that_lacks_the_day_rolls_to_the_first_after(
    day: date, months: int, expected: date
) -> None:
    assert add_months(day, months) == expected


def test_a_leap_day_rolls_to_the_first_of_march() -> None:
    assert add_years(date(2024, 2, 29), 1) == date(2025, 3, 1)
    assert add_years(date(2024, 2, 29), 4) == date(2028, 2, 29)


def test_what_is_off_the_calendar_is_refused() -> None:
    with pytest.raises(ValueError, match="off the calendar"):
        add_days(date(9999, 12, 1), 150)
    with pytest.raises(ValueError, match="off the calendar"):
        add_months(date(9999, 1, 1), 1)
    with pytest.raises(ValueError, match="off the calendar"):
        add_hours(datetime(9999, 12, 31, tzinfo=UTC), 96)
    with pytest.raises(ValueError, match=r"^9999-12-31 23:00 is off the calendar"):
        in_utc(datetime(9999, 12, 31, 23, tzinfo=ZoneInfo("America/New_York")))


def test_a_moment_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="no offset"):
        in_utc(datetime(2025, 3, 10, 6))


def test_hours_are_elapsed_time_across_daylight_saving() -> None:
    evening_before = datetime(2025, 3, 29, 18, tzinfo=BERLIN)
    assert add_hours(evening_before, 12).astimezone(BERLIN) == datetime(
        2025, 3, 30, 7, tzinfo=BERLIN
    )
    morning_after = datetime(2025, 3, 30, 6, tzinfo=BERLIN)
    assert hours_between(evening_before, morning_after) == 11


def test_a_part_of_a_microsecond_counts_whole() -> None:
    start = datetime(2025, 1, 1, tzinfo=UTC)
    assert add_hours(start, Fraction(1, 10**12)) == start + timedelta(microseconds=1)


def test_a_local_day_is_the_farms_day() -> None:
    assert local_day(datetime(2025, 3, 9, 23, 30, tzinfo=UTC), BERLIN) == date(2025, 3, 10)


def test_a_day_begins_and_ends_where_its_midnight_is_skipped_or_repeated() -> None:
    # Cuba skips 00:00-01:00 on 2025-03-09 and repeats 00:00-01:00 on 2025-11-02.
    assert day_begins(date(2025, 3, 9), HAVANA) == datetime(2025, 3, 9, 5, tzinfo=UTC)
    assert day_ends(date(2025, 3, 8), HAVANA) == datetime(2025, 3, 9, 5, tzinfo=UTC)
    assert day_begins(date(2025, 11, 2), HAVANA) == datetime(2025, 11, 2, 4, tzinfo=UTC)
    assert day_ends(date(2025, 11, 1), HAVANA) == datetime(2025, 11, 2, 5, tzinfo=UTC)
    assert day_ends(date(2025, 11, 2), HAVANA) == datetime(2025, 11, 3, 5, tzinfo=UTC)


@given(SOME_DAY, st.integers(-3000, 3000))
def test_adding_days_is_undone_by_taking_them_away(day: date, days: int) -> None:
    assert add_days(add_days(day, days), -days) == day


@given(SOME_DAY, st.integers(0, 400))
def test_months_never_come_round_early(day: date, months: int) -> None:
    later = add_months(day, months)
    assert later.day in (day.day, 1)
    assert (later.year - day.year) * 12 + later.month - day.month in (months, months + 1)


@given(SOME_DAY)
def test_a_day_lasts_from_its_beginning_to_its_end(day: date) -> None:
    assert local_day(day_begins(day, HAVANA), HAVANA) == day
    assert local_day(day_ends(day, HAVANA), HAVANA) == day + timedelta(days=1)
