"""Medicine from records to answers: what was written down through the commands, what they then say.

Rows named C... are those of the trade's check table; each names the source of its figure. Products,
rates and withdrawals here are invented and typed, as a keeper types them off a label.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.cli.laptops import Laptops

DAY = "2025-03-10T08:00:00+00:00"


def herd(farm: Laptops, at: str = DAY) -> None:
    farm.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01", at=at)
    farm.ask("house", "record", "kidding", "doe=Agate", "on=2025-02-10", at=at)


def product(farm: Laptops, *more: str, at: str = DAY) -> None:
    farm.ask("house", "record", "product", "substance=Fenstone", *more, at=at)


def dose(farm: Laptops, *more: str, laptop: str = "house", at: str = DAY) -> Any:
    words = ("record", "dose", "animal=Agate", "product=Fenstone", "amount_ml=6", *more)
    return farm.ask(laptop, *words, at=at)


def held(farm: Laptops, animal: str = "Agate", at: str = DAY) -> Any:
    return farm.ask("house", "holds", animal, at=at)[0]


def until(one: Any, what: str) -> str:
    return str(next(hold["until"] for hold in one["holds"] if hold["what"].startswith(what)))


@pytest.mark.parametrize(
    ("hours", "clear", "discarded", "first"),
    [
        # C061, C062: label rule, strictly after; computed from it. The doe is milked at 06 and 18.
        ("96", "2025-03-14T06:00:00+00:00", 8, "2025-03-14T18:00:00+00:00"),
        # C063.
        ("36", "2025-03-11T18:00:00+00:00", 3, "2025-03-12T06:00:00+00:00"),
    ],
)
def test_milk_is_held_from_the_last_dose_and_milkings_counted(
    farm: Laptops, hours: str, clear: str, discarded: int, first: str
) -> None:
    herd(farm)
    farm.ask("house", "settings", "morning", "06:00")
    product(farm, f"milk_h={hours}", "meat_d=28")
    told = dose(farm, "on=2025-03-10T06:00:00+00:00")
    one = held(farm)
    assert until(one, "milk") == clear
    assert (one["milkings_to_discard"], one["first_saleable"]) == (discarded, first)
    assert "separate pail" in one["caution"]
    assert any(f"{discarded} milkings" in warning for warning in told["warnings"])


def test_meat_is_held_for_days_of_24_hours_and_from_the_end_of_a_bare_day(farm: Laptops) -> None:
    """C064 and C065: computed from the rule that the clock starts at the last dose."""
    herd(farm)
    product(farm, "milk_h=0", "meat_d=28")
    dose(farm, "on=2025-03-10T06:00:00+00:00")
    assert until(held(farm), "meat") == "2025-04-07T06:00:00+00:00"
    dose(farm, "on=2025-03-10")
    assert until(held(farm), "meat").startswith("2025-04-08T00:00:00")


def test_the_withdrawal_is_copied_into_the_dose_and_a_later_product_alters_nothing(
    farm: Laptops,
) -> None:
    """A keeper's figure at the time of the dose stands; the change is said, not applied."""
    herd(farm)
    product(farm, "milk_h=96", "meat_d=28")
    told = dose(farm, "on=2025-03-10T06:00:00+00:00")
    assert any("milk 96 h, meat 28 d" in warning for warning in told["warnings"])
    shown = farm.ask("house", "show", told["id"])["fields"]
    assert (shown["milk_h"]["value"], shown["meat_d"]["value"]) == (96, 28)
    changed = farm.ask("house", "amend", "Fenstone", "milk_h=24", "--because", "new label", at=DAY)
    assert until(held(farm), "milk") == "2025-03-14T06:00:00+00:00"
    assert any("keep what was written" in warning for warning in changed["warnings"])


def test_the_longest_figure_told_of_a_product_is_taken(pair: Laptops) -> None:
    """Two accounts of one label: the strictest counts until someone resolves it."""
    herd(pair)
    product(pair, "milk_h=48", "meat_d=10")
    pair.meet()
    pair.ask("house", "amend", "Fenstone", "milk_h=72", at=DAY)
    pair.ask("barn", "amend", "Fenstone", "milk_h=120", at=DAY)
    pair.meet()
    told = dose(pair, "on=2025-03-10T06:00:00+00:00")
    assert any("milk 120 h" in warning for warning in told["warnings"])


