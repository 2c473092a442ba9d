"""Quantiles against printed tables and against sums that can be done by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.quantiles import beta_quantile, incomplete_beta, student_t_quantile

# Student's t as printed in the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2
# (figures from memory), three decimals.
PRINTED_T = [
    (0.95, 1, 6.314), (0.95, 5, 2.015), (0.95, 13, 1.771), (0.95, 30, 1.697),
    (0.975, 1, 12.706), (0.975, 2, 4.303), (0.975, 10, 2.228), (0.975, 18, 2.101),
    (0.975, 28, 2.048), (0.975, 100, 1.984), (0.995, 5, 4.032), (0.995, 20, 2.845),
    (0.9, 4, 1.533), (0.999, 3, 10.215),
]  # fmt: skip


@pytest.mark.parametrize(("probability", "freedom", "printed"), PRINTED_T)
def test_t_agrees_with_the_printed_table(probability: float, freedom: int, printed: float) -> None:
    # The table prints 10.215 where the exact value is 10.2145.
    assert student_t_quantile(probability, freedom) == pytest.approx(printed, abs=0.00055)


def test_c044_t_used_for_two_groups_of_fifteen() -> None:
    # eggCounts 2.5-1 (R, 2025), fecrtCI after Coles 1992: 15 + 15 animals.
    assert student_t_quantile(0.975, 28) == pytest.approx(2.0484, abs=1e-4)


@pytest.mark.parametrize("probability", [0.01, 0.3, 0.5, 0.6, 0.74, 0.76, 0.975, 0.9999])
def test_t_of_one_and_two_degrees_has_a_closed_form(probability: float) -> None:
    # One degree is the Cauchy distribution; two: t = (2p - 1) / sqrt(2 p (1 - p)).
    cauchy = math.tan(math.pi * (probability - 0.5))
    two = (2 * probability - 1) / math.sqrt(2 * probability * (1 - probability))
    assert student_t_quantile(probability, 1) == pytest.approx(cauchy, rel=1e-9, abs=1e-12)
    assert student_t_quantile(probability, 2) == pytest.approx(two, rel=1e-9, abs=1e-12)


def test_t_of_many_degrees_is_the_normal_quantile() -> None:
    # 1.959964 is the 97.5 % point of the normal distribution.
    assert student_t_quantile(0.975, 1_000_000) == pytest.approx(1.959966, abs=1e-6)


@given(a=st.integers(1, 40), b=st.integers(1, 40), x=st.fractions(0, 1, max_denominator=1000))
def test_whole_shapes_are_a_binomial_sum(a: int, b: int, x: Fraction) -> None:
    # Abramowitz and Stegun 26.5.24: I_x(a, b) is the chance of a or more in a + b - 1 trials.
    n = a + b - 1
    exact = sum(math.comb(n, k) * x**k * (1 - x) ** (n - k) for k in range(a, n + 1))
    assert incomplete_beta(float(x), a, b) == pytest.approx(float(exact), rel=1e-9, abs=1e-13)


@given(a=st.floats(0.5, 500), b=st.floats(0.5, 500), p=st.floats(0.001, 0.999))
def test_the_quantile_turns_the_integral_round(a: float, b: float, p: float) -> None:
    assert incomplete_beta(beta_quantile(p, a, b), a, b) == pytest.approx(p, abs=1e-9)


def test_quantile_of_beta_one_n_is_a_root() -> None:
    # Beta(1, n): 1 - (1 - x)^n = p.
    assert beta_quantile(0.975, 1, 101) == pytest.approx(1 - 0.025 ** (1 / 101), rel=1e-12)


def test_the_ends_are_exact() -> None:
    assert (incomplete_beta(0, 2, 3), incomplete_beta(1, 2, 3)) == (0, 1)
    assert (beta_quantile(0, 2, 3), beta_quantile(1, 2, 3)) == (0, 1)


@pytest.mark.parametrize("x", [-0.1, 1.1, math.nan])
def test_shares_outside_are_refused(x: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        incomplete_beta(x, 1, 1)
    with pytest.raises(ValueError, match="between 0 and 1"):
        beta_quantile(x, 1, 1)
    with pytest.raises(ValueError, match="between 0 and 1"):
        student_t_quantile(x, 5)


def test_impossible_shapes_and_degrees_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        incomplete_beta(0.5, 0, 1)
    for a, b in ((1, 0), (1, math.inf), (math.inf, 1)):
        with pytest.raises(ValueError, match="above 0"):
            incomplete_beta(0.5, a, b)
    for probability in (0.0, 1.0):
        with pytest.raises(ValueError, match="between 0 and 1"):
            student_t_quantile(probability, 5)
    with pytest.raises(ValueError, match="degree of freedom"):
        student_t_quantile(0.9, 0)
