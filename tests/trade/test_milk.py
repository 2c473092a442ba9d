"""Lactation yields, corrected milk, cell score, persistency and the milk account."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.advice import Advice
from herdsync.trade.lactation import Lactation, MilkTest, lactation_yield, standard_lactation
from herdsync.trade.milk import (
    Milking,
    cell_score,
    day_plausible,
    energy_corrected_milk_kg,
    fat_corrected_milk_kg,
    first_milk,
    judge_cells,
    milk_account,
    milking_plausible,
    persistency,
)
from herdsync.trade.units import KG_PER_LB

# Example of ICAR Guidelines, Section 2 Procedure 2; numbers from memory, end date unsure.
COW_START = date(2021, 3, 25)
COW = [
    ("04-08", "28.2", "3.65"), ("05-06", "24.8", "3.45"), ("06-05", "26.6", "3.40"),
    ("07-07", "23.2", "3.55"), ("08-02", "20.2", "3.85"), ("08-30", "17.8", "4.05"),
    ("09-25", "13.2", "4.45"), ("10-27", "9.6", "4.65"), ("11-22", "5.8", "4.95"),
    ("12-20", "4.4", "5.25"),
]  # fmt: skip
# Worked out by hand from the rule.
GOAT_START, GOAT_END = date(2025, 2, 10), date(2025, 10, 20)
GOAT = [
    ("03-01", "3.2", "4.1", "3.3"), ("04-01", "3.8", "3.6", "3.0"), ("05-01", "3.4", "3.5", "2.9"),
    ("06-01", "3.0", "3.4", "2.9"), ("07-01", "2.6", "3.6", "3.0"), ("08-01", "2.2", "3.8", "3.1"),
    ("09-01", "1.8", "4.0", "3.3"), ("10-01", "1.2", "4.4", "3.6"),
]  # fmt: skip


def _cow(end: date) -> Lactation:
    tests = [
        MilkTest(date.fromisoformat(f"2021-{on}"), Decimal(kg), Decimal(fat)) for on, kg, fat in COW
    ]
    return lactation_yield(COW_START, end, tests)


def _goat_tests() -> list[MilkTest]:
    return [
        MilkTest(date.fromisoformat(f"2025-{on}"), Decimal(kg), Decimal(fat), Decimal(protein))
        for on, kg, fat, protein in GOAT
    ]


def _float(value: Fraction | None) -> float:
    assert value is not None
    return float(value)


def test_c101_first_period() -> None:
    first = MilkTest(date(2021, 4, 8), Decimal("28.2"), Decimal("3.65"))
    answer = lactation_yield(COW_START, date(2021, 4, 8), [first])
    assert answer.milk_kg == Fraction("394.8")
    assert _float(answer.fat_kg) == pytest.approx(14.410, abs=0.001)


@pytest.mark.parametrize(
    ("end", "days", "milk", "fat", "percent"),
    [
        (date(2021, 12, 31), 281, 4960.0, 189.523, 3.821),
        (date(2022, 1, 3), 284, 4973.2, 190.216, 3.825),
    ],
)
def test_c103_c104_whole_cow_lactation(
    end: date, days: int, milk: float, fat: float, percent: float
) -> None:
    answer = _cow(end)
    assert answer.days == days
    assert float(answer.milk_kg) == pytest.approx(milk, abs=0.01)
    assert _float(answer.fat_kg) == pytest.approx(fat, abs=0.01)
    assert _float(answer.fat_percent) == pytest.approx(percent, abs=0.01)
    assert (answer.protein_kg, answer.protein_percent) == (None, None)
    assert "no protein" in answer.reason


def test_c105_whole_goat_lactation() -> None:
    answer = lactation_yield(GOAT_START, GOAT_END, _goat_tests()[::-1])
    assert answer.days == 252
    assert float(answer.milk_kg) == pytest.approx(664.7, abs=0.001)
    assert _float(answer.fat_kg) == pytest.approx(24.8769, abs=0.001)
    assert _float(answer.protein_kg) == pytest.approx(20.5547, abs=0.001)
    assert _float(answer.protein_percent) == pytest.approx(100 * 20.5547 / 664.7, abs=0.001)
    assert answer.warnings == ()


def test_standard_lactation_cuts_and_never_stretches() -> None:
    tests = _goat_tests()
    assert standard_lactation(GOAT_START, GOAT_END, tests).milk_kg == Fraction("664.7")
    long_end = date(2026, 2, 10)
    cut = standard_lactation(GOAT_START, long_end, tests)
    # The last test, 1.2 kg on day 233, stands for the days 233 to 305.
    until_last = Fraction("664.7") - 19 * Fraction("1.2")
    assert (cut.days, cut.milk_kg) == (305, until_last + 72 * Fraction("1.2"))
    assert cut.end == date(2025, 12, 12)


def test_a_cut_between_two_tests_cuts_the_line() -> None:
    tests = [MilkTest(date(2025, 1, 11), 4), MilkTest(date(2025, 1, 31), 2)]
    cut = standard_lactation(date(2025, 1, 1), date(2025, 3, 1), tests, 20)
    # Ten days at 4 kg, then ten days from 4 to 3 kg.
    assert cut.milk_kg == 75
    with pytest.raises(ValueError, match="first 5 days"):
        standard_lactation(date(2025, 1, 1), date(2025, 3, 1), tests, 5)


@given(
    gaps=st.lists(st.integers(1, 60), min_size=1, max_size=8),
    milk=st.decimals("0", "9", places=1),
    rest=st.integers(1, 60),
)
def test_level_milk_gives_days_times_milk(gaps: list[int], milk: Decimal, rest: int) -> None:
    start = date(2025, 1, 1)
    days = [sum(gaps[: n + 1]) for n in range(len(gaps))]
    tests = [MilkTest(date.fromordinal(start.toordinal() + day), milk, 4, 3) for day in days]
    total = days[-1] + rest
    end = date.fromordinal(start.toordinal() + total)
    answer = lactation_yield(start, end, tests)
    assert answer.milk_kg == total * Fraction(milk)
    assert answer.fat_kg == answer.milk_kg * Fraction(4, 100)
    for cut in (days[0], max(days[-1] - 1, days[0])):
        assert standard_lactation(start, end, tests, cut).milk_kg == cut * Fraction(milk)


def test_gaps_and_colostrum_are_said() -> None:
    tests = [MilkTest(date(2025, 1, 3), 3), MilkTest(date(2025, 3, 20), 3)]
    answer = lactation_yield(date(2025, 1, 1), date(2025, 4, 1), tests)
    assert len(answer.warnings) == 2
    assert "colostrum" in answer.warnings[0]
    assert "76 days" in answer.warnings[1]


def test_a_test_on_day_four_and_a_gap_of_75_days_are_usual() -> None:
    # From memory, and common practice, no published source.
    start = date(2025, 1, 1)
    tests = [MilkTest(date(2025, 1, 5), 3), MilkTest(date(2025, 3, 21), 3)]
    assert lactation_yield(start, date(2025, 4, 1), tests).warnings == ()


def test_a_test_on_the_day_of_kidding_and_one_without_fat_count() -> None:
    answer = lactation_yield(
        date(2025, 1, 1), date(2025, 1, 11), [MilkTest(date(2025, 1, 1), 3, 0)]
    )
    assert (answer.milk_kg, answer.fat_kg) == (Fraction(30), Fraction(0))
    assert answer.reason.startswith("30 kg of milk in 10 days from 1 test;")
    assert "from 8 tests" in lactation_yield(GOAT_START, GOAT_END, _goat_tests()).reason


def test_a_dry_test_day_needs_no_fat() -> None:
    tests = [MilkTest(date(2025, 1, 11), 4, 4), MilkTest(date(2025, 1, 21), 0)]
    answer = lactation_yield(date(2025, 1, 1), date(2025, 1, 21), tests)
    assert answer.fat_kg == Fraction("2.4")


def test_impossible_lactations_are_refused() -> None:
    start, end = date(2025, 1, 1), date(2025, 6, 1)
    good = MilkTest(date(2025, 2, 1), 3)
    for tests, words in [
        ([], "no test"),
        ([good, good], "two test days"),
        ([MilkTest(date(2024, 12, 31), 3)], "outside"),
        ([MilkTest(date(2025, 6, 2), 3)], "outside"),
        ([MilkTest(date(2025, 2, 1), -1)], "milk of 2025-02-01"),
        ([MilkTest(date(2025, 2, 1), 41)], "milk of 2025-02-01"),
        ([MilkTest(date(2025, 2, 1), 3, 101)], "fat of 2025-02-01"),
    ]:
        with pytest.raises(ValueError, match=words):
            lactation_yield(start, end, tests)
    with pytest.raises(ValueError, match="not after its start"):
        lactation_yield(start, start, [good])


def test_c108_fat_corrected_milk_as_printed() -> None:
    # Gaines formula entry: 80 lb at 3.5 % give 74 lb; the unit falls out of the sum.
    milk_kg = 80 * KG_PER_LB
    corrected = fat_corrected_milk_kg(milk_kg, milk_kg * Fraction("0.035"))
    assert corrected / KG_PER_LB == 74


def test_c109_fat_corrected_milk() -> None:
    assert fat_corrected_milk_kg(3, 3 * Fraction("0.045")) == Fraction("3.225")
    assert fat_corrected_milk_kg(Fraction(1, 2), Fraction("0.02")) == Fraction(1, 2)


def test_corrected_milk_of_standard_milk_is_itself() -> None:
    # ECM of 3.5 % fat and 3.2 % protein: 0.327 + 0.45325 + 0.2304 = 1.01065.
    assert energy_corrected_milk_kg(100, Fraction("3.5"), Fraction("3.2")) == Fraction("101.065")
    with pytest.raises(ValueError, match="fat"):
        fat_corrected_milk_kg(1, 2)


@pytest.mark.parametrize(
    ("cells", "score"), [(100_000, 3), (200_000, 4), (800_000, 6), (1_600_000, 7)]
)
def test_c111_cell_score(cells: int, score: int) -> None:
    # log2(cells / 100,000) + 3, from memory.
    assert cell_score(cells) == score
    # log2(3) = 1.58496, log2(100,000) = 16.60964: by hand, to four decimals.
    assert str(cell_score(300_000)) == "4.5850"
    assert str(cell_score(1)) == "-13.6096"


def test_cell_counts_against_the_limit() -> None:
    # Vermont Statutes 6 s. 2728.
    assert judge_cells(1_500_000).advice is Advice.OK
    assert judge_cells(1_500_001).advice is Advice.LOOK
    assert judge_cells(1_200_000, 1_000_000).advice is Advice.LOOK
    assert [judge_cells(cells, 1).advice for cells in (0, 1, 2)] == ["ok", "ok", "look"]
    with pytest.raises(ValueError, match="cells"):
        cell_score(0)


def test_milk_of_days_0_to_3_is_not_for_sale() -> None:
    # Colostrum is left out of sale on days 0 to 3: common practice, no published source.
    kidded = date(2028, 2, 27)
    days = [first_milk(kidded, date(2028, *day)).advice for day in ((2, 27), (3, 1), (3, 2))]
    assert days == ["stop", "stop", "ok"]
    with pytest.raises(ValueError, match="before the kidding"):
        first_milk(kidded, date(2028, 2, 26))


def test_what_no_goat_gives_at_one_milking() -> None:
    # From memory.
    told: list[tuple[str, int | None]] = [("8", 150), ("8.01", 150), ("1", 149), ("0", None)]
    found = [milking_plausible(Decimal(kg), age).advice for kg, age in told]
    assert found == ["ok", "look", "look", "ok"]


def test_figures_of_a_test_day_that_cannot_be() -> None:
    # From memory: 16 kg in a day, 1.5 to 10 % of fat and protein.
    assert day_plausible(16, Decimal("1.5"), 10).advice == "ok"
    assert day_plausible(None, None, None).advice == "ok"
    for milk, fat, protein in ((17, 4, 3), (3, Decimal("0.41"), 3), (3, 41, 3), (3, 4, 31)):
        assert day_plausible(milk, fat, protein).advice == "look"
    assert "41 % fat is outside 1.5 to 10 %" in day_plausible(3, 41, 3).reason


def test_persistency_after_the_peak() -> None:
    # common practice, no published source: from 3.8 to 1.2 kg in 183 days
    tests = [(test.on, test.milk_kg) for test in _goat_tests()]
    answer = persistency(tests[::-1])
    assert (answer.peak_on, answer.peak_kg) == (date(2025, 4, 1), Fraction("3.8"))
    expected = 100 - 100 * Fraction(26, 38) * Fraction(30, 183)
    assert answer.kept_percent == expected
    dried_up = [(date(2025, 1, 1), Fraction(2)), (date(2025, 1, 31), Fraction(1, 2))]
    assert persistency(dried_up).kept_percent == 25
    for few in ([], tests[:2], [(date(2025, 1, 1), 0), (date(2025, 1, 1), 1)]):
        with pytest.raises(ValueError):
            persistency(few)


def test_held_milk_counts_as_produced() -> None:
    account = milk_account(
        [
            Milking(Decimal("1.5"), sold=True, held=False),
            Milking(Decimal("1.4"), sold=False, held=True),
            Milking(Decimal("0.6"), sold=False, held=False),
        ]
    )
    found = (account.produced_kg, account.sold_kg, account.held_kg, account.kept_kg)
    assert found == (Fraction("3.5"), Fraction("1.5"), Fraction("1.4"), Fraction("0.6"))
    assert account.advice is Advice.OK
    assert milk_account([]).produced_kg == 0


def test_milk_sold_while_held_is_a_stop() -> None:
    account = milk_account([Milking(2, sold=True, held=True)])
    assert account.sold_while_held_kg == 2
    assert account.advice is Advice.STOP
    assert "tell the buyer" in account.reason