def test_a_dose_by_each_partner_is_asked_about_and_never_shortens(pair: Laptops) -> None:
    herd(pair)
    product(pair, "milk_h=96", "meat_d=28", "interval_h=24", "course_doses=3")
    pair.meet()
    dose(pair, "on=2025-03-10T06:00:00+00:00")
    dose(pair, "on=2025-03-10T07:00:00+00:00", laptop="barn")
    pair.meet()
    assert until(held(pair), "milk") == "2025-03-14T07:00:00+00:00"
    conflicts = pair.ask("house", "conflicts", at=DAY)
    assert [one["kind"] for one in conflicts] == ["pair"]
    again = dose(pair, "on=2025-03-10T07:30:00+00:00")
    assert any("too early" in warning for warning in again["warnings"])
    assert any("Ravi recorded Fenstone" in warning for warning in again["warnings"])


def test_a_late_dose_is_said_and_never_given_twice(farm: Laptops) -> None:
    herd(farm)
    product(farm, "milk_h=96", "meat_d=28", "interval_h=24", "course_doses=3")
    dose(farm, "on=2025-03-10T06:00:00+00:00")
    late = dose(farm, "on=2025-03-11T20:00:00+00:00", at="2025-03-11T20:05:00+00:00")
    assert any("never give it twice" in warning for warning in late["warnings"])


def test_a_course_shows_its_next_dose(farm: Laptops) -> None:
    herd(farm)
    product(farm, "milk_h=96", "meat_d=28", "interval_h=24", "course_doses=3")
    dose(farm, "on=2025-03-10T06:00:00+00:00")
    [course] = farm.ask("house", "medicine", at=DAY)["courses"]
    assert (course["name"], course["number"], course["doses"]) == ("Agate", 2, 3)
    assert (course["due"], course["state"]) == ("2025-03-11T06:00:00+00:00", "ahead")


def test_volume_and_sites_are_held_against_weight_and_typed_rate(farm: Laptops) -> None:
    """C048 and C049: 60 kg x 10 mg/kg / 100 mg/mL = 6 mL, two places of 3 mL.

    Sites: eXtension, Goat Quality Assurance (Fisher, Ohio State): at most 5 mL in one place in
    muscle. The rest is arithmetic with typed figures.
    """
    herd(farm)
    product(farm, "strength_mg_per_ml=100", "rate_mg_per_kg=10", "route=im", "milk_h=1", "meat_d=1")
    farm.ask("house", "record", "weighing", "animal=Agate", "weight_kg=60", "how=scale", at=DAY)
    fitting = dose(farm)["warnings"]
    assert any("2 places of 3 mL" in warning for warning in fitting)
    assert not any("that the rate written down gives" in warning for warning in fitting)
    words = ("record", "dose", "animal=Agate", "product=Fenstone", "amount_ml=9")
    later = farm.ask("house", *words, at="2025-04-10T08:00:00+00:00")
    assert any("50 % over the 6 mL" in warning for warning in later["warnings"])
    assert any("31 days old, over 14" in warning for warning in later["warnings"])


def test_without_a_weight_a_rate_by_weight_asks_for_the_scale(farm: Laptops) -> None:
    herd(farm)
    product(farm, "strength_mg_per_ml=100", "rate_mg_per_kg=10", "milk_h=1", "meat_d=1")
    assert any("weigh, do not guess" in warning for warning in dose(farm)["warnings"])


