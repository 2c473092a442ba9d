"""Worms, milk, disease tests and rations from records to answers.

Rows named C... are those of the trade's check table; each names the source of its figure.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.laptops import Laptops
from tests.cli.trade import DAY, animal, record, warned


def test_eggs_per_gram_from_the_chamber(farm: Laptops) -> None:
    """C025: RVC/FAO Guide to Veterinary Parasitology, 27 eggs, 3 g in 45 mL, 0.30 mL counted."""
    animal(farm, "Agate", "sex=doe")
    record(farm, "egg-count", "animal=Agate", "eggs=27", "sample_g=3", "total_ml=45",
           "counted_ml=0.3")  # fmt: skip
    [line] = farm.ask("house", "eggs", "Agate", at=DAY)["animals"]
    assert line["eggs_per_gram"] == 1350


def test_a_count_without_its_chamber_says_what_is_missing(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe")
    assert warned(record(farm, "egg-count", "animal=Agate", "eggs=27"), "counted_ml")


@pytest.mark.parametrize(
    ("score", "action"), [("1", "leave"), ("3", "decide"), ("4", "treat"), ("5", "treat now")]
)
def test_an_eyelid_score_supports_the_decision(farm: Laptops, score: str, action: str) -> None:
    """Field-test reports: 1-2 leave, 4-5 treat, 3 by judgement."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    told = record(farm, "eyelid-score", "animal=Agate", f"score={score}")
    assert warned(told, f"'{action}'")
    assert warned(told, "veterinarian")
    [line] = farm.ask("house", "eggs", "Agate", at=DAY)["animals"]
    # 28 days outside the worm months; a pale one after a week: common practice.
    again = "2026-04-07" if score == "1" else "2026-03-17"
    assert (line["action"], line["look_again"]) == (action, again)


