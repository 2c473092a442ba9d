"""What the trade says at the moment an act is written down, each beside its ground."""

from __future__ import annotations

import pytest

from herdsync.kinds import CATALOGUE
from tests.cli.laptops import Laptops
from tests.cli.trade import animal, record, warned


def test_a_scur_that_grows_inward_is_given_the_day_it_would_reach_the_skin(farm: Laptops) -> None:
    """Arithmetic: 6 mm in 60 days, 9 mm left: 90 days on."""
    animal(farm, "Pumice", "sex=buck", "born=2024-03-01")
    record(farm, "scurs", "animal=Pumice", "on=2026-01-09", "left_mm=10", "right_mm=4")
    told = record(farm, "scurs", "animal=Pumice", "left_mm=16", "left_direction=towards-skull",
                  "left_gap_mm=9", "right_mm=4")  # fmt: skip
    assert warned(told, "left scur: it grows towards the skull, trim it now; it would reach the skin"
                  " about 2026-06-08")  # fmt: skip
    assert not warned(told, "right scur")
    touching = record(farm, "scurs", "animal=Pumice", "left_direction=touching-skull")
    assert warned(touching, "call the veterinarian, do not cut it yourself")


def test_a_moment_is_shown_by_the_clock_on_the_wall_and_standing_once(farm: Laptops) -> None:
    animal(farm, "Topaz", "sex=doe", "born=2026-02-10T05:30:00+00:00")
    record(farm, "death", "animal=Topaz", "on=2026-03-01")
    told = farm.type("house", "show", "Topaz").out
    assert "born              2026-02-10 05:30\n" in told
    assert "now               dead\n" in told
    assert (
        farm.ask("house", "show", "Topaz")["fields"]["born"]["value"] == "2026-02-10T05:30:00+00:00"
    )
    assert "born: 2026-02-10 05:30" in farm.type("house", "trail", "Topaz").out


def test_heads_that_do_not_agree_are_said_at_once_and_with_the_herd(farm: Laptops) -> None:
    record(farm, "pen", "name=Barn")
    animal(farm, "Opal", "sex=doe", "born=2020-02-10")
    record(farm, "pen-move", "animal=Opal", "pen=Barn", "on=2026-03-01")
    told = record(farm, "counted-heads", "pen=Barn", "heads=2")
    assert warned(
        told, "2 heads were counted in Barn at 2026-03-10 08:00, the records put 1 there (Opal)"
    )
    listed = farm.type("house", "herd", at="2026-03-11T08:00:00+00:00").out
    assert "! 2 heads were counted in Barn" in listed
    for words in (["due"], ["due", "--pen", "Barn"]):
        listed = farm.type("house", *words, at="2026-03-11T08:00:00+00:00").out
        assert "! 2 heads were counted in Barn" in listed
    *works, recount = farm.ask("house", "due", at="2026-03-11T08:00:00+00:00")
    assert {work["heads"] for work in works} == {None}
    assert set(recount) == set(works[0]) and recount["kind"] == "counted-heads"
    assert recount["pen"] == "Barn" and "2 heads were counted" in recount["reason"]
    assert (recount["heads"]["counted"], recount["heads"]["recorded"]) == (2, 1)
    record(farm, "pen", "name=Shed")
    shed = farm.ask("house", "due", "--pen", "Shed", at="2026-03-11T08:00:00+00:00")
    assert [work["heads"] for work in shed if work["kind"] == "counted-heads"] == []
    for words in (["due", "--pen", "Shed"], ["due", "--animal", "Opal"]):
        listed = farm.type("house", *words, at="2026-03-11T08:00:00+00:00").out
        assert "counted" not in listed
    told = record(farm, "counted-heads", "pen=Barn", "heads=1", at="2026-03-11T09:00:00+00:00")
    assert not warned(told, "counted")
    assert "counted" not in farm.type("house", "herd", at="2026-03-11T10:00:00+00:00").out


