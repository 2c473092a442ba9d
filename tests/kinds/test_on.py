"""The time of an act: RFC 3339, the calendar, and clocks that change."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.faults import Refused
from herdsync.kinds.on import check_on, day, parse_date, parse_on, span

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 2, 22, 5, 30, tzinfo=UTC)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[arg-type,misc]


# RFC 3339 (IETF, 2002) section 5.8 prints these with what they mean in UTC.
RFC_3339 = {
    "1985-04-12T23:20:50.52Z": datetime(1985, 4, 12, 23, 20, 50, 520_000, UTC),
    "1996-12-19T16:39:57-08:00": datetime(1996, 12, 20, 0, 39, 57, 0, UTC),
}


@pytest.mark.parametrize(("text", "instant"), RFC_3339.items())
def test_moments_of_rfc_3339(text: str, instant: datetime) -> None:
    assert span(text, BERLIN) == (instant, instant)


@pytest.mark.parametrize(
    "text",
    [
        # Section 5.8 of RFC 3339 allows leap seconds; an instant of ours cannot hold one.
        "1990-12-31T23:59:60Z",
        "2026-02-30",
        "2025-02-29",
        "2026-13",
        "2026-00",
        "1969-12-31",
        "2201-01-01",
        "2026-2-3",
        "2026-02-22T06:30:00",
        "2026-02-22T24:00:00Z",
        "2026-02-22T06:30:00+25:00",
        "2026-02-22T06:30Z",
        "2026-02-22 06:30:00Z",
        "2026-W08",
        "20260222",
        "２０２６-02-22",
        "2026-02-22\n",
        "",
        "now",
    ],
)
def test_what_is_no_time(text: str) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        check_on(text)


def test_a_date_runs_from_midnight_to_midnight_of_the_farm() -> None:
    earliest, latest = span("2026-02-22", BERLIN)
    assert earliest == utc(2026, 2, 21, 23)
    assert latest == utc(2026, 2, 22, 22, 59, 59, 999_000)


def test_a_month_runs_to_its_own_end() -> None:
    assert span("2028-02", ZoneInfo("UTC")) == (
        utc(2028, 2, 1),
        utc(2028, 2, 29, 23, 59, 59, 999_000),
    )
    assert span("2026-12", ZoneInfo("UTC"))[1] == utc(2026, 12, 31, 23, 59, 59, 999_000)


# European Union summer time 2026 (Directive 2000/84/EC: last Sundays of March and October, 01:00
# UTC): the first of these days has 23 hours, the second 25.
@pytest.mark.parametrize(("text", "hours"), [("2026-03-29", 23), ("2026-10-25", 25)])
def test_days_when_clocks_change(text: str, hours: int) -> None:
    earliest, latest = span(text, BERLIN)
    assert latest - earliest + timedelta(milliseconds=1) == timedelta(hours=hours)


def test_day_is_that_of_the_earliest_instant_on_the_farm() -> None:
    assert day("2026-02-21T23:30:00Z", BERLIN) == date(2026, 2, 22)
    assert day("2026-02-22", BERLIN) == date(2026, 2, 22)
    assert day("2026-02", BERLIN) == date(2026, 2, 1)


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("now", "2026-02-22T06:30:00+01:00"),
        ("Today", "2026-02-22"),
        ("yesterday", "2026-02-21"),
        ("tomorrow", "2026-02-23"),
        ("06:15", "2026-02-22T06:15:00+01:00"),
        ("2026-07-01 06:15", "2026-07-01T06:15:00+02:00"),
        ("2026-07-01T06:15:20", "2026-07-01T06:15:20+02:00"),
        ("2026-02-22T05:30:00Z", "2026-02-22T06:30:00+01:00"),
        ("2026-02-22t05:30:00z", "2026-02-22T06:30:00+01:00"),
        (" 2026-02 ", "2026-02"),
        ("2026-02-22", "2026-02-22"),
    ],
)
def test_what_keepers_type(typed: str, written: str) -> None:
    assert parse_on(typed, NOW, BERLIN) == written
    check_on(written)


def test_a_day_that_a_zone_skipped_still_spans_forwards() -> None:
    earliest, latest = span("2011-12-30", ZoneInfo("Pacific/Apia"))
    assert earliest == latest == utc(2011, 12, 30, 10)


def test_today_is_the_farms_day() -> None:
    late = datetime(2026, 2, 21, 23, 30, tzinfo=UTC)
    assert parse_on("today", late, BERLIN) == "2026-02-22"
    assert parse_date("today", late, ZoneInfo("America/Chicago")) == "2026-02-21"


@pytest.mark.parametrize(
    "typed",
    ["2026-02-30", "22.02.2026", "1969-12-31", "2201-01-01", "soon", "", "25:00", "02:30 pm",
     "2026-02-30 06:30", "1970-01-01T00:00:00+14:00", "x" * 10_000],
)  # fmt: skip
def test_refusals_are_sentences_with_a_mend(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_on(typed, NOW, ZoneInfo("UTC"))
    assert refused.value.what.endswith(".")
    assert refused.value.mend
    assert len(str(refused.value)) < 300


def test_a_time_the_clocks_skipped_is_refused() -> None:
    with pytest.raises(Refused, match="skipped"):
        parse_on("2026-03-29 02:30", NOW, BERLIN)


def test_a_time_that_came_twice_is_asked_back() -> None:
    with pytest.raises(Refused) as refused:
        parse_on("2026-10-25 02:30", NOW, BERLIN)
    assert "2026-10-25T02:30:00+02:00" in refused.value.mend
    assert "2026-10-25T02:30:00+01:00" in refused.value.mend


@pytest.mark.parametrize("typed", ["2026-02", "yesterday and more", "2026-02-29", "06:30"])
def test_dates_are_dates_alone(typed: str) -> None:
    with pytest.raises(Refused):
        parse_date(typed, NOW, BERLIN)


@given(
    st.dates(date(1970, 1, 1), date(2200, 12, 31)),
    st.sampled_from(["UTC", "Europe/Berlin", "America/Sao_Paulo", "Pacific/Apia", "Asia/Tehran"]),
)
def test_days_follow_each_other_without_gap_or_overlap(one: date, zone: str) -> None:
    place = ZoneInfo(zone)
    earliest, latest = span(one.isoformat(), place)
    assert earliest <= latest
    # Samoa had no 30 December 2011: it moved across the date line (IANA time zone database).
    if one.year < 2200 and (zone, one) != ("Pacific/Apia", date(2011, 12, 30)):
        following = span((one + timedelta(days=1)).isoformat(), place)[0]
        assert following - latest == timedelta(milliseconds=1)


@given(st.datetimes(datetime(1971, 1, 1), datetime(2199, 1, 1)), st.integers(-840, 840))
def test_any_moment_typed_is_the_same_instant_written(bare: datetime, minutes: int) -> None:
    sign, off = ("-" if minutes < 0 else "+"), abs(minutes)
    typed = f"{bare:%Y-%m-%dT%H:%M:%S}{sign}{off // 60:02}:{off % 60:02}"
    written = parse_on(typed, NOW, BERLIN)
    assert datetime.fromisoformat(written) == datetime.fromisoformat(typed)
    assert span(written, BERLIN) == span(typed, BERLIN)