def test_a_score_of_three_is_tipped_by_what_is_on_record(farm: Laptops) -> None:
    """Thin animals (score 2 or less): Langston University, Body Condition Score."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    thin = record(farm, "condition-score", "animal=Agate", "score=2")
    assert warned(thin, "thin")
    record(farm, "eyelid-score", "animal=Agate", "score=2", "on=2026-02-20")
    told = record(farm, "eyelid-score", "animal=Agate", "score=3")
    assert warned(told, "paler than last time (2)") and warned(told, "'treat'")


# eggCounts 2.5-1 (R, 2025), dataset epgs: 14 sheep, factor 50.
P_BEFORE = (0, 3500, 400, 150, 0, 0, 0, 200, 0, 400, 0, 2000, 2900, 9300)
P_AFTER = (0, 200, 0, 50, 300, 0, 0, 0, 0, 0, 0, 0, 100, 800)
Q_CONTROL = (800, 1200, 450, 600, 1500, 950, 700, 1100, 500, 1000)
Q_TREATED = (0, 50, 0, 100, 50, 0, 0, 150, 0, 50)


def counts(farm: Laptops, sampled: str, epgs: tuple[int, ...], first: int, on: str) -> None:
    for place, epg in enumerate(epgs):
        record(farm, "egg-count", f"animal=Goat{first + place}", f"eggs={epg // 50}", "factor=50",
               f"sampled={sampled}", "trial=spring", "product=Fenstone", f"on={on}")  # fmt: skip


def test_a_paired_reduction_from_records(farm: Laptops) -> None:
    """C033 and C035, dataset P: 92.3077 %, 90 % limits 87.549 to 95.248 (delta interval)."""
    record(farm, "product", "substance=Fenstone", "family=group-one")
    for number in range(14):
        animal(farm, f"Goat{number}")
    counts(farm, "before", P_BEFORE, 0, "2026-02-10")
    counts(farm, "after", P_AFTER, 0, "2026-02-24")
    board = farm.ask("house", "eggs", "--trial", "spring", at=DAY)
    [line] = board["trials"]
    assert (line["form"], line["product_name"], line["animals"]) == ("paired", "Fenstone", 14)
    assert line["reduction_percent"] == pytest.approx(92.3077, abs=0.001)
    assert line["lower_percent"] == pytest.approx(87.549, abs=0.01)
    assert line["upper_percent"] == pytest.approx(95.248, abs=0.01)
    assert line["verdict"] == "resistant" and "veterinarian" in line["caution"]
    [family] = board["families"]
    assert (family["family"], family["newest"]) == ("group-one", "resistant")


def test_a_two_group_reduction_from_records(farm: Laptops) -> None:
    """C037-C039 and C043, dataset Q: 95.4545 %, variance 0.181029, 88.888 to 98.141, suspected
    (Coles 1992; verdict: BMC Veterinary Research 2019, s12917-019-1968-8)."""
    record(farm, "product", "substance=Fenstone")
    for number in range(20):
        animal(farm, f"Goat{number}")
    counts(farm, "control", Q_CONTROL, 0, "2026-02-24")
    counts(farm, "after", Q_TREATED, 10, "2026-02-24")
    [line] = farm.ask("house", "eggs", "--trial", "SPRING", at=DAY)["trials"]
    assert line["form"] == "two-group"
    assert line["reduction_percent"] == pytest.approx(95.4545, abs=0.001)
    assert line["log_ratio_variance"] == pytest.approx(0.181029, abs=1e-5)
    assert line["lower_percent"] == pytest.approx(88.888, abs=0.01)
    assert line["upper_percent"] == pytest.approx(98.141, abs=0.01)
    assert line["verdict"] == "suspected"


def test_an_unknown_trial_is_refused(farm: Laptops) -> None:
    assert "No egg count names" in farm.refusal("house", "eggs", "--trial", "autumn")


def test_a_lactation_from_its_test_days(farm: Laptops) -> None:
    """C105: 664.7 kg milk, 24.8769 kg fat, 20.5547 kg protein in 252 days (computed by the test
    interval method, ICAR Guidelines Section 2 Procedure 2)."""
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    record(farm, "kidding", "doe=Agate", "on=2025-02-10")
    record(farm, "dry-off", "doe=Agate", "on=2025-10-20")
    for on, milk, fat, protein in (
        ("03-01", 3.2, 4.1, 3.3), ("04-01", 3.8, 3.6, 3.0), ("05-01", 3.4, 3.5, 2.9),
        ("06-01", 3.0, 3.4, 2.9), ("07-01", 2.6, 3.6, 3.0), ("08-01", 2.2, 3.8, 3.1),
        ("09-01", 1.8, 4.0, 3.3), ("10-01", 1.2, 4.4, 3.6),
    ):  # fmt: skip
        record(farm, "test-day", "doe=Agate", f"on=2025-{on}", f"milk_kg={milk}",
               f"fat_percent={fat}", f"protein_percent={protein}", "cells_per_ml=200000")  # fmt: skip
    [line] = farm.ask("house", "milk", "Agate", at=DAY)["lactations"]
    assert (line["days"], line["tests"], line["running"]) == (252, 8, False)
    assert line["milk_kg"] == pytest.approx(664.7, abs=0.001)
    assert line["fat_kg"] == pytest.approx(24.8769, abs=0.0001)
    assert line["protein_kg"] == pytest.approx(20.5547, abs=0.0001)
    # C111: 200,000 cells are a score of 4 (formula from memory). Gaines: 0.4 M + 15 F.
    assert line["cell_score"] == 4
    assert line["fcm4_kg"] == pytest.approx(0.4 * 664.7 + 15 * 24.8769, abs=0.01)


def test_without_test_days_whole_days_of_milkings_stand_for_them(farm: Laptops) -> None:
    """Level between equal days: 28 days of 3 kg are 84 kg, whatever the interval (computed)."""
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    record(farm, "kidding", "doe=Agate", "on=2026-02-10")
    for on in ("2026-02-20", "2026-03-10"):
        for milking in ("am", "pm"):
            record(farm, "milk", "doe=Agate", f"on={on}", f"milking={milking}", "milk_kg=1.5")
    record(farm, "milk", "doe=Agate", "on=2026-03-01", "milking=am", "milk_kg=1")
    [line] = farm.ask("house", "milk", "Agate", at=DAY)["lactations"]
    assert (line["tests"], line["running"], line["milk_kg"]) == (2, True, 84)


def test_a_cell_count_over_the_limit_is_said_and_no_diagnosis(farm: Laptops) -> None:
    """Vermont Statutes 6 s. 2728: 1,500,000 per mL for goats."""
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    told = record(farm, "test-day", "doe=Agate", "milk_kg=2", "cells_per_ml=1600000")
    assert warned(told, "over the limit of 1500000")
    assert "no diagnosis" in farm.ask("house", "milk", at=DAY)["caution"]


def test_disease_tests_quarantine_and_papers(farm: Laptops) -> None:
    """Johne's ELISA finds 30-50 % of carriers (WSU Veterinary Extension 2023); yearly tests and 30
    days of quarantine are common practice. C133: five years after 2025-03-10 (English guidance)."""
    farm.ask("house", "settings", "country", "GB")
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    record(farm, "disease-test", "animal=Agate", "disease=Johne's", "result=negative",
           "sensitivity_percent=40", "specificity_percent=99", "on=2025-02-28")  # fmt: skip
    record(farm, "arrival", "animal=Agate", "how=bought", "on=2026-03-01")
    record(farm, "product", "substance=Fenstone", "milk_h=1", "meat_d=1")
    record(farm, "dose", "animal=Agate", "product=Fenstone", "on=2025-03-10")
    board = farm.ask("house", "screening", "--prevalence", "10", at=DAY)
    [test] = board["tests"]
    assert (test["next_test"], test["overdue"]) == ("2026-02-28", True)
    # p (1 - se) / (p (1 - se) + (1 - p) sp) = 0.06 / (0.06 + 0.891)
    assert test["negative_is_wrong"] == pytest.approx(0.06 / 0.951, abs=1e-6)
    assert test["telling_from"] == "2022-09-01"
    [newcomer] = board["newcomers"]
    assert newcomer["apart_until"] == "2026-03-31"
    papers = {one["key"]: one["until"] for one in board["keeping"]}
    assert papers["england-medicine"] == "2030-03-10" and "us-extralabel" not in papers


def test_months_between_tests_are_a_setting_by_disease(farm: Laptops) -> None:
    farm.ask("house", "settings", "test-months", "12,johnes=6")
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    for disease in ("CAE", "paratuberculosis"):
        record(farm, "disease-test", "animal=Agate", f"disease={disease}", "result=negative",
               "on=2026-01-31")  # fmt: skip
    tests = farm.ask("house", "screening", at=DAY)["tests"]
    assert {one["disease"]: one["next_test"] for one in tests} == {
        "CAE": "2027-01-31", "paratuberculosis": "2026-07-31",
    }  # fmt: skip


def test_a_ration_on_record_uses_the_farms_own_figures(farm: Laptops) -> None:
    """C093 (R1): 1500 g Bermuda-grass hay and 300 g oats: 6.66 g, 3.390 g, 1.965."""
    record(farm, "feed", "name=Home hay", "calcium_percent=0.43", "phosphorus_percent=0.16",
           "source=own analysis", "analysed=2026-01-05")  # fmt: skip
    record(farm, "feed", "name=Oats", "calcium_percent=0.07", "phosphorus_percent=0.33",
           "source=bag")  # fmt: skip
    record(farm, "ration", "name=Bucks")
    record(farm, "ration-part", "ration=Bucks", "feed=Home hay", "amount_g=1500")
    record(farm, "ration-part", "ration=Bucks", "feed=Oats", "amount_g=300")
    total = farm.ask("house", "ration", "--ration", "Bucks", "--for", "buck", at=DAY)
    assert (total["calcium_g"], total["phosphorus_g"]) == (6.66, 3.39)
    assert total["ratio"] == pytest.approx(1.965, abs=0.005)
    assert (total["advice"], total["limestone_g"] > 0) == ("look", True)
    assert any("bag" in line for line in total["further"])


def test_a_ration_file_is_completed_and_its_ceilings_are_said(
    farm: Laptops, tmp_path: Path
) -> None:
    """C095 (R3): 2.94 g, 3.300 g, 0.891, stop. C100: 1.0 % of 1.4 kg is 14 g (California Code of
    Regulations 3 s. 2790). Copper: Oregon State Extension, sheep bear 25 mg/kg."""
    file = tmp_path / "r3.toml"
    file.write_text(
        'sheep = true\n[[feed]]\nname = "Bermuda-grass hay"\namount_g = 600\n'
        '[[feed]]\nname = "maize grain"\namount_g = 500\ncalcium_percent = 0.03\n'
        "phosphorus_percent = 0.27\ncopper_ppm = 100\nammonium_chloride_percent = 4\n"
        '[[feed]]\nname = "oats"\namount_g = 300\ncalcium_percent = 0.07\n'
        "phosphorus_percent = 0.33\n"
    )
    total = farm.ask("house", "ration", str(file), at=DAY)
    assert total["ratio"] == pytest.approx(0.891, abs=0.005)
    assert total["advice"] == "stop"
    told = " ".join(total["further"])
    assert "from a table" in told and "Limestone" in told
    assert "ammonium chloride 20 g a day; the most is 14 g" in told
    assert "that sheep bear" in told


def test_added_selenium_is_held_to_its_ceiling(farm: Laptops, tmp_path: Path) -> None:
    """C098: 0.3 mg/kg x 2.2 kg of dry feed is 0.66 mg a day (FDA CVM Update 2005)."""
    file = tmp_path / "selenium.toml"
    file.write_text(
        '[[feed]]\nname = "hay"\namount_g = 2200\nbasis = "dry"\ncalcium_percent = 1\n'
        "phosphorus_percent = 0.4\nselenium_ppm = 0.4\n"
    )
    told = " ".join(farm.ask("house", "ration", str(file), at=DAY)["further"])
    assert "added selenium 0.88 mg a day; the most is 0.66 mg" in told


def test_a_ration_without_parts_or_with_strange_keys_is_refused(
    farm: Laptops, tmp_path: Path
) -> None:
    record(farm, "ration", "name=Bucks")
    assert "no parts" in farm.refusal("house", "ration", "--ration", "Bucks")
    file = tmp_path / "odd.toml"
    file.write_text("goats = 3\n")
    assert "has no 'goats'" in farm.refusal("house", "ration", str(file))
    assert "one of the two" in farm.refusal("house", "ration", code=2)


def test_every_verb_of_the_trade_fits_a_terminal(farm: Laptops) -> None:
    animal(farm, "A goat with a name that is far longer than any column could ever hold at all",
           "sex=buck", "born=2026-02-20")  # fmt: skip
    for verb in ("holds", "medicine", "eggs", "screening", "kidding", "exposures", "kids", "mark",
                 "milk"):  # fmt: skip
        done = farm.type("house", verb, at=DAY)
        assert done.code == 0, done.err
        assert all(len(line) <= 80 for line in done.out.splitlines()), verb


def test_a_few_late_milkings_are_no_lactation(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    record(farm, "kidding", "doe=Agate", "on=2025-06-10")
    for milking in ("am", "pm"):
        record(farm, "milk", "doe=Agate", "on=2026-03-09", f"milking={milking}", "milk_kg=1.5")
    [line] = farm.ask("house", "milk", "Agate", at=DAY)["lactations"]
    assert line["milk_kg"] is None and "no milking was weighed for 272 days" in line["says"]
