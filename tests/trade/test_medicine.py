"""Volumes, tape weights, courses and vaccination days. Invented figures, published rules.

Where no source is named the row is plain arithmetic with typed figures.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade import vaccination
from herdsync.trade.courses import dose_timing
from herdsync.trade.dosing import (
    Rounding,
    dose_volume,
    plausible_weight,
    round_to_step,
    site_most_ml,
    split_sites,
    syringe_step,
    weight_age,
    within_ceiling,
    work_out_dose,
)
from herdsync.trade.extra_label import (
    LABEL_FIELDS,
    RECORD_FIELDS,
    label_gaps,
    record_gaps,
)
from herdsync.trade.girth import CHART, girth_alone, girth_and_length, girth_and_length_cm

FIGURES = st.decimals("0.001", 5000, places=3)
STEPS = st.sampled_from([Decimal("0.01"), Decimal("0.1"), Decimal("0.2"), Decimal(1)])
BORN = date(2026, 2, 17)


def test_dose_volume() -> None:
    assert dose_volume(60, 10, 100) == 6


def test_dose_rounded_to_a_tenth() -> None:
    volume = dose_volume(Decimal("34.5"), Decimal("0.2"), 10)
    assert volume == Fraction("0.69")
    shown = round_to_step(volume, Decimal("0.1"))
    assert shown.rounded_ml == Fraction("0.7")
    assert abs(shown.change_percent - Fraction("1.45")) < Fraction("0.005")
    assert shown.advice == "ok"


def test_a_volume_at_the_prescribers_ceiling() -> None:
    volume = dose_volume(Decimal("3.5"), 5, 10)
    assert volume == Fraction("1.75")
    assert split_sites(volume, "skin", at_least=4).each_ml == Fraction("0.4375")
    assert within_ceiling(volume, Decimal("3.5"), 5, 10).advice == "ok"
    assert within_ceiling(Decimal("1.76"), Decimal("3.5"), 5, 10).advice == "stop"


@pytest.mark.parametrize(
    ("rounding", "shown"), [("nearest", "1.8"), ("down", "1.6"), ("up", "1.8")]
)
def test_rounding_by_syringe(rounding: Rounding, shown: str) -> None:
    assert round_to_step(Decimal("1.7"), Decimal("0.2"), rounding).rounded_ml == Fraction(shown)


def test_a_large_change_by_rounding_is_warned_of() -> None:
    # Common practice, no published source: over 5 %.
    assert round_to_step(Decimal("10.5"), 1).advice == "ok"  # 4.76 %
    assert round_to_step(20, 21).advice == "ok"  # 5 % exactly
    assert round_to_step(Decimal("9.5"), 1).advice == "look"  # 5.26 %


def test_a_volume_that_vanishes_is_refused() -> None:
    with pytest.raises(ValueError, match="use a finer syringe"):
        round_to_step(Decimal("0.04"), Decimal("0.1"))
    with pytest.raises(ValueError, match="use a finer syringe"):
        round_to_step(Decimal("0.99"), 1, "down")


@given(FIGURES, STEPS)
def test_rounding_stays_on_its_side_and_within_a_step(volume: Decimal, step: Decimal) -> None:
    exact = Fraction(volume)
    up = round_to_step(volume, step, "up")
    assert 0 <= up.rounded_ml - exact < step
    assert up.rounded_ml % Fraction(step) == 0
    if exact >= step:
        down = round_to_step(volume, step, "down")
        assert 0 <= exact - down.rounded_ml < step
        nearest = round_to_step(volume, step)
        assert abs(nearest.rounded_ml - exact) * 2 <= step
        assert exact * (1 + nearest.change_percent / 100) == nearest.rounded_ml


@pytest.mark.parametrize(
    ("size", "step"), [(1, "0.01"), (3, "0.1"), (6, "0.2"), (12, "0.2"), (60, "1")]
)
def test_syringe_steps(size: int, step: str) -> None:
    # Common practice, no published source.
    assert syringe_step(size) == Fraction(step)
    with pytest.raises(ValueError, match="no 7 mL syringe is known"):
        syringe_step(7)


def test_at_most_five_ml_in_one_place() -> None:
    # eXtension, Goat Quality Assurance (Fisher, Ohio State): 5 mL.
    sites = split_sites(6, "muscle")
    assert sites.count == 2
    assert sites.each_ml == 3
    assert split_sites(5, "muscle").count == 1
    assert split_sites(Decimal("5.1"), "muscle").count == 2
    assert split_sites(30, "mouth").count == 1


def test_the_label_may_allow_more_under_the_skin_only() -> None:
    # Common practice, no published source: 10 mL under the skin if the label says so.
    assert split_sites(10, "skin", label_ml=10).count == 1
    assert split_sites(10, "skin").count == 2
    assert split_sites(6, "muscle", label_ml=2).count == 3
    assert site_most_ml("mouth") is None
    with pytest.raises(ValueError, match="over 5 mL; use more places"):
        site_most_ml("muscle", 6)
    with pytest.raises(ValueError, match="over 10 mL; use more places"):
        site_most_ml("skin", 11)


def test_absurd_volumes_are_refused() -> None:
    with pytest.raises(ValueError, match="would need 200 places; check every figure"):
        split_sites(1000, "muscle")
    for figures in ((0, 1, 1), (1, -1, 1), (1, 1, 0)):
        with pytest.raises(ValueError, match="must be more than zero"):
            dose_volume(*figures)


@given(FIGURES.filter(lambda ml: ml <= 90))
def test_places_share_the_volume_equally_and_lose_nothing(volume: Decimal) -> None:
    sites = split_sites(volume, "muscle")
    assert sites.count * sites.each_ml == Fraction(volume)
    assert sites.each_ml <= 5


@pytest.mark.parametrize(
    ("age", "days", "advice"),
    [(55, 3, "ok"), (55, 4, "look"), (56, 4, "ok"), (56, 14, "ok"), (56, 15, "look")],
)
def test_weight_age(age: int, days: int, advice: str) -> None:
    # Common practice, no published source: 3 d under 8 weeks, 14 d for others.
    given_on = BORN + timedelta(days=age)
    assert weight_age(given_on - timedelta(days=days), given_on, BORN).advice == advice
    assert weight_age(given_on - timedelta(days=14), given_on, None).advice == "ok"
    with pytest.raises(ValueError, match="before the weighing"):
        weight_age(given_on, given_on - timedelta(days=1), None)


@pytest.mark.parametrize(
    ("before", "now", "days", "born", "advice"),
    [
        ("10", "13", 14, BORN, "ok"),
        ("10", "31", 14, BORN, "look"),
        ("10", "8.9", 14, BORN, "look"),
        ("60", "65", 14, None, "ok"),
        ("60", "80", 14, None, "look"),
    ],
)
def test_a_weight_must_follow_from_the_last(
    before: str, now: str, days: int, born: date | None, advice: str
) -> None:
    # Solaiman (ed.), Goat Science and Production, 2010: up to 227 g/d; limits common practice.
    first = BORN + timedelta(days=40)
    answer = plausible_weight(
        Decimal(before), first, Decimal(now), first + timedelta(days=days), born
    )
    assert answer.advice == advice


def test_a_whole_dose_answer_names_what_to_mind() -> None:
    stale = weight_age(date(2026, 1, 1), date(2026, 2, 1), None)
    dose = work_out_dose(60, 10, 100, Decimal("0.2"), route="muscle", weight_checks=(stale,))
    assert dose.volume_ml == dose.rounded_ml == 6
    assert dose.change_percent == 0
    assert dose.sites.each_ml == 3
    assert dose.warnings == (stale,)
    assert dose.reason == "60 kg x 10 mg/kg / 100 mg/mL = 6 mL"
    coarse = work_out_dose(Decimal("34.5"), Decimal("0.2"), 10, 1)
    assert [warning.advice for warning in coarse.warnings] == ["look"]


def test_girth_and_length_as_printed() -> None:
    # WSU Extension Ferry County, Heart Girth and Weight: 35 and 30 in, printed 122.
    weight = girth_and_length(35, 30)
    assert weight.weight_lb == Fraction("122.5")
    assert abs(weight.weight_kg - Fraction("55.57")) < Fraction("0.01")


def test_girth_and_length_of_a_small_goat() -> None:
    # Same formula.
    weight = girth_and_length(24, 21)
    assert weight.weight_lb == Fraction("40.32")
    assert abs(weight.weight_kg - Fraction("18.29")) < Fraction("0.01")


def test_the_formula_in_centimetres() -> None:
    # kg = girth^2 x length / 10838 in cm, computed from the printed formula.
    weight = girth_and_length_cm(Decimal("88.9"), Decimal("76.2"))
    assert weight.weight_lb == Fraction("122.5")
    assert abs(weight.weight_kg - Fraction("88.9") ** 2 * Fraction("76.2") / 10838) < Fraction(
        "0.01"
    )
    with pytest.raises(ValueError, match="outside 8 to 60 in"):
        girth_and_length(89, 76)
    assert girth_and_length(60, 8).weight_lb == Fraction(60 * 60 * 8, 300)


@pytest.mark.parametrize(
    ("girth", "pounds", "tolerance"),
    [("32", "99.0", "0"), ("32", "100", "1"), ("20", "30.0", "0.5"), ("10.75", "5", "0")],
)
def test_c056_c057_c058_girth_chart(girth: str, pounds: str, tolerance: str) -> None:
    # US dairy-goat weight tape, printed reprint: 5 lb at 10.75, 30 at 20, 100 at 32 in.
    weight = girth_alone(Decimal(girth), "standard")
    assert abs(weight.weight_lb - Fraction(pounds)) <= Fraction(tolerance)


def test_the_girth_chart_runs_smoothly() -> None:
    """Against slips of the keys in rows from memory: no row stands off the line of its neighbours."""
    for below, row, above in zip(CHART, CHART[1:], CHART[2:], strict=False):
        share = (row[0] - below[0]) / (above[0] - below[0])
        assert abs(below[1] + share * (above[1] - below[1]) - row[1]) <= Fraction(5, 4)


@pytest.mark.parametrize("girth", ["9", "10.74", "42.26", "45"])
def test_the_chart_is_never_extended(girth: str) -> None:
    # Common practice, no published source.
    with pytest.raises(ValueError, match="outside the chart"):
        girth_alone(Decimal(girth), "standard")


def test_the_chart_is_not_for_miniatures_and_says_when_it_reads_high() -> None:
    with pytest.raises(ValueError, match="weigh a miniature"):
        girth_alone(25, "miniature")
    assert "reads too high" in girth_alone(35, "standard", late_pregnant=True).reason
    assert "reads too high" not in girth_alone(35, "standard").reason


@given(st.decimals("10.75", "42.25", places=2), st.decimals("10.75", "42.25", places=2))
def test_a_larger_girth_never_weighs_less(one: Decimal, other: Decimal) -> None:
    small, large = sorted((one, other))
    below, above = girth_alone(small, "standard"), girth_alone(large, "standard")
    assert below.weight_lb <= above.weight_lb
    assert CHART[0][1] <= below.weight_lb <= CHART[-1][1]


@pytest.mark.parametrize(
    ("hours", "advice"), [("9.9", "stop"), ("10", "ok"), ("14", "ok"), ("14.1", "look")]
)
def test_too_early_and_late_doses(hours: str, advice: str) -> None:
    # Common practice, no published source: a sixth of the interval either way.
    last = datetime(2025, 3, 10, 6, tzinfo=UTC)
    at = last + timedelta(hours=float(hours))
    assert dose_timing(last, at, 12).advice == advice
    with pytest.raises(ValueError, match="before the last one"):
        dose_timing(at, last, 12)


def test_an_extra_label_record_names_its_gaps() -> None:
    # 21 CFR 530.5 and 530.12 in Ohio State Univ. Vet. Med., antimicrobial-use book.
    full = dict.fromkeys(RECORD_FIELDS, "written")
    assert record_gaps(full).missing == ()
    assert record_gaps(full).finding.advice == "ok"
    for field, words in RECORD_FIELDS.items():
        answer = record_gaps({**full, field: "  "})
        assert answer.missing == (words,)
        assert answer.finding.advice == "stop"
    assert len(label_gaps({}).missing) == len(LABEL_FIELDS)


@pytest.mark.parametrize(
    ("age", "cover", "advice"),
    [
        (34, True, "look"),
        (35, True, "ok"),
        (56, True, "ok"),
        (57, True, "look"),
        (7, False, "ok"),
        (6, False, "look"),
        (21, False, "ok"),
        (22, False, "look"),
    ],
)
def test_first_dose_timing(age: int, cover: bool, advice: str) -> None:
    on = BORN + timedelta(days=age)
    finding = vaccination.first_dose_timing(BORN, on, cover_from_dam=cover)
    assert finding.advice == advice
    assert ("the dam's cover" in finding.reason) is (cover and age < 35)


@pytest.mark.parametrize(
    ("days", "advice"),
    [(20, "look"), (21, "ok"), (28, "ok"), (29, "look"), (42, "look"), (43, "stop")],
)
def test_second_dose_timing(days: int, advice: str) -> None:
    # Over 42 d ask the veterinarian: common practice, no published source.
    assert vaccination.second_dose_timing(BORN, BORN + timedelta(days=days)).advice == advice
