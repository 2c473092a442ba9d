"""Running clocks and courses: exact across daylight saving, never earlier for a late entry."""

from __future__ import annotations

from typing import Any

from herdsync.answers import Timer
from herdsync.projections.courses import dose_gap
from herdsync.projections.due import Rounds
from herdsync.projections.timers import timers
from tests.farmyard import START, Yard
from tests.projections.board import due, goat_of, herd_at, rounds_at, work


def clocks(yard: Yard, at: str, **asked: Any) -> dict[str, Timer]:
    rounds: Rounds = rounds_at(yard, at)
    return {timer.what: timer for timer in timers(rounds.herd, rounds.plan, **asked)}


def berlin() -> tuple[Yard, bytes]:
    yard = Yard()
    yard.write("house", "setting", key="zone", value="Europe/Berlin")
    return yard, yard.animal("Agate", sex="doe", born="2020-03-01")


def medicine(yard: Yard, **told: Any) -> bytes:
    id = yard.write("house", "product", substance="quillicillin", **told)
    yard.meet()
    return id


def test_the_next_dose_is_elapsed_hours_away() -> None:
    yard, agate = berlin()
    product = medicine(yard, interval_h=[12, 0, "h"], course_doses=4)
    yard.write("house", "dose", animal=agate, product=product, on="2026-03-28T20:00:00+01:00")
    timer = clocks(yard, "2026-03-29T08:00:00+02:00")["next dose of quillicillin"]
    assert timer.ends == "2026-03-29T09:00:00+02:00"
    assert timer.left_s == 3600
    line = due(yard, agate, "next-dose-2", "2026-03-29T08:00:00+02:00")
    # A sixth of the interval either way: common practice, no published source.
    assert (line.state, line.opens, line.closes) == (
        "open", "2026-03-29T07:00:00+02:00", "2026-03-29T11:00:00+02:00",
    )  # fmt: skip
    assert line.preset["product"]
    assert due(yard, agate, "next-dose-2", "2026-03-29T12:00:00+02:00").state == "late"


def test_a_course_ends_with_its_last_dose_or_when_stopped() -> None:
    yard, agate = berlin()
    product = medicine(yard)
    course = yard.write(
        "house", "course", animal=agate, product=product, on="2026-03-01T06:00:00+01:00",
        doses=2, interval_h=[24, 0, "h"],
    )  # fmt: skip
    at = "2026-03-01T07:00:00+01:00"
    assert due(yard, agate, "next-dose-1", at).due == "2026-03-01T06:00:00+01:00"
    yard.write("house", "dose", animal=agate, product=product, on="2026-03-01T06:10:00+01:00")
    assert due(yard, agate, "next-dose-2", at).due == "2026-03-02T06:10:00+01:00"
    yard.write(
        "house",
        "dose",
        animal=agate,
        product=product,
        on="2026-03-02T06:00:00+01:00",
        course=course,
    )
    assert work(yard, agate, "next-dose-3", "2026-03-02T07:00:00+01:00") is None
    longer = yard.write(
        "house", "course", animal=agate, product=product, on="2026-04-01", interval_h=[1, 0, "d"]
    )
    assert "next dose of quillicillin" in clocks(yard, "2026-04-01T07:00:00+02:00")
    yard.amend("house", longer, stopped=True)
    assert "next dose of quillicillin" not in clocks(yard, "2026-04-01T07:00:00+02:00")


def test_a_late_dose_puts_the_next_one_off_and_an_earlier_one_frees_nothing() -> None:
    yard, agate = berlin()
    product = medicine(yard, interval_h=[24, 0, "h"], course_doses=5)
    yard.write("house", "dose", animal=agate, product=product, on="2026-03-02T06:00:00+01:00")
    at = "2026-03-02T12:00:00+01:00"
    before = clocks(yard, at)["next dose of quillicillin"].ends
    yard.write("barn", "dose", animal=agate, product=product, on="2026-03-01T06:00:00+01:00")
    yard.meet()
    assert clocks(yard, at)["next dose of quillicillin"].ends == before
    yard.write("barn", "dose", animal=agate, product=product, on="2026-03-02T10:00:00+01:00")
    yard.meet()
    assert clocks(yard, at)["next dose of quillicillin"].ends == "2026-03-03T10:00:00+01:00"
    herd = herd_at(yard, at)
    early = dose_gap(goat_of(herd, agate), product, herd.look.moment)
    assert early is not None and "too early" in early.reason


def test_milk_and_meat_clear_run_until_the_hold_is_over() -> None:
    yard, agate = berlin()
    product = medicine(yard, milk_h=[96, 0, "h"], meat_d=[28, 0, "d"])
    yard.write("house", "kidding", doe=agate, on="2026-01-10")
    yard.write("house", "dose", animal=agate, product=product, on="2026-03-27T06:00:00+01:00")
    running = clocks(yard, "2026-03-31T06:00:00+02:00")
    assert running["milk clear"].ends == "2026-03-31T07:00:00+02:00"
    assert running["milk clear"].left_s == 3600
    assert running["milk clear"].since == "2026-03-27T06:00:00+01:00"
    assert running["meat clear"].ends == "2026-04-24T07:00:00+02:00"
    later = clocks(yard, "2026-03-31T07:00:01+02:00")
    assert "milk clear" not in later and "meat clear" in later


def test_rechecks_keep_the_time_of_day_across_daylight_saving() -> None:
    yard, _ = berlin()
    kid = yard.animal("Shale", sex="buck", born="2026-03-20", horns_born="horned")
    yard.write("house", "disbudding", animal=kid, on="2026-03-26T10:00:00+01:00")
    yard.write("house", "castration", animal=kid, on="2026-03-26", method="ring", complete=True)
    running = clocks(yard, "2026-03-28T12:00:00+01:00")
    # Day 3 after 2026-03-26; the clocks go forward that night.
    assert running["recheck of disbudding"].ends == "2026-03-29T10:00:00+02:00"
    assert running["recheck of disbudding"].left_s == 21 * 3600
    assert running["ring check"].ends == "2026-03-28T00:00:00+01:00"
    assert running["ring drop"].ends == "2026-05-07T00:00:00+02:00"


def test_a_timer_on_a_doubtful_clock_says_so() -> None:
    yard, agate = berlin()
    product = medicine(yard, interval_h=[12, 0, "h"], course_doses=4)
    clock = yard.devices["house"].clock
    assert clock > START
    stamped = clock.replace(minute=clock.minute + 1).isoformat()
    dose = yard.write("house", "dose", animal=agate, product=product, on=stamped)
    at = "2026-01-01T08:00:00+00:00"
    wrong = {dose}

    def doubtful(entry: bytes) -> bool:
        return entry in wrong

    assert clocks(yard, at, doubtful=doubtful)["next dose of quillicillin"].doubtful
    assert not clocks(yard, at)["next dose of quillicillin"].doubtful
    # A time that somebody typed rests on nobody's clock.
    yard.amend("house", dose, because="by the kitchen clock", on="2026-01-01T07:00:00+01:00")
    assert not clocks(yard, at, doubtful=lambda entry: True)["next dose of quillicillin"].doubtful


def test_a_look_on_the_day_of_the_kidding_has_until_that_day_is_over() -> None:
    yard, agate = berlin()
    # The clocks go forward on that night: the day ends at 00:00 summer time.
    yard.write("house", "kidding", doe=agate, on="2026-03-29T01:20:00+01:00")
    timer = clocks(yard, "2026-03-29T12:00:00+02:00")["recheck of kidding"]
    assert (timer.ends, timer.left_s) == ("2026-03-30T00:00:00+02:00", 12 * 3600)
