"""Marks, breeding and kids from records to answers.

Rows named C... are those of the trade's check table; each names the source of its figure.
"""

from __future__ import annotations

import pytest

from tests.cli.laptops import Laptops
from tests.cli.trade import DAY, animal, record, warned


@pytest.mark.parametrize(
    ("year", "letter"), [(2015, "F"), (2016, "H"), (2020, "M"), (2024, "S"), (2026, "V")]
)
def test_the_year_letter_of_the_dairy_series(farm: Laptops, year: int, letter: str) -> None:
    """C113-C117: American Dairy Goat Association and Miniature Dairy Goat Association."""
    board = farm.ask("house", "mark", "--year", str(year), at=DAY)
    assert board["suggestion"]["letter"] == letter
    assert board["suggestion"]["printed"]


@pytest.mark.parametrize(
    ("year", "letter", "printed"), [(2010, "Z", True), (2015, "E", False), (2032, "Z", False)]
)
def test_the_year_letter_of_the_meat_series(
    farm: Laptops, year: int, letter: str, printed: bool
) -> None:
    """C119, C121, C124: US Goat Working Group, registry list; later years extrapolated."""
    farm.ask("house", "settings", "letters", "meat")
    suggestion = farm.ask("house", "mark", "--year", str(year), at=DAY)["suggestion"]
    assert (suggestion["letter"], suggestion["printed"]) == (letter, printed)


def test_letters_announced_each_year_are_asked_for(farm: Laptops) -> None:
    farm.ask("house", "settings", "letters", "none")
    assert farm.ask("house", "mark", at=DAY)["suggestion"] is None
    farm.ask("house", "settings", "letters-announced", "2026=Q")
    assert farm.ask("house", "mark", at=DAY)["suggestion"]["left"] == "Q1"


def test_the_third_kid_of_2024_is_s3_and_firm_only_when_done(farm: Laptops) -> None:
    """C125: registry rule of letter and birth order, computed."""
    for number in (1, 2):
        animal(farm, f"Kid{number}", "born=2024-03-01", "tattoo_right=QMR",
               f"tattoo_left=S0{number}")  # fmt: skip
    animal(farm, "Onyx", "born=2024-03-05", "sex=doe")
    board = farm.ask("house", "mark", "Onyx", at=DAY)["suggestion"]
    assert (board["left"], board["right"], board["taken"]) == ("S3", "QMR", [1, 2])
    assert "firm only when the tattoo is recorded done" in board["says"]
    planned = record(farm, "tattoo", "animal=Onyx", "stage=planned", "left=S3")
    assert warned(planned, "firm only")
    assert farm.ask("house", "mark", "--year", "2024", at=DAY)["suggestion"]["left"] == "S4"
    done = record(farm, "tattoo", "animal=Onyx", "stage=done", "left=S3", "right=QMR")
    assert not warned(done, "does not carry it")
    assert farm.ask("house", "show", "QMR S3")["title"] == "Onyx"


def test_a_number_the_partner_wrote_is_not_suggested_and_its_age_is_said(pair: Laptops) -> None:
    animal(pair, "Jasper", "born=2026-02-10", laptop="barn")
    record(pair, "tattoo", "animal=Jasper", "stage=done", "left=V1", laptop="barn")
    assert pair.ask("house", "mark", at=DAY)["suggestion"]["left"] == "V1"
    pair.meet()
    board = pair.ask("house", "mark", at=DAY)["suggestion"]
    assert board["left"] == "V2"
    [heard] = board["heard"]
    assert (heard["device"], heard["last_recorded"]) == ("barn", DAY)
    animal(pair, "Onyx", "born=2026-02-11")
    told = record(pair, "tattoo", "animal=Onyx", "stage=done", "left=V 01")
    assert warned(told, "already written for Jasper")