def test_an_act_of_the_other_sex_is_asked_about(farm: Laptops) -> None:
    animal(farm, "Shale", "sex=buck", "born=2024-02-10")
    animal(farm, "Agate", "sex=doe", "born=2020-02-10")
    animal(farm, "Opal", "sex=doe", "born=2020-02-10")
    told = record(farm, "milk", "doe=Shale", "milk_kg=1")
    assert warned(
        told, "Shale is a buck by its sheet: look whether the milking is another animal's."
    )
    told = record(farm, "castration", "animal=Agate", "method=ring")
    assert warned(told, "Agate is a doe by its sheet")
    told = record(farm, "mating", "doe=Agate", "buck=Opal")
    assert warned(told, "Opal is a doe by its sheet: look whether another animal was the buck.")
    told = record(farm, "mating", "doe=Agate", "buck=Shale")
    assert not warned(told, "by its sheet")


def test_what_holds_nothing_is_not_told_as_a_hold(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-02-10")
    record(farm, "product", "substance=Fenstone", "milk_h=0", "meat_d=21", "said_by=the label")
    told = record(farm, "vaccination", "animal=Agate", "product=Fenstone", "amount_ml=2")
    assert warned(told, "Agate: meat not for sale until 2026-03-31 08:00")
    assert not warned(told, "milk not for sale")


def test_a_trimmed_scur_is_not_measured_against(farm: Laptops) -> None:
    animal(farm, "Pumice", "sex=buck", "born=2024-03-01")
    record(farm, "scurs", "animal=Pumice", "on=2026-01-09", "left_mm=20", "trimmed=yes")
    told = record(farm, "scurs", "animal=Pumice", "left_mm=8", "left_direction=towards-eye")
    assert warned(told, "towards the eye: measure the gap")


def test_bottles_of_a_day_add_up(farm: Laptops) -> None:
    """Cornell CALS 4-H, Using math to see how well your goat is growing: 1 to 2 quarts a day."""
    animal(farm, "Shale", "sex=doe", "born=2026-02-10")
    for amount, over in (("950", False), ("900", False), ("100", True)):
        told = record(farm, "feeding", "animal=Shale", "what=milk", f"amount_ml={amount}")
        assert warned(told, "scours") is over
    newborn = animal(farm, "Jasper", "sex=doe", "born=2026-03-09")
    assert newborn["id"]
    told = record(farm, "feeding", "animal=Jasper", "what=milk", "amount_ml=2000")
    assert not warned(told, "scours")


def test_a_tube_and_held_milk_are_warned_of(farm: Laptops) -> None:
    """Tube feeding only by someone trained; milk of a treated doe to no kid: common practice."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    animal(farm, "Shale", "sex=doe", "born=2026-03-09")
    record(farm, "product", "substance=Fenstone", "milk_h=96", "meat_d=14", "said_by=the label")
    record(farm, "dose", "animal=Agate", "product=Fenstone", "amount_ml=5")
    told = record(farm, "feeding", "animal=Shale", "what=colostrum", "how=stomach tube",
                  "source=from Agate")  # fmt: skip
    assert warned(told, "only by someone trained")
    assert warned(told, "Milk of Agate is held")


def test_official_identification_before_leaving_in_the_united_states(farm: Laptops) -> None:
    """9 CFR 79, as summed up by Ohio State Extension 2019: intact of any age, wethers from 18 months."""
    animal(farm, "Topaz", "sex=doe", "born=2026-02-10")
    animal(farm, "Opal", "sex=doe", "born=2026-02-10")
    told = record(farm, "leaving", "animal=Topaz", "how=sold")
    assert not warned(told, "official identification is needed")
    farm.ask("house", "settings", "country", "US")
    told = record(farm, "leaving", "animal=Opal", "how=sold")
    assert warned(told, "official identification is needed before it leaves")


def test_a_heat_says_how_long_she_may_stand(farm: Laptops) -> None:
    """Merck Veterinary Manual, Puberty and Estrus in Goats: 36 hours, 24 to 48."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    told = record(farm, "heat", "doe=Agate", "on=2026-03-10T06:00:00+00:00")
    assert warned(told, "to about 2026-03-11 18:00, 2026-03-12 06:00 at the latest")


def test_a_buck_let_in_brings_a_fertile_heat(farm: Laptops) -> None:
    """NC State Extension, Heat Detection: first heat after 2 to 3 days, fertile about 5 later."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    animal(farm, "Basalt", "sex=buck", "born=2020-03-01")
    told = record(farm, "mating", "doe=Agate", "buck=Basalt", "how=pen", "on=2026-03-01")
    assert warned(told, "(2026-03-08 to 2026-03-09)")


@pytest.mark.parametrize(
    ("pcv", "score", "says"),
    [("28", "1", "as scored"), ("22.4", "2", "score 3, scored 2"), ("12.4", "5", "as scored"),
     ("12.5", "5", "score 4, scored 5")],
)  # fmt: skip
def test_blood_is_set_beside_the_eyelid(farm: Laptops, pcv: str, score: str, says: str) -> None:
    """Brazilian dairy-goat field study, 2009-10: classes of packed cell volume; whole per cents."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    told = record(farm, "eyelid-score", "animal=Agate", f"score={score}", f"pcv_percent={pcv}")
    assert warned(told, says)


def test_eggs_from_dung_and_fluid_told_apart(farm: Laptops) -> None:
    """C032: Langston University, Procedure for Counting Fecal Eggs: 2 g + 28 mL, 0.30 mL: 50."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    told = record(farm, "egg-count", "animal=Agate", "eggs=27", "sample_g=2", "fluid_ml=28",
                  "counted_ml=0.3")  # fmt: skip
    assert warned(told, "1350 eggs per gram")


def test_a_negative_of_johnes_says_what_a_test_of_blood_finds(farm: Laptops) -> None:
    """WSU Veterinary Extension, Johne's disease, 2023: 30 to 50 of 100."""
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    test = ("animal=Agate", "disease=Johne's", "result=negative")
    assert warned(record(farm, "disease-test", *test), "finds 30 to 50 of 100")
    # (1 - 0.4) squared = 0.36, by hand.
    told = record(farm, "disease-test", *test, "sensitivity_percent=40")
    assert warned(told, "finds none of them in 36 of 100 herds")


# What can hurt animal or people, and the least that is said of it.
CAUTIONS = {
    "disbudding": "hot iron", "scurs": "bleeds", "castration": "Tetanus", "hoof-trim": "pink",
    "tattoo": "card", "dose": "label", "vaccination": "bad reaction", "course": "label",
    "product": "label", "kidding": "veterinarian", "abortion": "gloves", "illness": "veterinarian",
    "temperature": "call", "eyelid-score": "every cause", "ration": "copper", "leaving": "tattoo",
    "feed": "mouldy", "ration-part": "copper", "feeding": "tube", "death": "gloves", "mating": "buck",
    "dry-off": "halves", "arrival": "apart",
    "disease-test": "veterinarian", "disposal": "drain", "udder-check": "veterinarian",
}  # fmt: skip
SAID_WITH = {
    "disbudding": ("animal=Shale",), "scurs": ("animal=Shale",), "castration": ("animal=Shale",),
    "hoof-trim": ("animal=Shale", "front_left=ok"), "tattoo": ("animal=Shale", "stage=planned"),
    "dose": ("animal=Agate", "product=Fenstone"), "vaccination": ("animal=Agate", "product=Fenstone"),
    "course": ("animal=Agate", "product=Fenstone"), "product": ("substance=Other",),
    "kidding": ("doe=Agate",), "abortion": ("doe=Agate",), "illness": ("animal=Agate", "what=cough"),
    "temperature": ("animal=Agate", "temperature_c=39"), "eyelid-score": ("animal=Agate", "score=1"),
    "ration": ("name=Dry",),
    "feed": ("name=Bran",), "ration-part": ("ration=Dry", "feed=Oats", "amount_g=100"),
    "feeding": ("animal=Shale", "what=colostrum"), "leaving": ("animal=Agate", "how=sold"),
    "death": ("animal=Shale",),
    "mating": ("doe=Agate",), "dry-off": ("doe=Agate",), "arrival": ("animal=Agate",),
    "disease-test": ("animal=Agate", "disease=CAE"), "disposal": ("product=Fenstone",),
    "udder-check": ("doe=Agate",),
}  # fmt: skip


def test_what_can_hurt_says_so_where_the_keeper_acts(farm: Laptops) -> None:
    animal(farm, "Agate", "sex=doe", "born=2020-03-01")
    animal(farm, "Shale", "sex=buck", "born=2026-03-05")
    record(farm, "product", "substance=Fenstone", "milk_h=96", "meat_d=14")
    record(farm, "feed", "name=Oats")
    assert set(SAID_WITH) == set(CAUTIONS)
    assert {name for name, kind in CATALOGUE.items() if kind.caution} == set(CAUTIONS)
    for kind, words in CAUTIONS.items():
        told = record(farm, kind, *SAID_WITH[kind])
        assert CATALOGUE[kind].caution in told["warnings"], kind
        assert words in CATALOGUE[kind].caution, kind
        spoken = farm.type("house", "kinds", kind).out
        assert "Caution:" in spoken, kind


@pytest.mark.parametrize("words", [("due",), ("due", "--animal", "Shale"), ("show", "Shale")])
def test_due_work_is_told_with_its_caution(farm: Laptops, words: tuple[str, ...]) -> None:
    animal(farm, "Shale", "sex=buck", "born=2026-03-05", "horns_born=horned")
    spoken = " ".join(farm.type("house", *words, at="2026-03-10T08:00:00+00:00").out.split())
    assert "Caution: Heat the iron at least 10 minutes and prove it on wood" in spoken


def test_the_walk_tells_a_caution_in_full_once_in_each_pen(farm: Laptops) -> None:
    record(farm, "pen", "name=North")
    for name in ("Shale", "Onyx", "Topaz"):
        animal(farm, name, "sex=buck", "born=2026-03-05", "horns_born=horned")
    record(farm, "pen-move", "pen=North", "animal=Shale")
    shown = farm.type("house", "due", at="2026-03-10T08:00:00+00:00").out
    for pen in ("North", "No pen"):
        part = shown[shown.index(f"{pen}\n") :].split("\n\n")[0]
        assert part.count("Caution: Heat the iron") == 1, part
    assert shown.count("Disbud, if the kid is horned") == 3
    last = shown[shown.rindex("Disbud, if the kid is horned") :]
    assert "Caution: as above, at Onyx." in last


def test_the_walk_tells_what_law_says_of_it(farm: Laptops) -> None:
    """RCVS statement on disbudding goats: in the United Kingdom by a veterinarian alone."""
    animal(farm, "Shale", "sex=buck", "born=2026-03-05", "horns_born=horned")
    farm.ask("house", "settings", "country", "GB")
    shown = " ".join(farm.type("house", "due", at="2026-03-10T08:00:00+00:00").out.split())
    assert "Law: veterinarian only: disbudding a goat is veterinary surgery" in shown


def test_an_animals_page_says_what_it_is_now(farm: Laptops) -> None:
    animal(farm, "Shale", "sex=buck", "born=2025-03-05")
    record(farm, "castration", "animal=Shale", "method=surgical", "complete=yes")
    spoken = farm.type("house", "show", "Shale", at="2026-03-10T09:00:00+00:00").out
    assert "wether, counts as entire until 2026-04-07" in spoken
    record(farm, "leaving", "animal=Shale", "how=sold", "on=2026-03-10")
    spoken = farm.type("house", "show", "Shale", at="2026-03-11T08:00:00+00:00").out
    assert "sold" in next(line for line in spoken.splitlines() if line.startswith("  now"))


def test_a_death_asks_to_look_at_those_beside_it(farm: Laptops) -> None:
    record(farm, "pen", "name=Straw pen")
    for name in ("Agate", "Opal"):
        animal(farm, name, "sex=doe", "born=2020-03-01")
        record(farm, "pen-move", f"animal={name}", "pen=Straw pen", "on=2026-01-01")
    told = record(farm, "death", "animal=Agate", "how=found-dead")
    assert warned(told, "Look at those of Straw pen today: Opal.")
