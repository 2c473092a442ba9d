"""Times in a keeper's words: read off the farm's clock, and typed back to the same instant."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from herdsync.kinds.on import parse_on
from herdsync.projections import moments
from tests.farmyard import Yard
from tests.projections.board import due

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


def test_a_time_is_said_by_the_clock_on_the_farm_s_wall() -> None:
    assert moments.words("2026-11-24T03:20:00+00:00", BERLIN) == "2026-11-24 04:20"
    assert moments.words("2026-07-01T03:20:07Z", BERLIN) == "2026-07-01 05:20:07"
    assert [moments.words(one, BERLIN) for one in ("2026-02", "2026-02-22")] == [
        "2026-02", "2026-02-22",
    ]  # fmt: skip


def test_an_hour_the_clock_showed_twice_keeps_its_offset() -> None:
    # Clocks in Germany went back at 03:00 on 25 October 2026: 02:30 came twice.
    assert moments.words("2026-10-25T00:30:00Z", BERLIN) == "2026-10-25T02:30:00+02:00"
    assert moments.words("2026-10-25T01:30:00Z", BERLIN) == "2026-10-25T02:30:00+01:00"
    assert moments.words("2026-10-25T02:30:00Z", BERLIN) == "2026-10-25 03:30"


@given(st.integers(0, 3 * 366 * 86_400))
def test_what_is_said_can_be_typed_again(second: int) -> None:
    moment = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
    written = moments.text(moment, BERLIN)
    assert parse_on(moments.words(written, BERLIN), NOW, BERLIN) == written


def test_the_last_dose_is_told_by_the_wall_clock() -> None:
    yard = Yard()
    yard.write("house", "setting", key="zone", value="Europe/Berlin")
    doe = yard.animal("Opal", sex="doe", born="2020-03-01")
    drench = yard.write(
        "house", "product", substance="quillicillin", interval_h=[48, 0, "h"], course_doses=2
    )
    yard.write("house", "dose", animal=doe, product=drench, on="2026-11-29T06:45:00Z")
    told = due(yard, doe, "next-dose-2", "2026-12-01T12:00:00+01:00")
    assert told.reason.startswith("dose 2 of 2, last given 2026-11-29 07:45")
