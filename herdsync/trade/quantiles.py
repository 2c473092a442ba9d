"""Quantiles of the beta and the Student t distribution, by our own incomplete beta function.

Binary floats are right here: the answers are irrational. They agree with printed tables to ten
digits; whoever stores an answer rounds it first, because the last digit of ``lgamma`` may differ
between machines. This module must not know what the quantiles are used for.
"""

from __future__ import annotations

import math

# Continued fraction of the incomplete beta function: Abramowitz and Stegun, Handbook of
# Mathematical Functions, 1964, formula 26.5.8; evaluated by the modified Lentz rule
# (Thompson and Barnett, J. Comput. Phys. 64:490, 1986; from memory).
_TINY = 1e-300
_CLOSE = 1e-15
_MOST_TERMS = 20_000
_MOST_HALVINGS = 200


def incomplete_beta(x: float, a: float, b: float) -> float:
    """Return I_x(a, b), the chance that a Beta(a, b) quantity is at most ``x``.

    Raises ``ValueError`` unless 0 <= x <= 1 and a, b > 0.
    """
    if not 0.0 <= x <= 1.0:
        raise ValueError(f"A share must lie between 0 and 1, not at {x}.")
    if not (0.0 < a < math.inf and 0.0 < b < math.inf):
        raise ValueError(f"Both shapes of a beta distribution must be above 0, not {a} and {b}.")
    if x in (0.0, 1.0):
        return x
    log_front = (
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    front = math.exp(log_front)
    # The fraction converges fast on the near side of the mean only; symmetry gives the far side.
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _continued_fraction(x, a, b) / a
    return 1.0 - front * _continued_fraction(1.0 - x, b, a) / b


def beta_quantile(probability: float, a: float, b: float) -> float:
    """Return the x with I_x(a, b) = ``probability``.

    Halving is slow but cannot go astray. Raises ``ValueError`` outside 0..1.
    """
    if not 0.0 <= probability <= 1.0:
        raise ValueError(f"A probability must lie between 0 and 1, not at {probability}.")
    if probability in (0.0, 1.0):
        return probability
    low, high = 0.0, 1.0
    for _ in range(_MOST_HALVINGS):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if incomplete_beta(middle, a, b) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def student_t_quantile(probability: float, degrees_of_freedom: int) -> float:
    """Return the t with that ``probability`` below it, for at least one degree of freedom.

    Uses x = df / (df + t^2) with I_x(df/2, 1/2) = the two-sided tail (Abramowitz and Stegun
    26.7.1). Raises ``ValueError`` unless 0 < probability < 1 and df >= 1.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"A probability must lie between 0 and 1, not at {probability}.")
    if degrees_of_freedom < 1:
        raise ValueError(
            f"Student's t needs at least one degree of freedom, not {degrees_of_freedom}."
        )
    if probability < 0.5:
        return -student_t_quantile(1.0 - probability, degrees_of_freedom)
    half = degrees_of_freedom / 2.0
    both_tails = 2.0 * (1.0 - probability)
    if both_tails < 0.5:
        x = beta_quantile(both_tails, half, 0.5)
        return math.sqrt(degrees_of_freedom * (1.0 - x) / x)
    # Near the middle x is close to 1; its complement keeps the digits.
    y = beta_quantile(1.0 - both_tails, 0.5, half)
    return math.sqrt(degrees_of_freedom * y / (1.0 - y))


def _continued_fraction(x: float, a: float, b: float) -> float:
    """The fraction of formula 26.5.8, terms taken until they change nothing."""
    c = 1.0
    d = 1.0 / _away_from_zero(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        for term in (even, odd):
            d = 1.0 / _away_from_zero(1.0 + term * d)
            c = _away_from_zero(1.0 + term / c)
            value *= c * d
        if abs(c * d - 1.0) < _CLOSE:
            return value
    raise ValueError(f"The sum does not settle for shapes {a} and {b}; the counts are too large.")


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
