"""Ration sums, their advice, the limestone sum, trace minerals and the feed table."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.advice import Advice
from herdsync.trade.feed import (
    DRY,
    Portion,
    judge_ratio,
    limestone,
    mixed_mg_per_kg,
    ration,
)
from herdsync.trade.feed_table import FEED_TABLE, FeedRow, feed_row
from herdsync.trade.trace_minerals import (
    ammonium_chloride_ceiling,
    judge_copper,
    selenium_ceiling,
)


def _portion(name: str, amount_g: int) -> Portion:
    row = feed_row(name)
    return Portion(name, amount_g, row.calcium_percent, row.phosphorus_percent, row.basis)


@pytest.mark.parametrize(
    ("name", "ratio"), [("alfalfa hay", "5.33"), ("Bermuda-grass hay", "2.69")]
)
def test_c091_c092_ratio_of_hays(name: str, ratio: str) -> None:
    # After Ensminger, Oldfield and Heinemann 1990, printed as 5.3 and 2.7 to 1.
    found = ration([_portion(name, 1000)], "doe").ratio
    assert float(found) == pytest.approx(float(ratio), abs=0.01)


RATIONS = [
    ("C093", {"Bermuda-grass hay": 1500, "oats": 300}, 6.66, 3.390, 1.965, "ok", "look"),
    (
        "C094",
        {"alfalfa hay": 2000, "maize grain": 500, "oats": 300, "soybean meal": 200},
        26.56, 8.440, 3.147, "ok", "ok",
    ),
    (
        "C095",
        {"Bermuda-grass hay": 600, "maize grain": 500, "oats": 300},
        2.94, 3.300, 0.891, "stop", "stop",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "feeds", "calcium", "phosphorus", "ratio", "doe", "wether"), RATIONS
)
def test_c093_to_c095_whole_rations(
    row: str,
    feeds: dict[str, int],
    calcium: float,
    phosphorus: float,
    ratio: float,
    doe: str,
    wether: str,
) -> None:
    # Sums over the feed table, computed by hand.
    portions = [_portion(name, grams) for name, grams in feeds.items()]
    answer = ration(portions, "doe")
    assert float(answer.calcium_g) == pytest.approx(calcium, abs=0.005)
    assert float(answer.phosphorus_g) == pytest.approx(phosphorus, abs=0.005)
    assert float(answer.ratio) == pytest.approx(ratio, abs=0.005)
    assert (answer.advice, ration(portions, "wether").advice) == (doe, wether)
    assert answer.amount_g == sum(feeds.values())


@pytest.mark.parametrize(
    ("ratio", "doe", "male"),
    [("0.99", "stop", "stop"), ("1.0", "look", "look"), ("1.49", "look", "look"),
     ("1.5", "ok", "look"), ("1.99", "ok", "look"), ("2.0", "ok", "ok"), ("6.0", "ok", "ok"),
     ("6.01", "look", "look")],
)  # fmt: skip
def test_advice_hangs_on_the_sex(ratio: str, doe: str, male: str) -> None:
    # Target 2 to 2.5 : 1, Langston University, Urinary Tract Disease; cut-offs common practice.
    assert judge_ratio(Decimal(ratio), "doe").advice == doe
    for sex in ("buck", "wether", "intersex", "unknown"):
        assert judge_ratio(Decimal(ratio), sex).advice == male


@pytest.mark.parametrize(
    ("sex", "named"),
    [("doe", "a doe"), ("wether", "a wether"), ("intersex", "a goat judged as a male")],
)
def test_the_advice_names_whom_it_judges(sex: str, named: str) -> None:
    assert f"enough for {named};" in judge_ratio(3, sex).reason


def test_a_male_at_risk_is_an_emergency_elsewhere() -> None:
    assert "emergency" in ration([_portion("oats", 100)], "wether").caution


def test_bases_do_not_mix_without_the_dry_matter() -> None:
    hay = Portion("hay", 900, Decimal("0.45"), Decimal("0.25"), DRY)
    oats = _portion("oats", 300)
    with pytest.raises(ValueError, match="mixes as-fed and dry"):
        ration([hay, oats], "doe")
    assert ration([hay], "doe").basis == "dry"
    pinch = Portion("limestone", Decimal("0.5"), 38, 1)
    assert ration([pinch], "doe").amount_g == Fraction(1, 2)
    known = Portion("hay", 900, Decimal("0.45"), Decimal("0.25"), DRY, dry_matter_percent=90)
    answer = ration([known, oats], "doe")
    assert (answer.basis, answer.amount_g) == ("as fed", Fraction(1300))
    assert answer.calcium_g == Fraction("4.05") + Fraction("0.21")


def test_hay_weighed_as_fed_with_dry_figures() -> None:
    hay = Portion("hay", 1000, Decimal("0.45"), Decimal("0.25"), DRY, "as fed", 90)
    answer = ration([hay], "doe")
    assert (answer.calcium_g, answer.basis) == (Fraction("4.05"), "as fed")
    lacking = Portion("hay", 1000, Decimal("0.45"), Decimal("0.25"), DRY, "as fed")
    with pytest.raises(ValueError, match="dry matter"):
        ration([lacking], "doe")


@pytest.mark.parametrize(
    ("portion", "words"),
    [
        (Portion("x", -1, 1, 1), "grams"),
        (Portion("x", 1, 101, 1), "calcium"),
        (Portion("x", 1, 1, -1), "phosphorus"),
        (Portion("x", 1, None, 1), "calcium of x is not known"),
        (Portion("x", 1, 1, 0), "no phosphorus"),
        (Portion("x", 1, 1, 1, "wet"), "basis"),
        (Portion("x", 1, 1, 1, DRY, "as fed", 0), "no dry matter"),
        (Portion("x", 1, Decimal("NaN"), 1), "calcium"),
    ],
)
def test_impossible_portions_are_refused(portion: Portion, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        ration([portion], "doe")
    with pytest.raises(ValueError, match="empty"):
        ration([], "doe")


def test_limestone_for_the_third_ration() -> None:
    # C095's ration to 2 : 1: L = (2 x 3.300 - 2.94) / (0.38 - 2 x 0.0002).
    answer = limestone(Decimal("2.94"), Decimal("3.30"))
    assert answer.limestone_g == Fraction("3.66") / Fraction("0.3796")


def test_a_ration_that_is_there_needs_no_limestone() -> None:
    for calcium, phosphorus, now in ((2, 1, "2"), (9, 2, "4.5")):
        answer = limestone(calcium, phosphorus, 2)
        assert answer.limestone_g == 0
        assert answer.reason == f"{now} : 1 reaches 2 : 1 without any"


amounts_g = st.decimals("0.1", "100", places=2)


@given(calcium=amounts_g, phosphorus=amounts_g, target=st.decimals("1", "4", places=1))
def test_limestone_reaches_the_target_exactly(
    calcium: Decimal, phosphorus: Decimal, target: Decimal
) -> None:
    grams = limestone(calcium, phosphorus, target).limestone_g
    calcium_with_it = Fraction(calcium) + grams * Fraction(38, 100)
    reached = calcium_with_it / (Fraction(phosphorus) + grams * Fraction(2, 10000))
    assert reached == target if grams else reached >= target


def test_limestone_refuses_what_cannot_lift() -> None:
    with pytest.raises(ValueError, match="no richer"):
        limestone(1, 1, 2, calcium_percent=22, phosphorus_percent=Decimal("19.3"))
    with pytest.raises(ValueError, match="no richer"):
        limestone(1, 1, 2, calcium_percent=22, phosphorus_percent=11)
    with pytest.raises(ValueError, match="phosphorus"):
        limestone(1, 0)


@pytest.mark.parametrize(
    ("copper", "molybdenum", "sheep", "advice"),
    [(10, None, False, Advice.OK), (9, None, False, Advice.LOOK), (80, 20, False, Advice.OK),
     (81, None, False, Advice.STOP), (20, 6, False, Advice.LOOK), (20, 5, False, Advice.OK),
     (0, None, False, Advice.LOOK), (10, 0, False, Advice.OK),
     (25, None, True, Advice.OK), (26, None, True, Advice.STOP), (26, None, False, Advice.OK)],
)  # fmt: skip
def test_copper(copper: int, molybdenum: int | None, sheep: bool, advice: Advice) -> None:
    # eXtension, Goat Nutrition Copper (Hart 2008); Oregon State Extension after NRC Sheep 1985.
    finding = judge_copper(copper, molybdenum, sheep_eat_it=sheep)
    assert finding.advice is advice
    assert "sheep" in finding.reason


def test_copper_of_which_some_is_unknown_is_told_too_much_but_never_too_little() -> None:
    few = judge_copper(9, 6, sheep_eat_it=False, at_least=True)
    assert few.advice is Advice.LOOK
    assert "at least 9 mg/kg" in few.reason and "cannot be told" in few.reason
    assert "too little" not in few.reason and "molybdenum" not in few.reason
    assert judge_copper(81, sheep_eat_it=False, at_least=True).advice is Advice.STOP
    assert judge_copper(26, sheep_eat_it=True, at_least=True).advice is Advice.STOP


def test_c098_selenium_ceiling() -> None:
    # FDA CVM Update 2005-03-08: 0.3 mg/kg of 2.2 kg dry matter.
    answer = selenium_ceiling(Decimal("2.2"), Decimal("0.66"))
    assert answer.ceiling_per_day == Fraction("0.66")
    assert answer.advice is Advice.OK
    assert selenium_ceiling(Decimal("2.2"), Decimal("0.67")).advice is Advice.STOP
    assert selenium_ceiling(1).advice is Advice.OK


def test_c100_ammonium_chloride_ceiling() -> None:
    # California Code of Regulations, title 3, s. 2790: 1.0 % of 1.4 kg.
    answer = ammonium_chloride_ceiling(Decimal("1.4"), 14)
    assert answer.ceiling_per_day == 14
    assert answer.advice is Advice.OK
    assert ammonium_chloride_ceiling(Decimal("1.4"), 15).advice is Advice.STOP
    assert ammonium_chloride_ceiling(Decimal("0.05")).advice is Advice.OK
    assert ammonium_chloride_ceiling(Decimal("0.05"), Decimal("0.5")).advice is Advice.OK
    with pytest.raises(ValueError, match="ration"):
        ammonium_chloride_ceiling(0)


def test_mixture_of_contents() -> None:
    assert mixed_mg_per_kg([(1500, 8), (500, 20)]) == 11
    assert mixed_mg_per_kg([(500, 0), (500, Decimal("0.3"))]) == Fraction("0.15")
    with pytest.raises(ValueError, match="weighs nothing"):
        mixed_mg_per_kg([(0, 8)])


def test_own_analysis_comes_first() -> None:
    own = FeedRow("Oats", Decimal("0.1"), Decimal("0.4"), DRY, None, "laboratory", own=True)
    assert feed_row("oats ", [own]) is own
    assert feed_row("OATS").calcium_percent == Decimal("0.07")
    with pytest.raises(ValueError, match="no figures"):
        feed_row("moonbeams")


def test_every_row_of_the_table_says_where_it_comes_from() -> None:
    assert all(row.source and not row.own for row in FEED_TABLE)
    assert len({row.name for row in FEED_TABLE}) == len(FEED_TABLE)


# After Ensminger, Oldfield and Heinemann, Feeds and Nutrition, 2nd ed. 1990: per cent calcium,
# phosphorus and dry matter, as fed.
HAYS = {
    "alfalfa hay": ("1.28", "0.24", "90"),
    "alfalfa hay, prebloom": ("1.34", "0.30", "90"),
    "alfalfa hay, midbloom": ("1.27", "0.22", "90"),
    "alfalfa hay, mature": ("1.07", "0.19", "90"),
    "Bermuda-grass hay": ("0.43", "0.16", "91"),
}
# Virginia Tech note on phosphorus in feeds (NRC 2001 and a laboratory's 2005 means), dry.
PHOSPHORUS = {
    "grass hay, immature": "0.34", "grass hay, mature": "0.26", "barley": "0.39",
    "wheat bran": "1.18", "beet pulp": "0.09", "soybean hulls": "0.17", "citrus pulp": "0.12",
}  # fmt: skip


@pytest.mark.parametrize("name", HAYS)
def test_hays_as_printed(name: str) -> None:
    row = feed_row(name)
    found = (row.calcium_percent, row.phosphorus_percent, row.dry_matter_percent)
    assert found == tuple(map(Decimal, HAYS[name]))
    assert row.basis == "as fed"


@pytest.mark.parametrize("name", PHOSPHORUS)
def test_phosphorus_as_printed(name: str) -> None:
    row = feed_row(name)
    assert (row.phosphorus_percent, row.basis) == (Decimal(PHOSPHORUS[name]), DRY)


def test_no_feed_holds_more_minerals_than_can_be() -> None:
    """Against slips of the keys in figures from memory."""
    # By molar masses: 40.08 of 100.09 g of calcium carbonate are calcium; of 136.06 g of
    # dicalcium phosphate 40.08 are calcium and 30.97 phosphorus.
    lime, dicalcium = feed_row("limestone"), feed_row("dicalcium phosphate")
    assert lime.calcium_percent is not None and 34 <= lime.calcium_percent <= 40
    assert dicalcium.calcium_percent is not None and dicalcium.calcium_percent <= Decimal("29.5")
    assert (lime.phosphorus_percent or 0) < 1
    assert (dicalcium.phosphorus_percent or 0) <= Decimal("22.8")
    # Langston University, Urinary Tract Disease: legumes, richest in calcium, hold 1 to 2 %.
    for row in FEED_TABLE:
        if row not in (lime, dicalcium):
            assert (row.calcium_percent or 0) <= 2 and (row.phosphorus_percent or 0) <= 2
