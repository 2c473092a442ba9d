"""Rules that hold for every figure, not only the published rows: dates, doses, eggs, rations, kin."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.trade.dates import add_hours, add_years, local_day
from herdsync.trade.dosing import SYRINGE_STEP_ML, dose_volume, round_to_step, split_sites
from herdsync.trade.egg_reduction import counted_limits, paired_reduction, two_group_reduction
from herdsync.trade.feed import AS_FED, Portion, limestone, ration
from herdsync.trade.kids import daily_gain
from herdsync.trade.pedigree import Parentage, herd_book
from herdsync.trade.relationship import inbreeding_of, plan_mating
from herdsync.trade.reproduction import dry_off, kidding_due, pen_kidding_due
from herdsync.trade.withdrawal import meat_clear, milk_clear

DAYS = st.dates(date(1999, 1, 1), date(2105, 12, 31))
BERLIN = ZoneInfo("Europe/Berlin")
AMOUNTS = st.decimals("0.01", "500", places=2)
COUNTS = st.lists(st.integers(0, 400), min_size=2, max_size=12)


@given(DAYS, st.integers(145, 155))
def test_a_due_date_is_so_many_days_of_the_calendar_on(bred: date, days: int) -> None:
    """Leap days and year ends are days like any other: ordinals differ by the gestation."""
    window = kidding_due(bred, "standard", days)
    assert window.best is not None
    assert window.best.toordinal() - bred.toordinal() == days
    assert (window.closes - window.opens).days == 155 - 145


@given(DAYS, st.integers(0, 90))
def test_running_with_a_buck_widens_the_window_by_the_days_he_stayed(
    came: date, stayed: int
) -> None:
    hand = kidding_due(came, "standard")
    pen = pen_kidding_due(came, came + timedelta(days=stayed), "standard")
    assert pen.opens == hand.opens
    assert (pen.closes - hand.closes).days == stayed


@given(DAYS, st.integers(28, 60))
def test_drying_off_lies_so_many_days_before(due: date, days: int) -> None:
    assert (due - dry_off(due, days).on).days == days


@given(DAYS, st.integers(0, 60))
def test_years_pass_on_the_same_day_or_the_one_a_leap_day_rolls_to(day: date, years: int) -> None:
    later = add_years(day, years)
    leap_lost = (day.month, day.day) == (2, 29) and (later.month, later.day) == (3, 1)
    assert later.year - day.year == years
    assert (later.month, later.day) == (day.month, day.day) or leap_lost


@given(st.datetimes(datetime(2020, 1, 1), datetime(2035, 12, 31)), st.integers(0, 2000))
def test_hours_are_hours_whatever_the_clocks_do(moment: datetime, hours: int) -> None:
    """Elapsed hours across daylight saving: the wall may differ by one, the hours never do."""
    start = moment.replace(tzinfo=BERLIN, fold=0).astimezone(UTC)
    end = add_hours(start, hours)
    assert end - start == timedelta(hours=hours)
    clear = milk_clear(start, min(hours, 8000), BERLIN).at
    assert clear == start + timedelta(hours=min(hours, 8000))


@given(DAYS, st.integers(0, 400))
def test_meat_of_a_dose_known_by_its_day_is_never_free_before_the_day_after(
    on: date, days: int
) -> None:
    clear = meat_clear(on, days, BERLIN).at
    assert clear is not None
    assert local_day(clear, BERLIN) >= on + timedelta(days=days + 1)
    assert clear - meat_clear(datetime(on.year, on.month, on.day, 23, 59, tzinfo=BERLIN), days,
                              BERLIN).at >= timedelta(0)  # type: ignore[operator]  # fmt: skip


@given(AMOUNTS, AMOUNTS, AMOUNTS)
def test_a_volume_gives_back_the_rate_exactly(
    kg: Decimal, rate: Decimal, strength: Decimal
) -> None:
    volume = dose_volume(kg, rate, strength)
    assert volume * Fraction(strength) / Fraction(kg) == Fraction(rate)


@pytest.mark.parametrize("step", sorted({Fraction(step) for step in SYRINGE_STEP_ML.values()}))
def test_a_half_step_goes_up_and_a_hair_less_goes_down(step: Fraction) -> None:
    """Common practice, no published source: nearest mark, a half up."""
    for marks in (1, 2, 7, 40):
        half = step * marks + step / 2
        assert round_to_step(half, step).rounded_ml == step * (marks + 1)
        assert round_to_step(half - Fraction(1, 10**9), step).rounded_ml == step * marks
        assert round_to_step(half, step, "down").rounded_ml == step * marks
        assert round_to_step(step * marks, step, "up").rounded_ml == step * marks


@given(st.decimals("0.1", "99", places=1), st.sampled_from(["muscle", "skin"]))
def test_places_are_as_few_as_may_be(volume: Decimal, route: str) -> None:
    """eXtension, Goat Quality Assurance: at most 5 mL in one place."""
    sites = split_sites(volume, route)  # type: ignore[arg-type]
    assert sites.each_ml * sites.count == Fraction(volume)
    assert sites.each_ml <= 5
    assert sites.count == 1 or Fraction(volume) / (sites.count - 1) > 5


@settings(max_examples=60)
@given(COUNTS, COUNTS)
def test_a_reduction_does_not_depend_on_order_or_on_the_chambers_factor(
    control: list[int], treated: list[int]
) -> None:
    if not any(control):
        with pytest.raises(ValueError, match="no egg"):
            two_group_reduction(control, treated, 1)
        return
    plain = two_group_reduction([50 * n for n in control], [50 * n for n in treated], 50)
    turned = two_group_reduction(
        [100 * n for n in reversed(control)], [100 * n for n in reversed(treated)], 100
    )
    assert plain.reduction_percent == turned.reduction_percent
    assert plain.reduction_percent == 100 - 100 * (
        Fraction(sum(treated), len(treated)) / Fraction(sum(control), len(control))
    )
    assert abs(plain.lower_percent - turned.lower_percent) < Decimal("0.0001")


@given(st.integers(1, 5000), st.integers(0, 5000))
def test_eggs_counted_bound_the_reduction_on_both_sides(before: int, after: int) -> None:
    """Dobson et al. 2012, Vet. Parasitol. (idea): never outside 0 to 100, also with no egg after."""
    if after > before:
        with pytest.raises(ValueError, match="after"):
            counted_limits(before, after)
        return
    lower, upper = counted_limits(before, after)
    assert 0 <= lower <= upper <= 100
    assert upper < 100 or after == 0


@given(st.lists(st.integers(1, 200), min_size=2, max_size=15))
def test_no_egg_after_is_a_whole_reduction_with_a_lower_limit_that_eggs_seen_raise(
    before: list[int],
) -> None:
    few = paired_reduction([50 * n for n in before], [0] * len(before), 50)
    many = paired_reduction([5000 * n for n in before], [0] * len(before), 50)
    assert few.reduction_percent == many.reduction_percent == 100
    assert few.lower_percent <= many.lower_percent < 100


GRAMS = st.integers(1, 5000)
SHARES = st.decimals("0", "3", places=2)


@given(st.lists(st.tuples(GRAMS, SHARES, SHARES), min_size=1, max_size=6))
def test_a_ration_is_the_sum_of_its_feeds_also_without_calcium(
    feeds: list[tuple[int, Decimal, Decimal]],
) -> None:
    portions = [
        Portion(f"feed {place}", grams, calcium, phosphorus, AS_FED)
        for place, (grams, calcium, phosphorus) in enumerate(feeds)
    ]
    lime = sum((grams * Fraction(share) / 100 for grams, share, _ in feeds), Fraction(0))
    phosphorus = sum((grams * Fraction(share) / 100 for grams, _, share in feeds), Fraction(0))
    if not phosphorus:
        with pytest.raises(ValueError, match="no phosphorus"):
            ration(portions, "doe")
        return
    found = ration(portions, "doe")
    assert (found.calcium_g, found.phosphorus_g) == (lime, phosphorus)
    assert found.ratio == lime / phosphorus
    assert (found.advice == "stop") == (lime < phosphorus)
    needed = limestone(lime, phosphorus).limestone_g
    assert needed >= 0 and (needed == 0) == (lime >= 2 * phosphorus)


@given(AMOUNTS, DAYS)
def test_one_weight_is_no_gain(kg: Decimal, on: date) -> None:
    with pytest.raises(ValueError):
        daily_gain(kg, on, kg, on)


def _line(id: str, sire: str | None, dam: str | None, sex: str = "unknown") -> Parentage:
    return Parentage(id, sire, dam, sex, None, id, True, True)


@pytest.mark.parametrize("lines", [
    [_line("a", "a", None)],
    [_line("a", "b", None), _line("b", "a", None)],
    [_line("a", None, "b"), _line("b", None, "c"), _line("c", None, "a")],
])  # fmt: skip
def test_its_own_ancestor_is_named_and_its_line_left_out(lines: list[Parentage]) -> None:
    """sgkit 0.10.0 raises here; the herd book survives, names the knot and counts no line of it."""
    book = herd_book([*lines, _line("kid", "a", "doe")])
    [fault] = book.faults
    assert fault.kind in ("loop", "own-parent") and fault.left_out
    assert fault in plan_mating(herd_book([*lines, _line("x", None, None)]), "x", "a").faults
    assert inbreeding_of(book, "kid").inbreeding == 0


@given(st.integers(1, 6))
def test_sibs_half_and_full_over_generations(generations: int) -> None:
    """Breeder article quoting Boggess: full sibs 25, 37.5, 50 %; the recurrence by hand after that."""
    lines = [_line("s0", None, None, "buck"), _line("d0", None, None, "doe")]
    for n in range(1, generations + 1):
        lines += [_line(f"{kind}{n}", f"s{n - 1}", f"d{n - 1}", sex)
                  for kind, sex in (("s", "buck"), ("d", "doe"))]  # fmt: skip
    book = herd_book(lines)
    expected = [Fraction(0), Fraction(1, 4)]
    while len(expected) <= generations:
        expected.append((1 + 2 * expected[-1] + expected[-2]) / 4)
    planned = plan_mating(book, f"d{generations}", f"s{generations}")
    assert planned.inbreeding == expected[generations]
