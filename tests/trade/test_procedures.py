"""Hooves, disbudding, castration and their rechecks, each figure beside its source."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade import castration, disbudding, hooves
from herdsync.trade.castration import KeptAs, both_testes, decision, stone_risk, usual_age
from herdsync.trade.disbudding import KidSex, disbudding_age, disbudding_days, scur_growth
from herdsync.trade.law import (
    CASTRATION_LAW,
    CastrationLaw,
    Method,
    castration_law,
    disbudding_law,
    ring_last_day,
)
from herdsync.trade.maturity import able_to_conceive, able_to_sire, separation
from herdsync.trade.tetanus import TetanusHistory, tetanus_cover

BORN = date(2026, 2, 17)
DONE = date(2026, 2, 22)


def aged(days: int) -> date:
    return BORN + timedelta(days=days)


def test_next_trim_after_8_weeks_and_90_days_at_most() -> None:
    # Hoof-trimming articles: every two months, not under three a year (56 d; 90 d at most).
    days = hooves.next_trim(date(2025, 3, 10))
    assert (days.best, days.closes) == (date(2025, 5, 5), date(2025, 6, 8))
    for interval in (27, 91):
        with pytest.raises(ValueError, match="the trim interval in days must be 28 to 90"):
            hooves.next_trim(date(2025, 3, 10), interval)


def test_first_trim_and_rechecks() -> None:
    # Common practice, no published source: 8 to 12 weeks; 7 d after lameness, 14-21 d.
    assert hooves.first_trim(BORN).opens == date(2026, 4, 14)
    assert hooves.first_trim(BORN).closes == date(2026, 5, 12)
    assert hooves.lameness_recheck(DONE).on == date(2026, 3, 1)
    assert date(2026, 3, 8) in hooves.correction_recheck(DONE)
    assert hooves.correction_recheck(DONE).closes == date(2026, 3, 15)


def test_three_trims_a_year() -> None:
    trims = [date(2025, 3, 1), date(2025, 7, 1), date(2025, 11, 1)]
    assert hooves.trims_in_year(trims, date(2025, 12, 31)).advice == "ok"
    assert hooves.trims_in_year(trims, date(2026, 3, 1)).advice == "look"
    assert hooves.trims_in_year([trims[0]] * 3, date(2025, 12, 31)).advice == "look"


def test_gentle_handling_in_the_last_month() -> None:
    # Common practice, no published source.
    due = date(2026, 2, 17)
    assert hooves.handling_before_kidding(due, due - timedelta(days=30)).advice == "look"
    assert hooves.handling_before_kidding(due, due - timedelta(days=31)).advice == "ok"
    assert hooves.handling_before_kidding(due, due + timedelta(days=1)).advice == "ok"


def test_disbudding_window_of_a_kid_of_unknown_sex() -> None:
    # Shearer and Plummer, Iowa State University: ideal 4 to 7 d, late at 14 d.
    plan = disbudding_days(BORN, "unknown", "standard", "horned")
    assert plan.days is not None
    assert (plan.days.opens, plan.days.closes) == (date(2026, 2, 21), date(2026, 2, 24))
    assert plan.late_from == date(2026, 3, 3)
    assert plan.vet_from == date(2026, 3, 4)


@pytest.mark.parametrize(
    ("sex", "first", "last"), [("buck", 3, 7), ("doe", 4, 14), ("unknown", 4, 7)]
)
def test_disbudding_window_by_sex(sex: KidSex, first: int, last: int) -> None:
    # Niemann, Raising Goats Naturally: bucklings within the first week, doelings by two.
    plan = disbudding_days(BORN, sex, "standard", "horned")
    assert plan.days is not None
    assert (plan.days.opens, plan.days.closes) == (aged(first), aged(last))


def test_disbudding_window_of_a_miniature() -> None:
    # Common practice, no published source: 7 to 14 d, the bud must be felt.
    plan = disbudding_days(BORN, "buck", "miniature", "horned")
    assert plan.days is not None
    assert (plan.days.opens, plan.days.closes) == (aged(7), aged(14))
    assert "felt" in plan.reason


def test_a_polled_kid_is_not_disbudded() -> None:
    # Extension Goat Handbook, Management Techniques.
    assert disbudding_days(BORN, "doe", "standard", "polled").days is None
    assert "swirls" in disbudding_days(BORN, "doe", "standard", "unknown").reason


@pytest.mark.parametrize(
    ("age", "advice"), [(2, "look"), (3, "ok"), (13, "ok"), (14, "look"), (15, "stop")]
)
def test_past_14_days_it_is_dehorning(age: int, advice: str) -> None:
    # Shearer and Plummer, Iowa State University.
    assert disbudding_age(BORN, aged(age)).advice == advice


def test_the_iron_is_heated_and_proved_on_wood() -> None:
    # Common practice, no published source: 10 minutes, an even black smoking burn.
    assert disbudding.iron_ready(Decimal("9.9"), True).advice == "stop"
    assert disbudding.iron_ready(10, False).advice == "stop"
    assert disbudding.iron_ready(10, True).advice == "ok"


def test_ten_seconds_at_most() -> None:
    # Frontiers in Veterinary Science 7:568750, 2021; Extension Goat Handbook: about 10 s.
    assert disbudding.application(10).advice == "ok"
    assert disbudding.application(Decimal("10.5")).advice == "stop"
    with pytest.raises(ValueError, match="more than zero"):
        disbudding.application(0)


def test_bucklings_get_two_overlapping_applications() -> None:
    # Common practice, no published source.
    assert "towards the nose" in disbudding.applications_wanted("buck").reason
    assert "once" in disbudding.applications_wanted("doe").reason


def test_rechecks_after_disbudding() -> None:
    # Animals 2021, 11(2):430: skin closed in 5 to 9 weeks; checks are common practice.
    assert [due.on for due in disbudding.rechecks(DONE)] == [
        DONE + timedelta(days=days) for days in (1, 3, 7, 14)
    ]
    closed = disbudding.skin_closed(DONE)
    assert (closed.opens, closed.closes) == (date(2026, 3, 29), date(2026, 4, 26))
    assert [due.on for due in disbudding.scur_checks(DONE)] == [
        date(2026, 3, 22),
        date(2026, 4, 19),
        date(2026, 5, 17),
        date(2026, 8, 22),
    ]


def test_scur_growth() -> None:
    # Arithmetic.
    growth = scur_growth(date(2026, 1, 1), 10, date(2026, 3, 2), 16, towards_skull=False)
    assert (growth.growth_mm_per_30_days, growth.advice) == (Fraction(3), "look")
    inward = scur_growth(date(2026, 1, 1), 10, date(2026, 3, 2), 16, towards_skull=True, gap_mm=9)
    assert (inward.advice, inward.reaches_skin) == ("stop", date(2026, 5, 31))
    still = scur_growth(date(2026, 1, 1), 10, date(2026, 3, 2), 10, towards_skull=True, gap_mm=9)
    assert (still.advice, still.reaches_skin) == ("stop", None)
    slow = scur_growth(date(2000, 1, 1), 10, date(2020, 1, 1), 11, towards_skull=True, gap_mm=600)
    assert slow.reaches_skin is None
    with pytest.raises(ValueError, match="two different days"):
        scur_growth(DONE, 10, DONE, 12, towards_skull=False)


@pytest.mark.parametrize(
    ("country", "standing"),
    [
        ("GB", "veterinarian only"),
        ("DE", "veterinarian only"),
        ("AT", "forbidden"),
        ("CH", "allowed"),
        ("us", "allowed"),
        ("ZZ", "unknown"),
    ],
)
def test_disbudding_law(country: str, standing: str) -> None:
    # BMC Veterinary Research 2018, s12917-018-1544-7; Defra, Goats: Code (PB0081), note 4.
    assert disbudding_law(country).standing == standing


def test_ring_deadline_of_seven_days() -> None:
    # Northern Ireland Statutory Rules 2012/153, Schedule 4: a ring to 7 days of age.
    assert ring_last_day(BORN, CASTRATION_LAW["GB-NIR"]) == date(2026, 2, 24)


@pytest.mark.parametrize(
    ("method", "on", "standing"),
    [
        ("ring", date(2026, 2, 24), "allowed"),
        ("ring", date(2026, 2, 25), "veterinarian only"),
        ("clamp", date(2026, 4, 16), "allowed"),
        ("clamp", date(2026, 4, 17), "veterinarian only"),
        ("surgical", date(2026, 2, 20), "veterinarian only"),
    ],
)
def test_castration_law(method: Method, on: date, standing: str) -> None:
    # Defra, Goats: Code of Recommendations (PB0081), note 4: vet with anaesthetic from 2 months.
    note = castration_law("GB", method, BORN, on)
    assert note.standing == standing
    assert note.source


def test_an_unknown_law_says_so_and_the_farms_own_row_counts() -> None:
    assert castration_law("ZZ", "ring", BORN, DONE).standing == "unknown"
    own = CastrationLaw(ring_last_day=3, lay_under_months=1, source="the state's office, 2026")
    note = castration_law("ZZ", "ring", BORN, DONE, own)
    assert (note.standing, note.source) == ("veterinarian only", "the state's office, 2026")


@pytest.mark.parametrize(
    ("age", "kept_as", "advice"),
    [
        (7, "wether", "stop"),
        (55, "wether", "stop"),
        (56, "wether", "look"),
        (111, "undecided", "look"),
        (112, "wether", "ok"),
        (7, "meat", "ok"),
        (7, "sire", "ok"),
    ],
)
def test_stone_risk(age: int, kept_as: KeptAs, advice: str) -> None:
    # Common practice, no published source: 8 weeks at the earliest, better 16.
    assert stone_risk(age, kept_as).advice == advice


@pytest.mark.parametrize(
    ("method", "age", "advice"),
    [
        ("ring", 2, "look"),
        ("ring", 3, "ok"),
        ("ring", 22, "look"),
        ("clamp", 28, "ok"),
        ("surgical", 200, "ok"),
    ],
)
def test_usual_ages(method: Method, age: int, advice: str) -> None:
    # Langston University goat training, Castration: rings at 3 d to 3 weeks; clamp from memory.
    assert usual_age(method, age).advice == advice


def test_the_decision_lays_everything_out_and_names_no_age() -> None:
    answer = decision(BORN, aged(10), "wether", "GB", (), TetanusHistory())
    assert answer.opens == aged(3)
    assert [(method, note.standing) for method, note in answer.law] == [
        ("ring", "veterinarian only"),
        ("clamp", "allowed"),
        ("surgical", "veterinarian only"),
    ]
    assert answer.stones.advice == "stop"
    assert answer.apart.opens == aged(56)
    assert answer.tetanus.advice == "stop"
    assert answer.apart_advice.advice == "look"
    assert "no pen holds no females" in answer.apart_advice.reason


@pytest.mark.parametrize(
    ("age", "places", "advice"),
    [
        (10, ("buck shed",), "ok"),
        (56, ("buck shed",), "look"),
        (55, (), "look"),
        (56, (), "stop"),
    ],
)
def test_where_he_can_be(age: int, places: tuple[str, ...], advice: str) -> None:
    answer = decision(BORN, aged(age), "wether", "ZZ", places, TetanusHistory())
    assert answer.apart_advice.advice == advice


def test_a_ring_stays_on_only_with_both_testes_below() -> None:
    # Langston University goat training, Castration.
    assert both_testes(2).advice == "ok"
    assert both_testes(1).advice == "stop"
    with pytest.raises(ValueError, match="not 0, 1 or 2"):
        both_testes(3)


def test_ring_drop_and_checks() -> None:
    # Langston: off in 10 to 14 d. Common practice, no published source: 5 to 6 weeks.
    drop = castration.ring_drop(DONE)
    assert (drop.published.opens, drop.published.closes) == (date(2026, 3, 4), date(2026, 3, 8))
    assert (drop.keepers.opens, drop.keepers.closes) == (date(2026, 3, 29), date(2026, 4, 5))
    assert drop.overdue_after == date(2026, 4, 5)
    days = [(due.on - DONE).days for due in castration.ring_checks(DONE)]
    assert days == [1, 2, 3, 7, 14, 21, 28, 35, 42]
    # From memory: six weeks after the clamp.
    assert castration.clamp_check(DONE).on == date(2026, 4, 5)


@pytest.mark.parametrize(
    ("history", "covered"),
    [
        (TetanusHistory(antitoxin=(DONE,)), True),
        (TetanusHistory(antitoxin=(DONE - timedelta(days=1),)), False),
        (TetanusHistory(dam_boosted=(BORN - timedelta(days=14),)), True),
        (TetanusHistory(dam_boosted=(BORN - timedelta(days=42),)), True),
        (TetanusHistory(dam_boosted=(BORN - timedelta(days=13),)), False),
        (TetanusHistory(dam_boosted=(BORN - timedelta(days=43),)), False),
        (TetanusHistory(), False),
    ],
)
def test_tetanus_cover_in_the_first_week(history: TetanusHistory, covered: bool) -> None:
    # Common practice, no published source.
    assert (tetanus_cover(BORN, DONE, history).advice == "ok") is covered


def test_tetanus_cover_from_the_dam_ends_at_six_weeks() -> None:
    history = TetanusHistory(dam_boosted=(BORN - timedelta(days=30),))
    assert tetanus_cover(BORN, aged(42), history).advice == "ok"
    assert tetanus_cover(BORN, aged(43), history).advice == "stop"


@pytest.mark.parametrize(
    ("first", "second", "on", "covered"),
    [(42, 70, 84, True), (42, 70, 83, False), (42, 62, 84, False), (42, 42, 84, False)],
)
def test_a_series_counts_two_weeks_after_its_second_dose(
    first: int, second: int, on: int, covered: bool
) -> None:
    # Goat Vaccination Program: 21 d apart; two weeks before: from memory.
    history = TetanusHistory(toxoid=(aged(first), aged(second)))
    assert (tetanus_cover(BORN, aged(on), history).advice == "ok") is covered


def test_separation_by_eight_weeks() -> None:
    # Common practice, no published source: 8 weeks, overdue after 12.
    assert separation(BORN).opens == date(2026, 4, 14)
    assert separation(BORN).closes == date(2026, 5, 12)
    # Extension Goat Handbook, NAL 1992: a doeling can conceive from 3 months.
    assert able_to_conceive(BORN).on == date(2026, 5, 18)


def test_a_castrated_male_counts_as_entire_for_28_days() -> None:
    # From memory: fertile for 3 to 4 weeks.
    late = able_to_sire(BORN, castrated=aged(100))
    assert aged(128) in late
    assert aged(129) not in late
    assert aged(55) not in late
    assert aged(56) in late
    early = able_to_sire(BORN, castrated=aged(7))
    assert not any(aged(day) in early for day in range(200))
    assert aged(2000) in able_to_sire(BORN)


def test_maturity_settings_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="must be 42 to 150"):
        able_to_sire(BORN, able_days=41)
    with pytest.raises(ValueError, match="must be 21 to 56"):
        able_to_sire(BORN, fertile_days=20)
    with pytest.raises(ValueError, match="must be 42 to 150"):
        able_to_conceive(BORN, 200)
    with pytest.raises(ValueError, match="before the birth"):
        able_to_sire(BORN, castrated=BORN - timedelta(days=1))


@given(st.integers(0, 400), st.integers(0, 400))
def test_castrating_later_never_makes_a_male_safe_earlier(first: int, second: int) -> None:
    sooner, later = sorted((first, second))
    day = aged(sooner + 29)
    if day in able_to_sire(BORN, castrated=aged(sooner)):
        assert day in able_to_sire(BORN, castrated=aged(later))
