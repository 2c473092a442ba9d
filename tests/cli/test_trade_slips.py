"""What a tired keeper gets wrong at the first milking, and what the answer says of it at once."""

from __future__ import annotations

from tests.cli.laptops import Laptops
from tests.cli.trade import animal, record, warned

# Records are written at 2026-03-10 08:00 UTC, the farm's zone is UTC.


def test_a_date_that_lies_ahead_is_asked_about(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    for on, asked in (
        ("2027-03-10", True),
        ("2026-03-11", True),
        ("2026-03-10T20:00:00+00:00", True),
        ("2026-03-10T08:45:00+00:00", False),
        ("2026-03-10", False),
        ("2026-03", False),
        ("2025-03-10", False),
    ):
        told = record(farm, "hoof-trim", "animal=Agate", "front_left=ok", f"on={on}")
        assert warned(told, "The date of this hoof trim lies ahead") is asked, on
    told = animal(farm, "Topaz", "sex=doe", "born=2027-03-01")
    assert warned(told, "The date of this birth lies ahead (2027-03-01 00:00)")


def test_a_date_before_the_birth_is_asked_about(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    for on, asked in (("2020-02-29", True), ("2020-02", True), ("2020-03-01", False)):
        told = record(farm, "hoof-trim", "animal=Agate", "front_left=ok", f"on={on}")
        assert warned(told, "lies before Agate was born") is asked, on


def test_a_buck_that_broke_in_is_to_be_written_down_as_a_mating(farm: Laptops) -> None:
    for pen in ("North", "Bucks"):
        record(farm, "pen", f"name={pen}")
    for name, sex in (("Agate", "doe"), ("Basalt", "buck")):
        animal(farm, name, f"sex={sex}", "born=2020-03-01")
    record(farm, "pen-move", "animal=Agate", "pen=North", "on=2026-03-01")
    told = record(farm, "pen-move", "animal=Basalt", "pen=Bucks", "on=2026-03-01")
    assert not warned(told, "write a mating")
    told = record(farm, "pen-move", "animal=Basalt", "pen=North", "on=2026-03-10T02:00")
    assert warned(told, "Where they were together, write a mating (how=pen) of each doe")


def test_first_milk_written_down_as_sold_is_stopped(farm: Laptops) -> None:
    """Days 0 to 3 are left out of sale: common practice, no published source."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    record(farm, "kidding", "doe=Agate", "born_alive=1", "on=2026-03-06")
    for on, sold, stopped in (
        ("2026-03-06", "yes", True),
        ("2026-03-09", "yes", True),
        ("2026-03-09", "no", False),
        ("2026-03-10", "yes", False),
        ("2026-03-05", "yes", False),
    ):
        told = record(farm, "milk", "doe=Agate", "milk_kg=1", f"sold={sold}", f"on={on}")
        assert warned(told, "not for sale then") is stopped, on
        assert warned(told, "is colostrum still") is stopped, on


def test_one_milking_written_down_twice_is_asked_about(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    for milking, times in (("morning", 1), ("evening", 1), ("morning", 2)):
        told = record(farm, "milk", "doe=Agate", "milk_kg=2", f"milking={milking}")
        twice = f"Agate's {milking} milking of 2026-03-10 is written down 2 times"
        assert warned(told, twice) is (times == 2)
    assert not warned(record(farm, "milk", "doe=Agate", "milk_kg=2"), "times")


def test_a_newcomer_put_among_the_herd_is_told(farm: Laptops) -> None:
    """30 days apart: several extension pages."""
    for pen in ("North", "Far shed"):
        record(farm, "pen", f"name={pen}")
    for name in ("Agate", "Opal", "Basalt"):
        animal(farm, name, "sex=doe", "born=2020-03-01")
    record(farm, "pen-move", "animal=Agate", "pen=North")
    record(farm, "arrival", "animal=Opal", "on=2026-03-01")
    told = record(farm, "pen-move", "animal=Opal", "pen=Far shed", "on=2026-03-02")
    assert not warned(told, "newcomer")
    told = record(farm, "pen-move", "animal=Opal", "pen=North")
    assert warned(
        told, "Opal is a newcomer to be kept apart until 2026-03-31, and in North it stands"
    )
    told = record(farm, "pen-move", "animal=Basalt", "pen=North")
    assert warned(told, "in North it stands with Agate, Basalt")
    record(farm, "arrival", "animal=Agate", "on=2026-01-01")
    late = "2026-04-01T08:00:00+00:00"
    told = record(farm, "pen-move", "animal=Opal", "pen=North", at=late)
    assert not warned(told, "newcomer")


def test_a_kid_in_no_pen_is_told_where_its_dam_stands(farm: Laptops) -> None:
    record(farm, "pen", "name=North pen")
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    told = animal(farm, "Shale", "sex=buck", "born=2026-03-09", "dam=Agate")
    assert not warned(told, "no pen")
    record(farm, "pen-move", "animal=Agate", "pen=North pen")
    told = animal(farm, "Onyx", "sex=buck", "born=2026-03-09", "dam=Agate")
    assert warned(told, "herdsync record pen-move animal='Onyx' pen='North pen'")
    told = animal(farm, "Marl", "sex=doe", "born=2022-03-09", "dam=Agate")
    assert not warned(told, "no pen")
    told = record(farm, "animal", "sex=doe", "born=2026-03-09", "dam=Agate", "birth_order=2")
    assert warned(told, f"kid 2 of Agate ({told['id'][:6]}) stands in no pen yet")
    assert warned(told, f"animal='{told['id'][:6]}' pen='North pen'")
    assert not warned(
        record(farm, "pen-move", f"animal={told['id'][:6]}", "pen=North pen"), "no pen"
    )


def test_a_grown_buck_is_moved_with_a_caution(farm: Laptops) -> None:
    record(farm, "pen", "name=North")
    for name, sex, born, said in (
        ("Basalt", "buck", "2024-03-01", True),
        ("Shale", "buck", "2026-02-01", False),
        ("Agate", "doe", "2020-03-01", False),
    ):
        animal(farm, name, f"sex={sex}", f"born={born}")
        told = record(farm, "pen-move", f"animal={name}", "pen=North")
        assert warned(told, "never turn your back on him") is said, name


def test_a_dose_of_another_course_months_later_is_not_late(farm: Laptops) -> None:
    """More than seven intervals on: another course (common practice, no published source)."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    record(farm, "product", "substance=Fenstone", "interval_h=24", "milk_h=96", "meat_d=14")
    dose = ("animal=Agate", "product=Fenstone", "amount_ml=5")
    record(farm, "dose", *dose, "on=2025-10-01T08:00:00+00:00")
    assert not warned(record(farm, "dose", *dose, "on=2026-03-07T08:00:00+00:00"), "late")
    assert warned(record(farm, "dose", *dose), "72 h after the last dose, every 24 h: late")


def test_an_animal_without_a_birth_date_is_asked_about(farm: Laptops) -> None:
    for fields, asked in (
        (("name=Shale", "sex=buck"), True),
        (("name=Onyx", "sex=buck", "born=2026-02"), False),
        (("name=Flint", "sex=buck", "standing=outside"), False),
    ):
        assert warned(record(farm, "animal", *fields), "No birth date of") is asked, fields


def test_the_litter_on_a_kids_application_counts_its_dead(farm: Laptops) -> None:
    """Two alive and one dead are triplets, whether the kid names the kidding or its dam alone."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    on = "on=2026-03-01T23:50:00+00:00"
    told = record(farm, "kidding", "doe=Agate", "born_alive=2", "born_dead=1", on)
    animal(farm, "Opal", "sex=doe", "born=2026-03-01", "dam=Agate", f"kidding={told['id']}")
    animal(farm, "Topaz", "sex=doe", "born=2026-03-02", "dam=Agate")
    for name in ("Opal", "Topaz"):
        shown = farm.type("house", "papers", "kid-registration", name).out
        assert "Born in a litter of       3" in shown


def test_milk_that_no_goat_gives_is_asked_about(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    animal(farm, "Topaz", "sex=doe", "born=2026-02-01")
    told = record(farm, "milk", "doe=Agate", "milk_kg=45")
    assert warned(told, "45 kg at one milking is over 8: look at the figure")
    assert not warned(record(farm, "milk", "doe=Agate", "milk_kg=4.5"), "look at")
    assert warned(record(farm, "milk", "doe=Topaz", "milk_kg=1"), "milked at 37 days of age")


def test_an_act_written_down_twice_on_one_laptop_is_asked_about(pair: Laptops) -> None:
    """By the hours within which two writers' accounts are taken for one act: kidding 30 d, else 2 d."""
    animal(pair, "Agate", "sex=doe", "born=2020-03-01")
    for kind, fields, before, far in (
        ("kidding", ("doe=Agate",), "2026-02-10", "2026-01-01"),
        ("hoof-trim", ("animal=Agate",), "2026-03-09", "2026-02-01"),
    ):
        assert not warned(record(pair, kind, *fields, f"on={far}"), "already")
        assert not warned(record(pair, kind, *fields, f"on={before}"), "already"), kind
        told = record(pair, kind, *fields, "on=2026-03-10")
        assert warned(told, f"of {before} on record already"), kind
    assert not warned(record(pair, "weighing", "animal=Agate", "weight_kg=60"), "already")
    assert not warned(record(pair, "weighing", "animal=Agate", "weight_kg=60"), "already")


def test_two_animals_of_one_name_are_asked_about(farm: Laptops) -> None:
    assert not warned(animal(farm, "Shale", "sex=buck", "born=2026-03-05"), "called")
    told = animal(farm, "shale", "sex=buck", "born=2026-03-05")
    assert warned(told, "Another animal on record is called shale")
    assert not warned(animal(farm, "Shal", "sex=buck", "born=2026-03-05"), "called")
    marks = ("sex=doe", "born=2022-03-05", "tattoo_right=QMR", "tattoo_left=P5")
    for name in ("Opal", "Mica"):
        assert not warned(animal(farm, name, *marks), "called")


def test_a_look_after_a_procedure_is_answered_with_what_to_beware_of(farm: Laptops) -> None:
    animal(farm, "Shale", "sex=buck", "born=2026-01-05")
    record(farm, "castration", "animal=Shale", "method=ring", "complete=yes", "on=2026-03-08")
    told = record(farm, "check", "animal=Shale", "of=castration", "finding=smell")
    assert warned(told, "Smell, wet swelling, fever or an animal off its feed")
    assert not warned(told, "Broken skin"), "that is of the clamp"
    assert not warned(record(farm, "check", "animal=Shale", "of=disbudding"), "presses its head")
    record(farm, "disbudding", "animal=Shale", "applications=2", "on=2026-03-09")
    assert warned(record(farm, "check", "animal=Shale", "of=disbudding"), "presses its head")
    assert not warned(record(farm, "check", "animal=Shale", "what=skin"), "call")


def test_an_act_after_a_death_names_the_death(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    record(farm, "death", "animal=Agate", "on=2026-03-01")
    record(farm, "hoof-trim", "animal=Agate", "front_left=ok")
    (conflict,) = farm.ask("house", "conflicts")
    assert [claim["shown"] for claim in conflict["claims"]] == ["death", "front left ok"]


def test_kids_left_behind_by_their_dam_are_to_be_fed(farm: Laptops) -> None:
    """Counted as drinking from her to 90 days, a setting (common practice)."""
    for name in ("Agate", "Opal"):
        animal(farm, name, "sex=doe", "born=2020-03-01")
    for name, fields in (
        ("Shale", ("born=2026-03-01",)),
        ("Onyx", ("born=2026-03-01", "suckles=no")),
        ("Topaz", ("born=2026-03-01", "raised_by=Opal")),
        ("Marl", ("born=2025-12-09",)),
        ("Beryl", ("born=2025-12-10",)),
        ("Mica", ("born=2026-02-01",)),
    ):
        animal(farm, name, "sex=doe", "dam=Agate", *fields)
    record(farm, "weaning", "animal=Mica", "on=2026-03-09")
    told = record(farm, "death", "animal=Agate")
    named = {name for name in ("Shale", "Onyx", "Topaz", "Marl", "Beryl", "Mica")
             if warned(told, f"{name}, ") and warned(told, "drinks from Agate by its sheet")}  # fmt: skip
    assert named == {"Shale", "Beryl"}
    assert warned(record(farm, "leaving", "animal=Opal", "how=sold"), "Topaz, 9 days old")


def test_castration_says_what_it_costs_in_stones_and_of_a_stud_whether_he_was_meant(
    farm: Laptops,
) -> None:
    """8 weeks at the earliest, better 16: common practice, no published source."""
    for name, born, kept_as, narrow, stud in (
        ("Shale", "2026-01-14", "wether", True, False),
        ("Onyx", "2026-01-13", "wether", False, False),
        ("Topaz", "2026-03-01", "meat", False, False),
        ("Flint", "2026-03-01", "stud", False, True),
    ):
        animal(farm, name, "sex=buck", f"born={born}", f"kept_as={kept_as}")
        told = record(farm, "castration", f"animal={name}", "method=ring", "complete=yes")
        assert warned(told, "the urethra is narrow") is narrow, name
        assert warned(told, "is kept as a stud by its sheet") is stud, name


def test_bred_without_a_mating_on_record_has_no_day_to_kid(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    found = ("doe=Agate", "result=bred", "how=scan")
    assert warned(record(farm, "pregnancy-check", *found), "nothing of her kidding can be counted")
    record(farm, "mating", "doe=Agate", "how=pen", "on=2025-12-01", "until=2026-01-10")
    assert not warned(record(farm, "pregnancy-check", *found), "can be counted")


def test_a_test_day_that_cannot_be_is_asked_about(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    told = record(farm, "test-day", "doe=Agate", "milk_kg=30", "fat_percent=38")
    assert warned(told, "30 kg in a day is over 16, 38 % fat is outside 1.5 to 10 %: look at")
    assert not warned(record(farm, "test-day", "doe=Agate", "milk_kg=3", "fat_percent=3.8"), "look")


def test_milk_of_the_first_days_counts_as_given_and_not_for_sale(farm: Laptops) -> None:
    """Days 0 to 3 left out of sale, not of what was given: common practice, no published source."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    record(farm, "kidding", "doe=Agate", "born_alive=1", "on=2026-03-05")
    for on, sold in (("2026-03-05", "no"), ("2026-03-08", "yes"), ("2026-03-09", "yes")):
        record(farm, "milk", "doe=Agate", "milk_kg=2", f"sold={sold}", f"on={on}")
    told = farm.ask("house", "milk", at="2026-03-10T08:00:00+00:00")
    (line,) = told["does"]
    assert (line["milk_kg"], line["sold_kg"], line["held_kg"]) == (6.0, 2.0, 4.0)
    assert line["sold_while_held_kg"] == 2.0


def test_the_kidding_list_names_does_that_met_a_buck_without_a_mating_on_record(
    farm: Laptops,
) -> None:
    for pen in ("North", "Bucks"):
        record(farm, "pen", f"name={pen}")
    for name, sex in (("Agate", "doe"), ("Basalt", "buck")):
        animal(farm, name, f"sex={sex}", "born=2020-03-01")
    record(farm, "pen-move", "animal=Agate", "pen=North", "on=2026-01-01")
    record(farm, "pen-move", "animal=Basalt", "pen=North", "on=2026-03-01T02:00:00+00:00")
    record(farm, "pen-move", "animal=Basalt", "pen=Bucks", "on=2026-03-01T05:00:00+00:00")

    def told() -> str:
        return " ".join(farm.type("house", "kidding", at="2026-03-10T09:00:00+00:00").out.split())

    # 2026-03-01 + 145 and + 155 days, by hand.
    assert "! Agate could kid 2026-07-24 to 2026-08-03, and no mating of those days" in told()
    record(farm, "mating", "doe=Agate", "buck=Basalt", "how=hand", "on=2025-12-01")
    assert "no mating of those days is on record" in told()
    record(
        farm, "mating", "doe=Agate", "buck=Basalt", "how=pen", "on=2026-03-01", "until=2026-03-01"
    )
    assert "no mating" not in told()
