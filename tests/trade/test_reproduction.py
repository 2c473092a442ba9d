"""Breeding dates against handbook figures.

Gestation of 150 days: Extension Goat Handbook, NAL 1992, D-6, and Storey's Guide to Raising Dairy
Goats, 5th ed., ch. 64 (145 to 155). Dates that follow from them were computed independently.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.reproduction import (
    Horns,
    PregnancyTest,
    Size,
    dry_off,
    earlier_may_have_held,
    fertile_heat_after_buck,
    first_breeding,
    first_kidding_weight,
    gestation_found,
    heat_interval,
    heat_return,
    kidding_due,
    litter_shift_days,
    pen_kidding_due,
    polled_pair,
    pre_kidding_booster,
    pregnancy_check_due,
    pregnancy_test_timing,
    standing_heat,
    watch_from,
)


@pytest.mark.parametrize(
    ("bred", "size", "due"),
    [
        ("2025-01-01", "standard", "2025-05-31"),
        ("2024-01-01", "standard", "2024-05-30"),
        ("2027-10-02", "standard", "2028-02-29"),
        ("2027-10-01", "standard", "2028-02-28"),
        ("2027-11-01", "standard", "2028-03-30"),
        ("2025-09-20", "standard", "2026-02-17"),
        ("2025-09-20", "miniature", "2026-02-12"),
    ],
)
def test_c001_to_c006_due_date_across_leap_days_and_year_ends(
    bred: str, size: Size, due: str
) -> None:
    assert kidding_due(date.fromisoformat(bred), size).best == date.fromisoformat(due)


# Perpetual table for years without a leap day: bred, then 150, 145 and 155 days on.
PERPETUAL = """
01-01 05-31 05-26 06-05
02-01 07-01 06-26 07-06
03-01 07-29 07-24 08-03
04-01 08-29 08-24 09-03
05-01 09-28 09-23 10-03
06-01 10-29 10-24 11-03
07-01 11-28 11-23 12-03
08-01 12-29 12-24 01-03
09-01 01-29 01-24 02-03
10-01 02-28 02-23 03-05
11-01 03-31 03-26 04-05
12-01 04-30 04-25 05-05
"""


@pytest.mark.parametrize("row", PERPETUAL.split("\n")[1:-1])
def test_perpetual_gestation_table(row: str) -> None:
    bred, due, opens, closes = row.split()
    days = kidding_due(date.fromisoformat(f"2025-{bred}"), "standard")
    shown = [f"{day:%m-%d}" for day in (days.best or days.opens, days.opens, days.closes)]
    assert shown == [due, opens, closes]


def test_kidding_window() -> None:
    # Storey's Guide to Raising Dairy Goats, 5th ed., ch. 64: 145 to 155 days.
    days = kidding_due(date(2025, 9, 20), "standard")
    assert (days.opens, days.closes) == (date(2026, 2, 12), date(2026, 2, 22))
    assert "the whole window counts" not in days.reason
    assert "the whole window counts" in kidding_due(date(2025, 9, 20), "miniature").reason


def test_the_farms_own_gestation_is_taken_within_its_range_and_refused_outside() -> None:
    assert kidding_due(date(2025, 1, 1), "standard", 152).best == date(2025, 6, 2)
    for days in (144, 156):
        with pytest.raises(ValueError, match="the gestation in days must be 145 to 155"):
            kidding_due(date(2025, 1, 1), "standard", days)
    with pytest.raises(ValueError, match="145 to 153"):
        kidding_due(date(2025, 1, 1), "miniature", 155)


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.sampled_from(["standard", "miniature"]))
def test_the_due_date_lies_within_its_window(bred: date, size: Size) -> None:
    days = kidding_due(bred, size)
    assert days.best is not None
    assert days.opens <= days.best <= days.closes
    for day in (days.opens, days.best, days.closes):
        assert gestation_found(bred, day, size).advice == "ok"
    assert gestation_found(bred, days.closes + timedelta(days=1), size).advice == "look"
    assert gestation_found(bred, days.opens - timedelta(days=1), size).advice == "look"


def test_pen_mating_spans_from_first_to_last_day_and_has_a_best_day_only_after_a_mount() -> None:
    days = pen_kidding_due(date(2025, 9, 20), date(2025, 10, 31), "standard")
    assert (days.opens, days.best, days.closes) == (date(2026, 2, 12), None, date(2026, 4, 4))
    seen = pen_kidding_due(date(2025, 9, 20), date(2025, 10, 31), "standard", date(2025, 9, 20))
    assert seen.best == date(2026, 2, 17)
    assert seen.reason.endswith("; a mount was seen 2025-09-20")
    assert days.reason.endswith("; no mount was seen, so no best day")
    last = pen_kidding_due(date(2025, 9, 20), date(2025, 10, 31), "standard", date(2025, 10, 31))
    assert last.best == date(2026, 3, 30)


def test_pen_mating_days_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(ValueError, match="before the day the buck was put in"):
        pen_kidding_due(date(2025, 9, 20), date(2025, 9, 19), "standard")
    with pytest.raises(ValueError, match="outside the stay"):
        pen_kidding_due(date(2025, 9, 20), date(2025, 9, 25), "standard", date(2025, 9, 26))


def test_heat_return() -> None:
    # Merck Veterinary Manual, Puberty and Estrus in Goats: 21 days, 18 to 24.
    days = heat_return(date(2025, 9, 20))
    assert (days.opens, days.best, days.closes) == (
        date(2025, 10, 8),
        date(2025, 10, 11),
        date(2025, 10, 14),
    )
    with pytest.raises(ValueError, match="must be 18 to 24, not 17"):
        heat_return(date(2025, 9, 20), 17)


@pytest.mark.parametrize(
    ("days", "advice"), [(6, "look"), (16, "look"), (17, "ok"), (24, "ok"), (25, "look")]
)
def test_heat_interval(days: int, advice: str) -> None:
    # Merck Veterinary Manual notes short cycles; the cut at 17 d: common practice, no published
    # source.
    first = date(2025, 9, 20)
    assert heat_interval(first, first + timedelta(days=days)).advice == advice


def test_standing_heat() -> None:
    # Merck Veterinary Manual: 24 to 48 h, about 36.
    heat = standing_heat(datetime(2025, 9, 20, 6, tzinfo=UTC))
    assert heat.earliest_end == datetime(2025, 9, 21, 6, tzinfo=UTC)
    assert heat.expected_end == datetime(2025, 9, 21, 18, tzinfo=UTC)
    assert heat.latest_end == datetime(2025, 9, 22, 6, tzinfo=UTC)


def test_buck_effect() -> None:
    # NC State Extension: first heat after 2 to 3 days, the fertile one about 5 days later.
    days = fertile_heat_after_buck(date(2025, 8, 1))
    assert (days.opens, days.closes) == (date(2025, 8, 8), date(2025, 8, 9))


def test_watch_and_dry_off() -> None:
    # Storey's Guide, ch. 64: watch from day 140. Ontario Goat, Dry off management: 60 days.
    assert watch_from(date(2025, 9, 20)).on == date(2026, 2, 7)
    assert dry_off(date(2026, 2, 17)).on == date(2025, 12, 19)
    assert dry_off(date(2026, 2, 17), 45).on == date(2026, 1, 3)
    for days in (27, 61):
        with pytest.raises(ValueError, match="the dry period in days must be 28 to 60"):
            dry_off(date(2026, 2, 17), days)


def test_pre_kidding_booster() -> None:
    # Goat Vaccination Program, NC State-origin extension text: about 30 d, 2 to 6 weeks before.
    days = pre_kidding_booster(date(2026, 2, 17))
    assert (days.opens, days.best, days.closes) == (
        date(2026, 1, 6),
        date(2026, 1, 18),
        date(2026, 2, 3),
    )
    with pytest.raises(ValueError, match="must be 14 to 42, not 43"):
        pre_kidding_booster(date(2026, 2, 17), 43)


def test_pregnancy_check() -> None:
    # From 30 to 35 days; scan to 60: from memory.
    days = pregnancy_check_due(date(2025, 9, 20))
    assert (days.opens, days.best, days.closes) == (
        date(2025, 10, 20),
        date(2025, 10, 25),
        date(2025, 11, 19),
    )


@pytest.mark.parametrize(
    ("test", "day", "advice"),
    [
        ("scan", 29, "look"),
        ("scan", 30, "ok"),
        ("blood-or-milk", 30, "ok"),
        ("estrone-sulfate", 34, "look"),
        ("estrone-sulfate", 35, "ok"),
        ("return-to-heat", 25, "look"),
    ],
)
def test_a_test_done_too_early_proves_nothing(test: PregnancyTest, day: int, advice: str) -> None:
    # Estrone sulfate from about 35 d: small-animal raising handbook; the others from memory.
    served = date(2025, 9, 20)
    assert pregnancy_test_timing(served, served + timedelta(days=day), test).advice == advice


BORN = date(2025, 3, 1)


@pytest.mark.parametrize(
    ("on", "weight_kg", "mature_kg", "ready"),
    [
        (date(2025, 9, 30), "40", "60", False),
        (date(2025, 10, 1), "42", "60", True),
        (date(2025, 10, 1), "41.9", "60", False),
        (date(2025, 10, 1), "36.29", None, True),
        (date(2025, 10, 1), "36.28", None, False),
        (date(2025, 10, 1), None, "60", False),
    ],
)
def test_a_doeling_needs_both_age_and_weight(
    on: date, weight_kg: str | None, mature_kg: str | None, ready: bool
) -> None:
    # Extension Goat Handbook, NAL 1992, and C. Lewis DVM: 7 months and 70 %, or about 80 lb.
    answer = first_breeding(
        BORN,
        on,
        "standard",
        Decimal(weight_kg) if weight_kg else None,
        Decimal(mature_kg) if mature_kg else None,
    )
    assert answer.ready is ready
    assert answer.old_enough_on == date(2025, 10, 1)


def test_breeding_weight_is_seven_tenths_of_mature() -> None:
    answer = first_breeding(BORN, date(2025, 10, 1), "standard", 30, 65)
    assert answer.needed_kg == Fraction("45.5")
    assert "she weighs 30 of the 45.5 kg needed" in answer.reason


def test_a_miniature_without_a_mature_weight_cannot_be_judged() -> None:
    answer = first_breeding(BORN, date(2026, 3, 1), "miniature", 20, None)
    assert (answer.ready, answer.needed_kg) == (False, None)


def test_breeding_settings_outside_the_published_range_are_refused() -> None:
    for settings in ({"least_months": 6}, {"least_months": 11}, {"percent": 59}, {"percent": 76}):
        with pytest.raises(ValueError, match="correct the figure"):
            first_breeding(BORN, date(2026, 3, 1), "standard", 40, 60, **settings)
    # 60 to 75 %, 7 to 10 months.
    for least_months, percent, needed in ((7, 60, 36), (10, 75, 45)):
        answer = first_breeding(
            BORN,
            date(2026, 3, 1),
            "standard",
            40,
            60,
            least_months=least_months,
            percent=percent,
        )
        assert answer.needed_kg == needed


def test_first_kidding_weight() -> None:
    # Extension Goat Handbook, NAL 1992, and a Wisconsin guide: about 45 kg.
    assert first_kidding_weight(45).advice == "ok"
    assert first_kidding_weight(Decimal("44.9")).advice == "look"


@pytest.mark.parametrize(
    ("sire", "dam", "advice"),
    [
        ("polled", "polled", "stop"),
        ("polled", "horned", "ok"),
        ("horned", "unknown", "ok"),
        ("polled", "unknown", "look"),
        ("unknown", "unknown", "look"),
    ],
)
def test_two_polled_parents_are_warned_of(sire: Horns, dam: Horns, advice: str) -> None:
    # Polled intersex syndrome, Pailhoux et al. 2001: from memory.
    assert polled_pair(sire, dam).advice == advice


def test_a_larger_litter_comes_a_little_sooner() -> None:
    # Amoah et al. 1996, J. Anim. Sci. 74:723-728 (abstract): -0.92 d a kid about a mean litter of 1.85.
    assert litter_shift_days(1) == Fraction("0.782")
    assert litter_shift_days(3) == Fraction("-1.058")
    assert litter_shift_days(4) - litter_shift_days(3) == Fraction("-0.92")
    for wrong in (0, 13):
        with pytest.raises(ValueError):
            litter_shift_days(wrong)


def test_a_second_service_in_a_later_heat_says_that_the_first_failed() -> None:
    # Short cycles under 17 days: Merck Veterinary Manual; the rest: common practice.
    first = date(2028, 2, 20)
    for later, in_heat, held in (
        (date(2028, 3, 7), True, True),
        (date(2028, 3, 8), True, False),
        (date(2028, 3, 8), False, True),
    ):
        assert earlier_may_have_held(first, later, in_heat=in_heat) is held
    with pytest.raises(ValueError, match="before the service"):
        earlier_may_have_held(first, date(2028, 2, 19), in_heat=True)
