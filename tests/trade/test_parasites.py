"""Eyelid score, packed cell volume classes, condition score and egg counts."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from herdsync.trade.advice import Advice
from herdsync.trade.condition import ConditionReading, condition_change, condition_score
from herdsync.trade.egg_count import egg_count, factor_epg, suspension_ml
from herdsync.trade.parasites import (
    EyelidCase,
    judge_eyelid,
    score_from_packed_cell_volume,
)


@pytest.mark.parametrize(("pcv", "score"), [(28, 1), (25, 2), (20, 3), (15, 4), (12, 5)])
def test_c047_score_from_packed_cell_volume(pcv: int, score: int) -> None:
    # Brazilian dairy-goat field study, 2009-10.
    assert score_from_packed_cell_volume(pcv) == score


@pytest.mark.parametrize(
    ("pcv", "score"),
    [("27.5", 1), ("27.4", 2), ("22.5", 2), ("22.4", 3), ("17.5", 3), ("17.4", 4),
     ("12.5", 4), ("12.4", 5)],
)  # fmt: skip
def test_packed_cell_volume_is_rounded_before_it_is_classed(pcv: str, score: int) -> None:
    assert score_from_packed_cell_volume(Decimal(pcv)) == score


@pytest.mark.parametrize("pcv", [0, -3, 71])
def test_impossible_packed_cell_volume_is_refused(pcv: int) -> None:
    with pytest.raises(ValueError, match="packed cell volume"):
        score_from_packed_cell_volume(pcv)


@pytest.mark.parametrize(
    ("score", "action"), [(1, "leave"), (2, "leave"), (3, "decide"), (4, "treat"), (5, "treat now")]
)
def test_action_by_score_alone(score: int, action: str) -> None:
    # Field-test reports: 1-2 leave, 4-5 treat, 3 by judgement.
    answer = judge_eyelid(EyelidCase(score), worm_season=True)
    # Every two weeks while worms are about; a pale one after a week: common practice.
    assert (answer.action, answer.look_again_days) == (action, 14 if score < 3 else 7)
    assert "veterinarian" in answer.caution
    # Rovai, Gipson and Dawson 2007, J. Anim. Sci. 85 Suppl. 1:43.
    assert "21 % were false alarms" in answer.caution


@pytest.mark.parametrize(
    "case",
    [
        EyelidCase(3, kid=True),
        EyelidCase(3, late_pregnant=True),
        EyelidCase(3, fresh=True),
        EyelidCase(3, condition=2),
        EyelidCase(3, previous_score=2),
        EyelidCase(3, previous_score=1),
        EyelidCase(3, herd_share_pale=Fraction(11, 100)),
    ],
)
def test_each_circumstance_tips_a_three(case: EyelidCase) -> None:
    answer = judge_eyelid(case, worm_season=False)
    assert (answer.action, len(answer.because), answer.look_again_days) == ("treat", 1, 7)


def test_what_does_not_tip_a_three() -> None:
    case = EyelidCase(
        3, previous_score=4, condition=Decimal("2.5"), herd_share_pale=Fraction(1, 10)
    )
    assert judge_eyelid(case, worm_season=True).action == "decide"
    same = EyelidCase(3, previous_score=3)
    assert judge_eyelid(same, worm_season=True).action == "decide"


@pytest.mark.parametrize(
    "case",
    [
        EyelidCase(0),
        EyelidCase(6),
        EyelidCase(3, previous_score=6),
        EyelidCase(3, previous_score=0),
        EyelidCase(3, herd_share_pale=2),
        EyelidCase(3, condition=Decimal("2.25")),
    ],
)
def test_impossible_cases_are_refused(case: EyelidCase) -> None:
    with pytest.raises(ValueError):
        judge_eyelid(case, worm_season=True)


def _reading(day: date, score: str) -> ConditionReading:
    return ConditionReading(day, Decimal(score))


@pytest.mark.parametrize(
    ("score", "advice"),
    [("1", "look"), ("2.0", "look"), ("2.5", "ok"), ("4.0", "ok"), ("4.5", "look")],
)
def test_condition_ranges(score: str, advice: str) -> None:
    # Langston University and eXtension, Body Condition Score: healthy 2.5-4.0, trouble at 2.0.
    answer = condition_change([_reading(date(2025, 3, 1), score)])
    assert answer.advice == advice


def test_a_drop_of_one_within_thirty_days_alerts() -> None:
    # common practice, no published source; readings in any order
    fall = [_reading(date(2025, 3, 31), "2.5"), _reading(date(2025, 3, 1), "3.5")]
    answer = condition_change(fall)
    assert answer.drop == 1
    assert answer.advice is Advice.LOOK
    slower = [_reading(date(2025, 4, 1), "2.5"), _reading(date(2025, 3, 1), "3.5")]
    assert condition_change(slower).advice is Advice.OK


@pytest.mark.parametrize("score", ["0.5", "5.5", "2.25", "NaN"])
def test_odd_condition_scores_are_refused(score: str) -> None:
    with pytest.raises(ValueError, match="condition score"):
        condition_score(Decimal(score))


def test_condition_needs_one_agreed_score_a_day() -> None:
    with pytest.raises(ValueError, match="two different"):
        condition_change([_reading(date(2025, 3, 1), "3"), _reading(date(2025, 3, 1), "2")])
    with pytest.raises(ValueError, match="no condition score"):
        condition_change([])


def test_c024_egg_count_by_factor() -> None:
    # RVC/FAO Guide to Veterinary Parasitology, McMaster example.
    answer = egg_count([12, 15], 50)
    assert answer.eggs_per_gram == 1350
    assert answer.detection_limit_epg == 50


def test_c025_egg_count_by_formula() -> None:
    # Same guide: 45 mL, 3 g, two chambers of 0.15 mL.
    assert egg_count([12, 15], factor_epg(45, 3, Fraction("0.30"))).eggs_per_gram == 1350


@pytest.mark.parametrize(
    ("counted_ml", "factor"),
    [("0.30", 100), ("0.60", 50), ("0.90", Fraction(100, 3)), ("0.15", 200)],
)
def test_c026_to_c030_chamber_factors(counted_ml: str, factor: Fraction) -> None:
    # Whitlock chamber factor table, 1999: 2 g in 60 mL (prints 33 for 33.33).
    assert factor_epg(60, 2, Decimal(counted_ml)) == factor


def test_c032_faeces_count_towards_the_volume() -> None:
    # Langston University, Procedure for Counting Fecal Eggs: 2 g + 28 mL.
    assert factor_epg(suspension_ml(2, 28), 2, Decimal("0.30")) == 50


def test_all_of_a_thick_suspension_may_be_counted() -> None:
    # The same formula at its edges: volume / (faeces x counted volume).
    assert factor_epg(60, 2, 60) == Fraction(1, 2)
    assert factor_epg(Decimal("2.5"), 2, 1) == Fraction(5, 4)
    assert factor_epg(2, 2, 1) == 1


def test_no_egg_is_not_none() -> None:
    answer = egg_count([0, 0], 50)
    assert answer.eggs_per_gram == 0
    assert "fewer than about 50" in answer.reason


def test_impossible_chambers_are_refused() -> None:
    for whole_ml, faeces_g, counted_ml in [(0, 2, 1), (60, 0, 1), (60, 2, 0), (1, 1, 2), (2, 3, 1)]:
        with pytest.raises(ValueError):
            factor_epg(whole_ml, faeces_g, counted_ml)
    for eggs in ([], [-1]):
        with pytest.raises(ValueError):
            egg_count(eggs, 50)