def test_stock_expiry_and_lot_are_read_off_the_shelf(farm: Laptops) -> None:
    herd(farm)
    product(farm, "milk_h=96", "meat_d=28", "interval_h=24", "course_doses=3")
    farm.ask("house", "record", "purchase", "product=Fenstone", "amount_ml=20", "lot=L7",
             "expiry=2025-03-31", "on=2025-03-01", at=DAY)  # fmt: skip
    told = dose(farm, "lot=L8", "on=2025-03-10T06:00:00+00:00")["warnings"]
    assert any("Lot L8" in warning and "L7" in warning for warning in told)
    [line] = farm.ask("house", "medicine", at=DAY)["products"]
    # Two doses of 6 mL are still to come in this course, 14 mL are left.
    assert (line["stock_ml"], line["needed_ml"], line["expired"]) == (14, 12, False)
    farm.ask("house", "record", "disposal", "product=Fenstone", "amount_ml=3", at=DAY)
    [short] = farm.ask("house", "medicine", at=DAY)["products"]
    assert short["stock_ml"] == 11
    assert "under the 12 mL of the next course" in short["stock_says"]
    spent = dose(farm, "lot=L7", at="2025-04-01T08:00:00+00:00")["warnings"]
    assert any("expired on 2025-03-31" in warning for warning in spent)


def test_what_a_use_outside_the_label_lacks_is_named(farm: Laptops) -> None:
    """21 CFR 530.5, as printed in Ohio State's antimicrobial-use book: the fields of the record."""
    herd(farm)
    product(farm, "extra_label=yes", "milk_h=96", "meat_d=28", "course_doses=3")
    told = dose(farm)["warnings"]
    [gap] = [warning for warning in told if "outside the label lacks" in warning]
    assert "the condition treated" in gap and "withdrawal" not in gap.split(":")[0]
    complete = dose(farm, "because=pneumonia", "on=2025-03-10T01:00:00+00:00")["warnings"]
    assert not any("outside the label lacks" in warning for warning in complete)


def test_the_uk_cascade_floor_is_a_check_on_what_was_written(farm: Laptops) -> None:
    """C067: Veterinary Medicines Regulations 2013, Schedule 4: 1.5 times the longest label period."""
    herd(farm)
    farm.ask("house", "settings", "country", "GB")
    product(farm, "extra_label=yes", "milk_h=96", "meat_d=42", "label_milk_h=96", "label_meat_d=28",
            "course_doses=1")  # fmt: skip
    told = dose(farm, "because=pneumonia")["warnings"]
    assert any("UK cascade: 96 hours is written, under 144" in warning for warning in told)
    enough = dose(farm, "because=pneumonia", "milk_h=144", "on=2025-03-10T01:00:00+00:00")
    assert not any("UK cascade" in warning for warning in enough["warnings"])


def test_a_does_hold_is_passed_to_the_kids_that_drink_from_her(farm: Laptops) -> None:
    """Common practice, no published source: milk of a treated doe carries her meat hold to kids."""
    herd(farm)
    farm.ask("house", "record", "animal", "name=Shale", "sex=buck", "born=2025-02-10", "dam=Agate",
             at=DAY)  # fmt: skip
    product(farm, "milk_h=96", "meat_d=28")
    told = dose(farm, "on=2025-03-10T06:00:00+00:00")["warnings"]
    assert any("Shale" in warning and "meat" in warning for warning in told)
    assert until(held(farm, "Shale"), "meat") == "2025-04-07T06:00:00+00:00"
    assert held(farm)["passed_to"] == ["Shale"]


def test_no_withdrawal_written_down_holds_and_says_so(farm: Laptops) -> None:
    herd(farm)
    product(farm)
    told = dose(farm)["warnings"]
    assert any("milk stays held" in warning for warning in told)
    assert until(held(farm), "milk") == ""


@pytest.mark.parametrize(
    ("typed", "flag"),
    [("103F", ""), ("40.0", ""), ("104.1F", "fever"), ("37.5", "low")],
)
def test_a_thermometer_outside_the_usual_is_flagged(farm: Laptops, typed: str, flag: str) -> None:
    """C070. Range: Langston University, Common Herd Health Procedures, 103-104 F; flags common
    practice, so exactly 40.0 C is no alarm."""
    herd(farm)
    told = farm.ask("house", "record", "temperature", "animal=Agate", f"temperature_c={typed}",
                    at=DAY)  # fmt: skip
    flags = [warning for warning in told["warnings"] if warning.startswith("Agate")]
    assert bool(flags) == bool(flag) and all(flag in warning for warning in flags)