def test_one_number_on_two_kids_is_seen_when_the_laptops_meet(pair: Laptops) -> None:
    """Each laptop suggests the number of its own kid while apart; none stays twice unnoticed."""
    for laptop, name in (("house", "Onyx"), ("barn", "Jasper")):
        animal(pair, name, "born=2026-02-11", laptop=laptop)
        left = pair.ask(laptop, "mark", name, at=DAY)["suggestion"]["left"]
        told = record(pair, "tattoo", f"animal={name}", "stage=done", f"left={left}",
                      "right=QMR", laptop=laptop)  # fmt: skip
        assert left == "V1" and not warned(told, "already written")
    pair.meet()
    for laptop in ("house", "barn"):
        [twice] = pair.ask(laptop, "conflicts")
        assert twice["field"] == "one mark on two animals"
        assert pair.ask(laptop, "mark", at=DAY)["suggestion"]["left"] == "V2"
        board = {line["name"]: line for line in pair.ask(laptop, "mark", at=DAY)["animals"]}
        assert warned(board["Onyx"], "V1 is written for Jasper too")
    amended = pair.ask("house", "amend", "Jasper", "tattoo_left=V2", "--because", "read again")
    assert amended["id"]
    pair.meet()
    assert pair.ask("barn", "conflicts") == []
    assert pair.ask("barn", "mark", at=DAY)["suggestion"]["left"] == "V3"


def test_a_helper_tattoos_and_a_keeper_amends_the_sheet(pair: Laptops) -> None:
    animal(pair, "Onyx", "born=2026-02-11")
    pair.ask("house", "role", "barn", "helper")
    pair.meet()
    told = record(pair, "tattoo", "animal=Onyx", "stage=done", "left=V1", laptop="barn")
    assert warned(told, "herdsync amend")
    pair.meet()
    assert pair.ask("house", "unvouched") == []
    assert "tattoo_left" not in pair.ask("house", "show", "Onyx")["fields"]


def test_laptops_that_share_odd_and_even_numbers_never_suggest_the_same(pair: Laptops) -> None:
    pair.ask("house", "settings", "tattoo-share", "house=odd,barn=even")
    pair.meet()
    lefts = [pair.ask(one, "mark", at=DAY)["suggestion"]["left"] for one in ("house", "barn")]
    assert lefts == ["V1", "V2"]
    assert "write every" in pair.refusal("house", "settings", "tattoo-share", "house=few")


def test_a_block_that_is_used_up_is_refused_with_the_mend(farm: Laptops) -> None:
    farm.ask("house", "settings", "tattoo-share", "house=1-1")
    animal(farm, "Onyx", "born=2026-02-11", "tattoo_left=V1", "tattoo_right=QMR")
    assert "tattoo-share" in farm.refusal("house", "mark")


def test_a_number_used_within_22_years_is_passed_over(farm: Laptops) -> None:
    """American Dairy Goat Association: a mark is not used again within 22 years; letters come back
    after 21."""
    animal(farm, "Marl", "born=2005-02-10", "tattoo_left=V1", "tattoo_right=QMR")
    assert farm.ask("house", "mark", at=DAY)["suggestion"]["left"] == "V2"


def test_a_letter_of_another_year_is_warned_of_and_left_as_typed(farm: Laptops) -> None:
    told = animal(farm, "Topaz", "born=2026-02-10", "tattoo_left=T4", "tattoo_right=QMR")
    assert warned(told, "2026 is V")
    assert farm.ask("house", "show", "Topaz")["fields"]["tattoo_left"]["value"] == "T4"


@pytest.mark.parametrize("prefix", ["ABCDE", "K2", "D347"])
def test_a_prefix_no_registry_takes_is_said(farm: Laptops, prefix: str) -> None:
    """C126: American Dairy Goat Association, rule for the herd sequence."""
    assert warned(animal(farm, "Topaz", f"tattoo_right={prefix}"), "herd prefix")


def test_short_ears_take_the_marks_in_the_tail_web(farm: Laptops) -> None:
    animal(farm, "Beryl", "born=2026-02-10", "breed=LaMancha")
    [line] = farm.ask("house", "mark", "Beryl", at=DAY)["animals"]
    assert line["sites"][0] == "right tail web"


def test_a_reread_mark_that_fades_is_said(farm: Laptops) -> None:
    animal(farm, "Topaz", "born=2026-02-10", "tattoo_left=V4")
    told = record(farm, "tattoo", "animal=Topaz", "stage=re-read", "left=V1",
                  "legibility_left=faint")  # fmt: skip
    assert warned(told, "reads V1") and warned(told, "faint")


