"""Egg-count reduction: both published forms, their limits and verdicts."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from herdsync.trade.egg_reduction import (
    EggReduction,
    counted_limits,
    paired_reduction,
    two_group_reduction,
)

# Fourteen sheep, factor 50: dataset ``epgs`` of eggCounts 2.5-1 (R, 2025).
P_BEFORE = [0, 3500, 400, 150, 0, 0, 0, 200, 0, 400, 0, 2000, 2900, 9300]
P_AFTER = [0, 200, 0, 50, 300, 0, 0, 0, 0, 0, 0, 0, 100, 800]
# Worked out by hand for two groups of ten and of fifteen.
Q_CONTROL = [800, 1200, 450, 600, 1500, 950, 700, 1100, 500, 1000]
Q_TREATED = [0, 50, 0, 100, 50, 0, 0, 150, 0, 50]
R_CONTROL = [*Q_CONTROL, 650, 900, 1250, 400, 850]
R_TREATED = [*Q_TREATED, 0, 200, 50, 0, 100]


def _limits(answer: EggReduction) -> tuple[float, float]:
    return float(answer.lower_percent), float(answer.upper_percent)


def test_c033_c035_same_animals_before_and_after() -> None:
    answer = paired_reduction(P_BEFORE, P_AFTER, 50)
    assert float(answer.reduction_percent) == pytest.approx(92.3077, abs=0.001)
    assert _limits(answer) == pytest.approx((87.549, 95.248), abs=0.01)
    assert answer.confidence_percent == 90


def test_c037_c038_c039_c043_two_groups_of_ten() -> None:
    # Coles 1992 as programmed in eggCounts; verdict BMC Vet. Res. 2019, s12917-019-1968-8.
    answer = two_group_reduction(Q_CONTROL, Q_TREATED, 50)
    assert float(answer.reduction_percent) == pytest.approx(95.4545, abs=0.001)
    assert answer.log_ratio_variance is not None
    assert float(answer.log_ratio_variance) == pytest.approx(0.181029, abs=1e-5)
    assert _limits(answer) == pytest.approx((88.888, 98.141), abs=0.01)
    assert (answer.verdict, answer.confidence_percent) == ("suspected", 95)
    assert answer.warnings == ()


def test_c040_two_groups_of_fifteen() -> None:
    answer = two_group_reduction(R_CONTROL, R_TREATED, 50)
    assert float(answer.reduction_percent) == pytest.approx(94.1634, abs=0.001)
    assert answer.verdict == "resistant"


def test_c045_limits_from_eggs_counted() -> None:
    # Idea of Dobson et al. 2012, Vet. Parasitol.: Beta(1, 101).
    lower, upper = counted_limits(100, 0)
    assert float(lower) == pytest.approx(96.414, abs=0.01)
    assert upper < 100


@pytest.mark.parametrize(("before", "after"), [(100, 5), (40, 1), (9, 9)])
def test_limits_from_eggs_counted_are_a_binomial_sum(before: int, after: int) -> None:
    # Textbook identity: Beta(x + 1, n - x + 1) lies under q as often as n + 1 draws of chance q
    # give more than x.
    lower, upper = counted_limits(before, after)
    for limit, share in ((lower, 0.975), (upper, 0.025)):
        q = 1 - float(limit) / 100
        more = sum(
            math.comb(before + 1, k) * q**k * (1 - q) ** (before + 1 - k)
            for k in range(after + 1, before + 2)
        )
        assert more == pytest.approx(share, abs=1e-4)
    assert lower == round(lower, 4)


@pytest.mark.parametrize(("mean", "verdict"), [(175, "susceptible"), (170, "suspected")])
def test_the_lower_limit_of_a_whole_reduction_must_reach_90(mean: int, verdict: str) -> None:
    # Coles 1992; by hand: 0.025^(1/36) is 90.26 % for 35 eggs, 0.025^(1/35) 89.997 % for 34.
    assert two_group_reduction([mean] * 10, [0] * 10, 50).verdict == verdict


@pytest.mark.parametrize(("left", "verdict"), [(5, "susceptible"), (10, "suspected")])
def test_under_95_and_under_90_do_not_begin_at_95_and_90(left: int, verdict: str) -> None:
    # Coles 1992. All animals alike: both limits lie on the reduction.
    answer = two_group_reduction([100] * 10, [left] * 10, 50)
    assert answer.lower_percent == answer.upper_percent == answer.reduction_percent
    assert answer.verdict == verdict


def test_a_mean_of_150_before_is_enough() -> None:
    # Coles 1992.
    assert two_group_reduction([150] * 10, [0] * 10, 50).warnings == ()
    (warning,) = two_group_reduction([149] * 10, [0] * 10, 50).warnings
    assert "149" in warning


def test_no_egg_left_in_the_treated_group_still_has_limits() -> None:
    # 8800 eggs per gram over ten untreated animals at factor 50 are 176 eggs counted.
    answer = two_group_reduction(Q_CONTROL, [0] * 10, 50)
    assert answer.reduction_percent == 100
    assert (answer.lower_percent, answer.upper_percent) == counted_limits(176, 0)
    assert (answer.log_ratio_variance, answer.verdict) == (None, "susceptible")
    assert "eggs counted" in answer.reason


def test_few_eggs_counted_leave_a_full_reduction_suspected() -> None:
    answer = two_group_reduction([200] * 10, [0] * 10, 100)
    assert answer.reduction_percent == 100
    assert (answer.lower_percent < 90, answer.verdict) == (True, "suspected")


def test_groups_of_different_size_scale_the_eggs_expected() -> None:
    half = two_group_reduction(Q_CONTROL, [0] * 5, 50)
    assert half.lower_percent == counted_limits(88, 0)[0]


def test_no_egg_left_in_the_same_animals() -> None:
    answer = paired_reduction(P_BEFORE, [0] * 14, 50)
    assert answer.lower_percent == counted_limits(377, 0, 90)[0]
    assert answer.verdict == "susceptible"


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        ([1000] * 12, [1] * 12, "susceptible"),
        ([1000] * 12, [60] * 12, "low resistant"),
        ([1000] * 12, [300] * 12, "resistant"),
        ([1000] * 12, [0] * 11 + [400], "inconclusive"),
        ([1000] * 12, [10] * 12, "susceptible"),
        ([1000] * 12, [100] * 12, "low resistant"),
        ([1000] * 12, [101] * 12, "resistant"),
    ],
)
def test_paired_classes(before: list[int], after: list[int], verdict: str) -> None:
    # Thresholds 99 and 90 from memory of the 2023 guideline; they are settings.
    assert paired_reduction(before, after, 50).verdict == verdict


def test_thresholds_are_settings() -> None:
    strict = paired_reduction([1000] * 12, [60] * 12, 50, lower_threshold_percent=95)
    assert strict.verdict == "resistant"
    mild = paired_reduction([1000] * 12, [60] * 12, 50, expected_percent=90)
    assert mild.verdict == "susceptible"


@pytest.mark.parametrize(("least", "verdict"), [(90, "susceptible"), (95, "inconclusive")])
def test_limits_on_a_threshold_reach_it(least: int, verdict: str) -> None:
    # From memory of the 2023 guideline: "under" is meant strictly.
    answer = paired_reduction(
        [1000] * 12, [100] * 12, 50, expected_percent=90, lower_threshold_percent=least
    )
    assert answer.verdict == verdict


def test_more_eggs_after_the_dose_is_resistance_not_a_crash() -> None:
    answer = two_group_reduction(Q_TREATED, Q_CONTROL, 50)
    assert answer.reduction_percent < 0
    assert answer.verdict == "resistant"


def test_the_answer_does_not_hang_on_the_order_of_a_group() -> None:
    one = two_group_reduction(Q_CONTROL, Q_TREATED, 50)
    other = two_group_reduction(Q_CONTROL[::-1], sorted(Q_TREATED), 50)
    assert one == other


def test_small_groups_and_low_counts_are_said() -> None:
    # Coles 1992: 10 to 15 animals, mean of 150 eggs per gram or more.
    answer = two_group_reduction([100, 50, 100], [0, 50, 0], 50)
    assert len(answer.warnings) == 3
    assert "veterinarian" in answer.caution


@pytest.mark.parametrize(
    ("control", "treated"),
    [([100], [0, 0]), ([100, 100], [0]), ([0, 0], [0, 0]), ([100, -1], [0, 0]), ([], [])],
)
def test_what_cannot_be_judged_is_refused(control: list[int], treated: list[int]) -> None:
    with pytest.raises(ValueError):
        two_group_reduction(control, treated, 50)


def test_pairs_must_match_and_hold_eggs() -> None:
    with pytest.raises(ValueError, match="same animals twice"):
        paired_reduction([100, 100, 100], [0, 0], 50)
    with pytest.raises(ValueError, match="no egg"):
        paired_reduction([0, 0], [0, 0], 50)
    with pytest.raises(ValueError, match="factor"):
        paired_reduction([100, 100], [0, 0], Fraction(0))
    with pytest.raises(ValueError, match="counted after"):
        counted_limits(10, 11)
    with pytest.raises(ValueError, match="egg count"):
        paired_reduction([Decimal("NaN"), 1], [0, 0], 50)
