"""Hooves, disbudding, castration and their rechecks, each figure beside its source."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from herdsync.trade import disbudding, hooves, maturity
from herdsync.trade.castration import KeptAs, both_testes, decision, stone_risk, usual_age
from herdsync.trade.disbudding import disbudding_age, scur_growth
from herdsync.trade.law import (
    CASTRATION_LAW,
    CastrationLaw,
    Method,
    castration_law,
    disbudding_law,
    ring_last_day,
)
from herdsync.trade.maturity import separation
from herdsync.trade.tetanus import TetanusHistory, tetanus_cover

BORN = date(2026, 2, 17)
DONE = date(2026, 2, 22)


def aged(days: int) -> date:
    return BORN + timedelta(days=days)


@pytest.mark.parametrize(
    ("age", "advice"), [(2, "look"), (3, "ok"), (13, "ok"), (14, "look"), (15, "stop")]
)
def test_past_14_days_it_is_dehorning(age: int, advice: str) -> None:
    # Shearer and Plummer, Iowa State University.
    assert disbudding_age(BORN, aged(age)).advice == advice


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


def test_a_scur_that_just_begins_or_hardly_grows() -> None:
    # Arithmetic: 1 mm in 60 days is 1/2 mm in 30, so 3 mm take 180 days.
    first, later = date(2026, 1, 1), date(2026, 3, 2)
    began = scur_growth(first, 0, later, 1, towards_skull=False)
    assert (began.growth_mm_per_30_days, began.advice) == (Fraction(1, 2), "look")
    still = scur_growth(first, 8, later, 8, towards_skull=False)
    assert (still.growth_mm_per_30_days, still.advice) == (Fraction(0), "ok")
    inward = scur_growth(first, 7, later, 8, towards_skull=True, gap_mm=3)
    assert inward.reaches_skin == later + timedelta(days=180)
    assert f"reach the skin about {inward.reaches_skin}" in inward.reason
    touching = scur_growth(first, 7, later, 8, towards_skull=True, gap_mm=0)
    assert touching.reaches_skin == later
    unmeasured = scur_growth(first, 7, later, 8, towards_skull=True)
    assert (unmeasured.reaches_skin, "measure the gap" in unmeasured.reason) == (None, True)


def test_the_days_for_disbudding_lie_within_the_published_ones() -> None:
    # Shearer and Plummer, Iowa State University: 4 to 7 d are ideal. Niemann, Raising Goats
    # Naturally: bucklings within the first week, doelings by two weeks.
    latest = {sex: days[2] for sex, days in disbudding.WINDOW_DAYS.items()}
    assert latest == {"buck": 7, "doe": 14, "unknown": 7}
    assert all(4 <= best <= 7 for _, best, _ in disbudding.WINDOW_DAYS.values())


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
        ("clamp", date(2026, 2, 17), "allowed"),
        ("clamp", date(2026, 4, 16), "allowed"),
        ("clamp", date(2026, 4, 17), "veterinarian only"),
        ("surgical", date(2026, 2, 20), "veterinarian only"),
    ],
)
def test_castration_law(method: Method, on: date, standing: str) -> None:
    # Defra, Goats: Code of Recommendations (PB0081), note 4: vet with anaesthetic from 2 months.
    # Northern Ireland Statutory Rules 2012/153, Schedule 4: a ring to 7 d, others under 2 months.
    for country in ("GB", "GB-NIR"):
        note = castration_law(country, method, BORN, on)
        assert note.standing == standing
        assert note.source
        if standing == "allowed":
            last = {"ring": "2026-02-24", "clamp": "2026-04-16"}[method]
            assert note.text == f"by {method} up to and including {last}"


def test_an_unknown_law_says_so_and_the_farms_own_row_counts() -> None:
    unknown = castration_law("ZZ", "ring", BORN, DONE)
    assert (unknown.standing, "law of ZZ" in unknown.text) == ("unknown", True)
    unset = castration_law("", "ring", BORN, DONE)
    assert (unset.standing, "no country is set" in unset.text) == ("unknown", True)
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
        ("ring", 21, "ok"),
        ("ring", 22, "look"),
        ("clamp", 27, "look"),
        ("clamp", 28, "ok"),
        ("clamp", 122, "ok"),
        ("clamp", 123, "look"),
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
    assert "kept as wether" in answer.reason
    undecided = decision(BORN, aged(10), "undecided", "GB", (), TetanusHistory())
    assert "what he is kept as not decided" in undecided.reason


@pytest.mark.parametrize(
    ("age", "places", "advice"),
    [
        (10, ("buck shed",), "ok"),
        (55, ("buck shed",), "ok"),
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
    assert both_testes(0).advice == "stop"
    with pytest.raises(ValueError, match="not 0, 1 or 2"):
        both_testes(3)


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
    [
        (42, 70, 84, True),
        (42, 63, 77, True),
        (42, 62, 77, False),
        (42, 70, 83, False),
        (42, 62, 84, False),
        (42, 42, 84, False),
    ],
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


def test_eight_weeks_between_trims_four_to_thirteen() -> None:
    # Two hoof-trimming articles: look about every two months, at the latest every three; wet
    # ground asks for it in four to six weeks (a farm's page). Common practice otherwise.
    weeks = (hooves.TRIM_LEAST_DAYS / 7, hooves.TRIM_INTERVAL_DAYS / 7)
    assert weeks == (4, 8)
    assert hooves.TRIM_MOST_DAYS == 3 * 30


def test_when_kids_become_able_and_how_long_sperm_lives() -> None:
    # Extension Goat Handbook, NAL 1992: a doeling can conceive from 3 months. Tamil Nadu
    # Agricultural University: sexes apart at 3 to 5 months. 3 to 4 weeks of sperm: from memory;
    # no less than 6 weeks for being able, no more than 8 for sperm: ours.
    assert maturity.FEMALE_ABLE_DAYS == 3 * 30
    assert (maturity.ABLE_LEAST_DAYS, maturity.ABLE_MOST_DAYS) == (6 * 7, 5 * 30)
    fertile = (maturity.FERTILE_AFTER_LEAST_DAYS, maturity.FERTILE_AFTER_DAYS)
    assert fertile == (3 * 7, 4 * 7)
    assert maturity.FERTILE_AFTER_MOST_DAYS == 8 * 7
