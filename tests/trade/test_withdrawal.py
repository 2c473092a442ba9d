"""Milk and meat clear times. The rule is strict: saleable only after the clear instant.

Rows without a named source follow from that rule by arithmetic.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.withdrawal import (
    Clear,
    against_floor,
    cascade_meat_floor,
    cascade_milk_floor,
    first_meat_day,
    held_milkings,
    meat_clear,
    milk_clear,
    suckling_kid_hold,
)

LAST = datetime(2025, 3, 10, 6, tzinfo=UTC)
DAY = date(2025, 3, 10)
TWICE = (time(6), time(18))
BERLIN = ZoneInfo("Europe/Berlin")


def test_milk_clear_time() -> None:
    clear = milk_clear(LAST, 96, UTC)
    assert clear.at == datetime(2025, 3, 14, 6, tzinfo=UTC)
    assert not clear.saleable(datetime(2025, 3, 14, 6, tzinfo=UTC))
    assert clear.saleable(datetime(2025, 3, 14, 6, 0, 1, tzinfo=UTC))


@pytest.mark.parametrize(
    ("milk_h", "discarded", "first"), [(96, 8, (14, 18)), (36, 3, (12, 6)), (0, 0, (10, 18))]
)
def test_milkings_discarded(milk_h: int, discarded: int, first: tuple[int, int]) -> None:
    held = held_milkings(LAST, milk_clear(LAST, milk_h, UTC), TWICE, UTC)
    assert len(held.discarded) == discarded
    assert held.first_saleable == datetime(2025, 3, *first, tzinfo=UTC)


def test_milkings_of_a_day_without_a_time_all_count_as_after_the_dose() -> None:
    clear = milk_clear(DAY, 24, UTC)
    assert clear.at == datetime(2025, 3, 12, tzinfo=UTC)
    held = held_milkings(DAY, clear, TWICE, UTC)
    assert [milking.day for milking in held.discarded] == [10, 10, 11, 11]
    assert held.first_saleable == datetime(2025, 3, 12, 6, tzinfo=UTC)


def test_hours_of_a_hold_are_elapsed_hours_across_daylight_saving() -> None:
    last = datetime(2025, 3, 29, 6, tzinfo=BERLIN)
    clear = milk_clear(last, 24, BERLIN)
    assert clear.at == datetime(2025, 3, 30, 7, tzinfo=BERLIN)
    held = held_milkings(last, clear, TWICE, BERLIN)
    assert held.first_saleable == datetime(2025, 3, 30, 18, tzinfo=BERLIN)


def test_milking_times_must_be_given_and_a_hold_must_end() -> None:
    clear = milk_clear(LAST, 24, UTC)
    for times in ((), (time(6),) * 7):
        with pytest.raises(ValueError, match="give 1 to 6 milking times"):
            held_milkings(LAST, clear, times, UTC)
    with pytest.raises(ValueError, match="the end of this hold is not known"):
        held_milkings(LAST, Clear(None, "held until kidding"), TWICE, UTC)


def test_one_to_six_milkings_a_day_and_one_at_midnight() -> None:
    clear = milk_clear(LAST, 24, UTC)
    for times in ((time(6),), tuple(time(hour) for hour in range(0, 24, 4))):
        assert held_milkings(LAST, clear, times, UTC).first_saleable > LAST + timedelta(hours=24)
    # Of a bare date the milking at its first moment counts as after the dose too.
    held = held_milkings(DAY, milk_clear(DAY, 0, UTC), (time(0), time(12)), UTC)
    assert held.discarded[0] == datetime(2025, 3, 10, tzinfo=UTC)


def test_meat_clear_time() -> None:
    clear = meat_clear(LAST, 28, UTC)
    assert clear.at == datetime(2025, 4, 7, 6, tzinfo=UTC)
    assert "unknown" not in clear.reason


def test_only_a_time_that_is_not_known_is_told_as_unknown() -> None:
    assert "time is unknown" in milk_clear(DAY, 24, UTC).reason
    assert "time is unknown" not in milk_clear(LAST, 24, UTC).reason


def test_the_reason_names_the_clock_on_the_wall() -> None:
    # Berlin keeps UTC+1 in winter (IANA time zone database).
    assert milk_clear(LAST, 24, BERLIN).reason.endswith("the last dose at 2025-03-10 07:00")
    assert "the last dose at 2025-03-10," in milk_clear(DAY, 24, BERLIN).reason


def test_meat_clear_date_of_an_unknown_time() -> None:
    assert first_meat_day(DAY, 28) == date(2025, 4, 8)
    clear = meat_clear(DAY, 28, UTC)
    assert clear.at == datetime(2025, 4, 8, tzinfo=UTC)
    assert "time unknown" in clear.reason
    # Clocks in Berlin go forward on 2025-03-30 and back on 2025-10-26.
    assert meat_clear(DAY, 28, BERLIN).at == datetime(2025, 4, 8, 1, tzinfo=BERLIN)
    assert meat_clear(date(2025, 10, 10), 28, BERLIN).at == datetime(2025, 11, 8, tzinfo=BERLIN)


def test_counted_from_kidding_or_the_later() -> None:
    # Common practice, no published source: labels of products given at drying off.
    kidded = datetime(2025, 3, 20, 6, tzinfo=UTC)
    from_kidding = milk_clear(LAST, 24, UTC, counted_from="kidding", kidded=kidded)
    assert from_kidding.at == kidded + timedelta(hours=24)
    later = milk_clear(LAST, 24, UTC, counted_from="later", kidded=kidded)
    assert later.at == kidded + timedelta(hours=24)
    earlier = kidded - timedelta(days=30)
    assert milk_clear(LAST, 24, UTC, counted_from="later", kidded=earlier).at == LAST + timedelta(
        hours=24
    )


def test_milk_stays_held_while_the_kidding_it_counts_from_is_not_known() -> None:
    for clear in (
        milk_clear(LAST, 24, UTC, counted_from="kidding"),
        milk_clear(LAST, 24, UTC, counted_from="later"),
        milk_clear(LAST, 24, UTC, counted_from="kidding", kidded=LAST - timedelta(days=1)),
    ):
        assert clear.at is None
        assert not clear.saleable(LAST + timedelta(days=3000))


def test_a_kidding_known_by_its_day_counts_from_its_end() -> None:
    clear = milk_clear(DAY, 24, UTC, counted_from="kidding", kidded=DAY)
    assert clear.at == datetime(2025, 3, 12, tzinfo=UTC)


def test_a_suckling_kid_takes_over_its_dams_meat_hold() -> None:
    # Common practice, no published source.
    dam = meat_clear(LAST, 28, UTC)
    assert suckling_kid_hold(dam).at == dam.at


@pytest.mark.parametrize(("longest", "floor"), [(96, 144), (None, 168), (0, 24), (25, "37.5")])
def test_c067_c068_uk_cascade_milk_floor(longest: int | None, floor: int | str) -> None:
    # Veterinary Medicines Regulations 2013 (UK), Schedule 4 para 2 as amended.
    assert cascade_milk_floor(longest).milk_h == Fraction(floor)


@pytest.mark.parametrize(("longest", "floor"), [(28, 42), (None, 28), (0, 1)])
def test_uk_cascade_meat_floor(longest: int | None, floor: int) -> None:
    # Same regulations, from memory.
    assert cascade_meat_floor(longest).meat_d == floor


def test_the_floor_is_a_check_on_what_was_written() -> None:
    milk, meat = cascade_milk_floor(96), cascade_meat_floor(None)
    assert against_floor(milk, milk_h=144).advice == "ok"
    assert against_floor(milk, milk_h=143).advice == "stop"
    assert "nothing is written" in against_floor(milk, meat_d=30).reason
    assert against_floor(meat, meat_d=28).advice == "ok"
    assert against_floor(meat, meat_d=27).advice == "stop"


def test_periods_no_label_has_are_refused() -> None:
    with pytest.raises(ValueError, match="must be 0 to 8784, not -1; read the label again"):
        milk_clear(LAST, -1, UTC)
    with pytest.raises(ValueError, match="must be 0 to 1098, not 2000"):
        meat_clear(LAST, 2000, UTC)
    assert milk_clear(LAST, 8784, UTC).at == LAST + timedelta(hours=8784)
    assert meat_clear(LAST, 1098, UTC).at == LAST + timedelta(days=1098)
    with pytest.raises(ValueError, match="no offset"):
        milk_clear(datetime(2025, 3, 10, 6), 24, UTC)


DOSES = st.lists(
    st.tuples(st.integers(0, 2000), st.integers(0, 400), st.booleans()), min_size=1, max_size=8
)


def _clear(hour: int, milk_h: int, dated: bool) -> Clear:
    at = LAST + timedelta(hours=hour)
    return milk_clear(at.date() if dated else at, milk_h, BERLIN)


@given(st.integers(0, 2000), st.integers(0, 400))
def test_not_knowing_the_time_of_day_never_frees_milk_or_meat_early(hour: int, period: int) -> None:
    at = (LAST + timedelta(hours=hour)).astimezone(BERLIN)
    for clear in (milk_clear, meat_clear):
        known, unknown = clear(at, period, BERLIN).at, clear(at.date(), period, BERLIN).at
        assert known is not None
        assert unknown is not None
        assert unknown >= known


@given(st.integers(0, 24 * 60), st.integers(0, 400))
def test_every_milking_up_to_the_clear_instant_is_discarded(minute: int, milk_h: int) -> None:
    last = LAST + timedelta(minutes=minute)
    clear = milk_clear(last, milk_h, BERLIN)
    held = held_milkings(last, clear, TWICE, BERLIN)
    assert clear.at is not None
    assert all(last < milking <= clear.at for milking in held.discarded)
    assert held.first_saleable > clear.at
    assert held.first_saleable - clear.at <= timedelta(hours=13)