def test_a_test_code_on_a_chip_is_said(farm: Laptops) -> None:
    """C129: from memory."""
    assert warned(animal(farm, "Topaz", "chip=999 000000000001"), "test code")


def test_days_that_follow_from_a_mating(farm: Laptops) -> None:
    """C005, C007, C009 and C010: Extension Goat Handbook (150 d), Storey's Guide (145-155), NC State
    (booster 2 to 6 weeks before), Merck Veterinary Manual (cycle 18 to 24); dates computed."""
    animal(farm, "Agate", "sex=doe", "born=2021-03-01", "horns_born=horned")
    animal(farm, "Basalt", "sex=buck", "born=2020-03-01")
    told = record(farm, "mating", "doe=Agate", "buck=Basalt", "on=2025-09-20", "how=hand",
                  at="2025-09-20T10:00:00+00:00")  # fmt: skip
    assert warned(told, "due on 2026-02-17")
    [line] = farm.ask("house", "kidding", at="2025-10-01T08:00:00+00:00")
    assert (line["due"], line["window"]) == ("2026-02-17", ["2026-02-12", "2026-02-22"])
    assert line["heat_return"] == ["2025-10-08", "2025-10-14"]
    assert line["booster"] == ["2026-01-06", "2026-02-03"]
    assert (line["dry_off"], line["watch_from"]) == ("2025-12-19", "2026-02-07")
    assert (line["sire"], line["proof"]) == ("Basalt", "mated, not proved")


def test_a_miniature_is_due_at_145_days(farm: Laptops) -> None:
    """C006: 145 d is common practice, no published source."""
    animal(farm, "Agate", "sex=doe", "born=2021-03-01", "size=miniature")
    record(farm, "mating", "doe=Agate", "on=2025-09-20", at="2025-09-20T10:00:00+00:00")
    [line] = farm.ask("house", "kidding", at="2025-10-01T08:00:00+00:00")
    assert line["due"] == "2026-02-12"


def test_a_polled_pair_and_a_doeling_too_young_are_warned_of(farm: Laptops) -> None:
    """First breeding: Extension Goat Handbook, 7 months and about 80 lb (C012: 36.29 kg); polled
    intersex syndrome, Pailhoux et al. 2001 (from memory)."""
    animal(farm, "Marl", "sex=doe", "born=2025-10-01", "horns_born=polled")
    animal(farm, "Flint", "sex=buck", "born=2020-03-01", "horns_born=polled")
    record(farm, "weighing", "animal=Marl", "weight_kg=20", "how=scale", "on=2026-02-25")
    told = record(farm, "mating", "doe=Marl", "buck=Flint", "on=2026-03-01")
    assert warned(told, "parents are polled")
    assert warned(told, "7 months old only on 2026-05-01")
    assert warned(told, "20 of the 36.29 kg needed")


def test_a_mating_of_close_kin_is_said_as_it_is_recorded(farm: Laptops) -> None:
    animal(farm, "Basalt", "sex=buck", "born=2018-03-01")
    animal(farm, "Agate", "sex=doe", "born=2021-03-01", "sire=Basalt")
    told = record(farm, "mating", "doe=Agate", "buck=Basalt", "how=hand")
    assert warned(told, "stop: kids of Agate by Basalt: F 25 %")


def test_bucks_are_ranked_for_a_doe(farm: Laptops) -> None:
    """C079, C081 (printed in a breeders' article quoting Boggess): half sibs 12.5 %, parent and
    offspring 25 %."""
    animal(farm, "Basalt", "sex=buck", "born=2018-03-01")
    animal(farm, "Agate", "sex=doe", "born=2021-03-01", "sire=Basalt")
    animal(farm, "Flint", "sex=buck", "born=2021-04-01", "sire=Basalt")
    animal(farm, "Slate", "sex=buck", "born=2020-04-01", "standing=outside")
    ranked = farm.ask("house", "bucks", "Agate", at=DAY)
    assert [(one["name"], one["inbreeding"]) for one in ranked] == [
        ("Slate", 0.0), ("Flint", 0.125), ("Basalt", 0.25),
    ]  # fmt: skip
    assert [one["advice"] for one in ranked] == ["ok", "look", "stop"]
    assert ranked[1]["ancestors"] == ["Basalt"]
    assert "known without a gap" in ranked[0]["reason"]