@pytest.mark.parametrize(
    ("tape", "kg"),
    [
        # C053: WSU Extension Ferry County prints 122 lb for girth 35 and length 30 inches.
        (("girth_cm=35in", "length_cm=30in"), 55.57),
        # C054: the same formula.
        (("girth_cm=24in", "length_cm=21in"), 18.29),
        # C058: US dairy-goat weight tape, 10.75 in is 5 lb.
        (("girth_cm=10.75in",), 2.27),
    ],
)
def test_a_tape_gives_an_estimated_weight(farm: Laptops, tape: tuple[str, ...], kg: float) -> None:
    herd(farm)
    told = farm.ask("house", "record", "weighing", "animal=Agate", *tape, at=DAY)
    shown = farm.ask("house", "show", told["id"])["fields"]
    assert shown["weight_kg"]["value"] == pytest.approx(kg, abs=0.01)
    assert shown["how"]["value"].startswith("girth")
    assert any("estimated" in warning for warning in told["warnings"])


def test_a_tape_outside_the_chart_is_refused(farm: Laptops) -> None:
    """C060: no extrapolation; ours."""
    herd(farm)
    told = farm.refusal("house", "record", "weighing", "animal=Agate", "girth_cm=45in")
    assert "outside the chart" in told


def test_milk_sold_while_held_is_a_stop(farm: Laptops) -> None:
    herd(farm)
    product(farm, "milk_h=96", "meat_d=28")
    dose(farm, "on=2025-03-10T06:00:00+00:00")
    wrong = farm.ask("house", "record", "milk", "doe=Agate", "milk_kg=1.5", "milking=pm",
                     "sold=yes", "on=2025-03-10T18:00:00+00:00", at="2025-03-10T19:00:00+00:00")  # fmt: skip
    assert any("tell the buyer at once" in warning for warning in wrong["warnings"])
    [line] = farm.ask("house", "milk", "Agate", at="2025-03-10T19:00:00+00:00")["does"]
    assert (line["milk_kg"], line["sold_kg"], line["held_kg"]) == (1.5, 0, 1.5)
    assert (line["sold_while_held_kg"], line["advice"]) == (1.5, "stop")


def test_a_volume_is_worked_out_from_the_products_sheet(farm: Laptops) -> None:
    """C050: 34.5 kg x 0.2 mg/kg / 10 mg/mL = 0.69 mL, 0.7 on 0.1 mL marks, +1.45 % (arithmetic)."""
    herd(farm)
    product(farm, "strength_mg_per_ml=10", "rate_mg_per_kg=0.2", "said_by=Dr Vole", "route=im")
    farm.ask("house", "record", "weighing", "animal=Agate", "weight_kg=34.5", "how=scale", at=DAY)
    words = ("dose", "--animal", "Agate", "--product", "Fenstone", "--step", "0.1")
    volume = farm.ask("house", *words, at=DAY)
    assert (volume["volume_ml"], volume["rounded_ml"]) == (0.69, 0.7)
    assert volume["change_percent"] == pytest.approx(1.45, abs=0.01)
    assert volume["said_by"] == "Dr Vole"


def test_a_ceiling_and_more_places_are_the_prescribers_word(farm: Laptops) -> None:
    """C052: 3.5 kg x 5 mg/kg / 10 mg/mL = 1.75 mL, 0.4375 mL in each of four places (arithmetic)."""
    herd(farm)
    words = ("dose", "--animal", "Agate", "--weight", "3.5", "--strength", "10", "--step", "0.01")
    volume = farm.ask("house", *words, "--rate", "5", "--sites", "4", "--ceiling", "5", at=DAY)
    assert (volume["volume_ml"], volume["sites"], volume["each_ml"]) == (1.75, 4, 0.4375)
    over = farm.ask("house", *words, "--rate", "6", "--ceiling", "5", at=DAY)
    assert any("do not give it, ask" in warning for warning in over["warnings"])


def test_a_sheet_that_tells_no_rate_is_refused(farm: Laptops) -> None:
    herd(farm)
    product(farm)
    farm.ask("house", "record", "weighing", "animal=Agate", "weight_kg=60", "how=scale", at=DAY)
    told = farm.refusal("house", "dose", "--animal", "Agate", "--product", "Fenstone")
    assert "rate_mg_per_kg" in told
    assert "--rate and --strength" in farm.refusal("house", "dose", "--animal", "Agate")
