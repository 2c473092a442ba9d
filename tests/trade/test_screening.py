"""Disease tests, what their results mean, and keeping periods."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from herdsync.trade.screening import (
    JOHNES_ELISA_SENSITIVITY_HIGHEST,
    JOHNES_ELISA_SENSITIVITY_LOWEST,
    KEEPING_PERIODS,
    all_carriers_missed,
    keep_until,
    newcomer,
    next_test,
    result_meaning,
    telling_from,
)


def test_next_test_is_last_plus_interval() -> None:
    assert next_test(date(2025, 3, 10)).on == date(2026, 3, 10)
    assert next_test(date(2025, 3, 10), 6).on == date(2025, 9, 10)
    # A month that lacks the day rolls forward.
    assert next_test(date(2024, 2, 29)).on == date(2025, 3, 1)
    assert next_test(date(2025, 8, 31), 6).on == date(2026, 3, 1)
    assert next_test(date(2025, 3, 10), 1).on == date(2025, 4, 10)
    with pytest.raises(ValueError, match="interval"):
        next_test(date(2025, 3, 10), 0)


def test_newcomers_stay_apart_and_are_tested_again() -> None:
    # Several extension pages: 30 days; retest common practice.
    answer = newcomer(date(2025, 3, 10))
    assert (answer.quarantine_until, answer.retest_on) == (date(2025, 4, 9), date(2025, 4, 9))
    assert newcomer(date(2025, 3, 10), 1).quarantine_until == date(2025, 3, 11)
    with pytest.raises(ValueError, match="quarantine"):
        newcomer(date(2025, 3, 10), 0)


def test_ages_from_which_a_test_tells_something() -> None:
    # common practice (CAE and CL 6 months); from memory (Johne's ELISA 18 months)
    assert telling_from(date(2025, 3, 10), "cae").on == date(2025, 9, 10)
    assert telling_from(date(2025, 3, 10), "cl").on == date(2025, 9, 10)
    assert telling_from(date(2025, 3, 10), "johnes").on == date(2026, 9, 10)
    with pytest.raises(ValueError, match="no youngest age"):
        telling_from(date(2025, 3, 10), "hiccups")


def test_what_a_result_means() -> None:
    # Bayes' rule by hand: 1000 goats, 100 sick, 40 of them found, 9 of 900 wrongly positive.
    answer = result_meaning(Decimal("0.1"), Decimal("0.4"), Decimal("0.99"))
    assert answer.positive_is_right == Fraction(40, 49)
    assert answer.negative_is_wrong == Fraction(60, 951)
    assert "one day only" in answer.reason
    coin = result_meaning(Decimal("0.5"), Decimal("0.5"), Decimal("0.5"))
    assert (coin.positive_is_right, coin.negative_is_wrong) == (Fraction(1, 2), Fraction(1, 2))


def test_johnes_negative_leaves_most_carriers_unseen() -> None:
    # WSU Veterinary Extension, Johne's disease, 2023: finds 30-50 %, specificity over 99 %.
    found = (JOHNES_ELISA_SENSITIVITY_LOWEST, JOHNES_ELISA_SENSITIVITY_HIGHEST)
    assert found == (Decimal("0.3"), Decimal("0.5"))
    best = result_meaning(Decimal("0.05"), JOHNES_ELISA_SENSITIVITY_HIGHEST, Decimal("0.99"))
    assert best.negative_is_wrong is not None
    assert best.negative_is_wrong > Fraction("0.025")


def test_results_that_cannot_occur_have_no_meaning() -> None:
    answer = result_meaning(0, 1, 1)
    assert (answer.positive_is_right, answer.negative_is_wrong) == (None, Fraction(0))
    assert result_meaning(1, 1, 0).negative_is_wrong is None


def test_shares_outside_are_refused() -> None:
    with pytest.raises(ValueError, match="the prevalence"):
        result_meaning(-1, 1, 1)
    with pytest.raises(ValueError, match="the sensitivity"):
        result_meaning(0, 2, 1)
    with pytest.raises(ValueError, match="the specificity"):
        result_meaning(0, 1, Decimal("1.01"))


def test_a_herd_test_may_miss_all_its_carriers() -> None:
    assert all_carriers_missed(3, Decimal("0.4")) == Fraction("0.216")
    assert all_carriers_missed(0, Decimal("0.4")) == 1


def test_c133_keep_until() -> None:
    # English trading-standards guidance on veterinary medicine records: 5 years.
    years = {period.key: period.years for period in KEEPING_PERIODS}
    assert keep_until(date(2025, 3, 10), years["england-medicine"]).on == date(2030, 3, 10)


def test_keep_until_from_a_leap_day() -> None:
    assert keep_until(date(2024, 2, 29), 5).on == date(2029, 3, 1)
    assert keep_until(date(2024, 2, 29), 4).on == date(2028, 2, 29)
    assert keep_until(date(2024, 2, 29), 0).on == date(2024, 2, 29)
    with pytest.raises(ValueError, match="years"):
        keep_until(date(2024, 2, 29), -1)


def test_keeping_periods_are_named_with_source() -> None:
    # 21 CFR 530.5: two years for extra-label records.
    years = {period.key: period.years for period in KEEPING_PERIODS}
    assert years["us-extralabel"] == 2
    # From memory: five years for treatments in the European Union, and for tags and sales.
    assert (years["eu-medicine"], years["identity-sales"]) == (5, 5)
    assert all(period.source for period in KEEPING_PERIODS)