def test_a_kidding_before_term_is_said(farm: Laptops) -> None:
    """Storey's Guide: 145 to 155 days; a loss before term is for the veterinarian."""
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    record(farm, "mating", "doe=Agate", "on=2025-10-20", "how=hand")
    told = record(farm, "kidding", "doe=Agate", "on=2026-03-04")
    assert warned(told, "135 days carried is under 145")


def test_a_shared_pen_is_listed_with_its_window(farm: Laptops) -> None:
    record(farm, "pen", "name=South")
    animal(farm, "Agate", "sex=doe", "born=2021-03-01")
    animal(farm, "Basalt", "sex=buck", "born=2020-03-01")
    record(farm, "pen-move", "animal=Agate", "pen=South", "on=2026-03-01")
    record(farm, "pen-move", "animal=Basalt", "pen=South", "on=2026-03-05")
    [line] = farm.ask("house", "exposures", at=DAY)
    assert (line["doe_name"], line["male_name"], line["running"]) == ("Agate", "Basalt", True)
    assert line["window"][0] == "2026-07-28"


def test_growth_from_weights(farm: Laptops) -> None:
    """C019: 3.4 kg at birth and 13.6 kg at 70 days are 145.7 g a day (computed).

    Weaning: Cornell CALS 4-H, 30 lb and 10 weeks. 90-day weight: Solaiman 2010.
    """
    end = "2026-04-28T08:00:00+00:00"
    animal(farm, "Shale", "sex=buck", "born=2026-02-17", "horns_born=horned")
    record(farm, "weighing", "animal=Shale", "weight_kg=3.4", "how=scale", "on=2026-02-17")
    record(farm, "weighing", "animal=Shale", "weight_kg=13.6", "how=scale", "on=2026-04-28", at=end)
    record(farm, "feeding", "animal=Shale", "what=grain", at=end)
    [kid] = farm.ask("house", "kids", at=end)
    assert (kid["gain_g_per_day"], kid["birth_kg"]) == (145.7, 3.4)
    assert kid["adjusted_kg"] == pytest.approx(16.514, abs=0.001)
    assert kid["ready_to_wean"]
    lost = record(farm, "weighing", "animal=Shale", "weight_kg=13", "how=scale", "on=2026-05-05",
                  at="2026-05-05T08:00:00+00:00")  # fmt: skip
    assert warned(lost, "it lost weight")


def test_weaning_too_early_is_said(farm: Laptops) -> None:
    animal(farm, "Shale", "sex=buck", "born=2026-02-17")
    told = record(farm, "weaning", "animal=Shale", "on=2026-03-10")
    assert warned(told, "21 of 70 days old") and warned(told, "no weight is recorded")


def test_a_bucklings_decision_is_laid_out(farm: Laptops) -> None:
    """Law first: Defra, Goats: Code of Recommendations, note 4 (C016: ring to day 7)."""
    farm.ask("house", "settings", "country", "GB")
    animal(farm, "Shale", "sex=buck", "born=2026-03-01")
    [kid] = farm.ask("house", "kids", at=DAY)
    told = kid["decision"]
    assert any("ring: veterinarian only" in line for line in told)
    assert any("8 weeks at the earliest, better 16" in line for line in told)
    assert any("tetanus" in line for line in told)
    ring = record(farm, "castration", "animal=Shale", "method=ring", "testes=1", "complete=no")
    assert warned(ring, "take it off at once") and warned(ring, "day 7 (2026-03-08)")


def test_a_newborn_shows_the_colostrum_it_needs(farm: Laptops) -> None:
    """C017: 10 % of 3.6 kg is 360 g in 24 hours (practice handout on newborn kids)."""
    animal(farm, "Onyx", "sex=doe", "born=2026-03-10T06:00:00+00:00")
    record(farm, "weighing", "animal=Onyx", "weight_kg=3.6", "how=scale")
    [kid] = farm.ask("house", "kids", at="2026-03-10T09:00:00+00:00")
    assert "360 g" in kid["colostrum"] and "nothing fed at 3 hours" in kid["colostrum"]
