"""Ways a plan can be told: animals spared, presets, plans that build on one, own items, feeds by age."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec import structs

from herdsync.faults import BadBytes
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.kids import kid_boards
from herdsync.projections.plan import read_plan, shipped_plan, shipped_plans
from herdsync.projections.plan_items import Item, Plan, Season, Whom
from herdsync.projections.preview import preview
from herdsync.projections.settings import settings_of
from tests.farmyard import Yard
from tests.projections.board import due, goat_of, herd_at, rounds_at, work


def faults(yard: Yard) -> tuple[str, ...]:
    records = yard.records()
    return plan_in_force(records, settings_of(records)).faults


def test_an_animal_is_spared_an_item_until_its_day_and_everything_says_so() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    yard.write(
        "house", "exempt", animal=agate, item="hoof-trim", because="bad hip", until="2025-06-01"
    )
    rounds = rounds_at(yard, "2025-06-01")
    goat = goat_of(rounds.herd, agate)
    assert not [line for line in rounds.of_goat(goat) if line.item == "hoof-trim"]
    line = due(yard, agate, "hoof-trim", "2025-06-01")
    assert (line.state, line.reason) == ("put-off", "spared this until 2025-06-01: bad hip")
    assert due(yard, agate, "hoof-trim", "2025-06-02").state == "late"


def test_a_farm_takes_an_items_preset_and_is_told_of_unknown_ones() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    own = yard.write("house", "plan-item", item="hoof-trim", preset="soft-ground")
    # 35 d after 2025-03-10 by hand.
    assert due(yard, agate, "hoof-trim", "2025-04-01").due == "2025-04-14"
    yard.amend("house", own, preset="swamp")
    assert due(yard, agate, "hoof-trim", "2025-04-01").due == "2025-05-05"
    assert "has no preset 'swamp'; it has soft-ground, rock" in faults(yard)[0]


def test_a_plan_may_build_on_another() -> None:
    base, wet, dry = (
        shipped_plan(name) for name in ("hill-and-barn-1", "wet-pasture-1", "dry-lot-1")
    )
    assert set(shipped_plans()) == {base.name, wet.name, dry.name}
    trims = [plan.item("hoof-trim") for plan in (base, wet, dry)]
    assert [item.every.days for item in trims if item and item.every] == [56, 35, 84]
    assert wet.item("weaning") == base.item("weaning")
    for grazing in ("turn-out", "grass-look"):
        assert dry.item(grazing) is None and base.item(grazing) is not None
    raw = b"name='x'\ntitle='x'\nbase='hill-and-barn-1'\n[[change]]\nid='bells'\n"
    with pytest.raises(BadBytes, match="'bells'"):
        read_plan(raw)


@pytest.mark.parametrize(
    ("told", "opens", "best", "closes"),
    [
        ({"after": "hoof-trim", "ladder": ["2", "9"]}, "2026-03-02", "2026-03-03", "2026-03-03"),
        ({"after": "hoof-trim", "after_with": ["hind_left=lame"], "opens_days": 2},
         "2026-03-03", "2026-03-03", "2026-03-03"),
        ({"opens_days": 10, "best_days": 12, "closes_days": 14, "lost_days": 20},
         "2026-02-11", "2026-02-13", "2026-02-15"),
        ({"every_days": 9, "first_age_days": 30, "early_days": 3, "grace_days": 2},
         "2026-02-28", "2026-03-03", "2026-03-05"),
        ({"season_from": "02-01", "season_to": "03-31"}, "2026-02-01", "2026-02-01", "2026-03-31"),
    ],
)  # fmt: skip
def test_own_items_tell_each_way_of_when(
    told: dict[str, Any], opens: str, best: str, closes: str
) -> None:
    yard = Yard()
    kid = yard.animal("Topaz", sex="doe", born="2026-02-01")
    yard.write("house", "hoof-trim", animal=kid, on="2026-03-01", hind_left="lame")
    yard.write("house", "plan-item", item="bell", title="Ring the bell", **told)
    assert faults(yard) == ()
    line = due(yard, kid, "bell", "2026-03-01")
    assert (line.opens, line.best, line.closes) == (opens, best, closes)


def test_an_own_item_of_bad_numbers_or_half_a_season_is_named() -> None:
    yard = Yard()
    yard.write("house", "plan-item", item="a", title="A", after="hoof-trim", ladder=["soon"])
    yard.write("house", "plan-item", item="b", title="B", season_from="02-01")
    yard.write("house", "plan-item", item="c", title="C", after="hoof-trim", opens_days=1,
               after_with=["lame"])  # fmt: skip
    found = faults(yard)
    assert len(found) == 3
    assert "whole number" in found[0] and "one end only" in found[1] and "field=value" in found[2]


def test_bottles_follow_the_age_of_the_kid() -> None:
    # Number of feeds by age: common practice, no published source.
    yard = Yard()
    kid = yard.animal("Topaz", sex="doe", born="2026-03-01", suckles=False)

    def feeds(day: str) -> set[str]:
        rounds = rounds_at(yard, f"{day}T05:00:00+00:00")
        lines = rounds.of_goat(goat_of(rounds.herd, kid), everything=True)
        return {line.item for line in lines if line.item.startswith("bottle") and line.due >= day}

    assert {one.rpartition("-")[2] for one in feeds("2026-03-03")} == {
        "morning", "midday", "evening", "night",
    }  # fmt: skip
    assert feeds("2026-03-10") == {
        "bottle-young-morning", "bottle-young-midday", "bottle-young-evening",
    }  # fmt: skip
    assert feeds("2026-04-10") == {"bottle-morning", "bottle-evening"}
    # Half-way from 06:30 to 18:00.
    midday = due(yard, kid, "bottle-young-midday", "2026-03-10T05:00:00+00:00")
    assert midday.due == "2026-03-10T12:15:00+00:00"


def test_a_kid_without_its_dams_cover_is_vaccinated_early() -> None:
    # Goat Vaccination Program, NC State-origin extension text: 7-21 d where the dam was not
    # vaccinated; the dam's booster 2 to 6 weeks before kidding.
    yard = Yard()
    dam = yard.animal("Agate", sex="doe", born="2020-03-01")
    kid = yard.animal("Topaz", sex="doe", born="2026-03-01", dam=dam)
    line = due(yard, kid, "vaccination-early", "2026-03-10")
    assert (line.opens, line.closes) == ("2026-03-08", "2026-03-22")
    product = yard.write("house", "product", substance="invented toxoid")
    yard.write("house", "vaccination", animal=dam, on="2026-02-01", product=product)
    assert work(yard, kid, "vaccination-early", "2026-03-10") is None
    assert due(yard, kid, "vaccination-first", "2026-03-10").opens == "2026-04-05"


def test_a_tattoo_on_the_sheet_is_in_the_ear() -> None:
    yard = Yard()
    kid = yard.animal("Topaz", sex="doe", born="2026-01-01")
    assert due(yard, kid, "tattoo", "2026-02-01").state == "open"
    yard.amend("house", kid, tattoo_left="V1")
    assert work(yard, kid, "tattoo", "2026-02-01") is None


def test_the_afterbirth_is_asked_for_unless_it_was_seen() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2020-03-01")
    kidding = yard.write("house", "kidding", doe=opal, on="2026-04-01")
    assert due(yard, opal, "afterbirth", "2026-04-01").closes == "2026-04-02"
    yard.amend("house", kidding, cleansed=True)
    assert work(yard, opal, "afterbirth", "2026-04-01") is None


def test_a_preview_tells_what_a_change_brings_takes_and_moves() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    herd = herd_at(yard, "2025-05-01")
    base, wet, dry = (
        shipped_plan(name) for name in ("hill-and-barn-1", "wet-pasture-1", "dry-lot-1")
    )
    assert preview(herd, base, base) == []
    moved = {one.item: one for one in preview(herd, base, wet)}["hoof-trim"]
    assert (moved.what, moved.state_before, moved.state_after) == ("moved", "open", "late")
    assert moved.due_after == "2025-04-14"
    gone = {one.item: one for one in preview(herd, base, dry)}["hoof-trim"]
    assert (gone.what, gone.due_before, gone.due_after) == ("gone", "2025-05-05", "")
    assert {one.item: one for one in preview(herd, dry, base)}["hoof-trim"].what == "new"


def test_a_weight_long_before_the_window_does_not_do_its_work() -> None:
    # Extension Goat Handbook, NAL 1992: a doeling is weighed at 7 months before she is bred.
    yard = Yard()
    kid = yard.animal("Jasper", sex="doe", born="2026-02-17")
    yard.write("house", "weighing", animal=kid, on="2026-02-17", weight_kg=[34, -1, "kg"])
    assert due(yard, kid, "first-breeding-weight", "2026-09-15").state == "due"
    yard.write("house", "weighing", animal=kid, on="2026-09-10", weight_kg=[37, 0, "kg"])
    assert work(yard, kid, "first-breeding-weight", "2026-09-15") is None
    rounds = rounds_at(yard, "2026-09-15")
    [board] = kid_boards(rounds)
    [told] = [task for task in board.tasks if task.item == "first-breeding-weight"]
    assert (told.state, told.done) == ("done", "2026-09-10")


def test_a_buck_that_stayed_is_parted_until_the_day_is_told() -> None:
    # Cycle of 18 to 24 days: Merck Veterinary Manual; two of them: common practice.
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    mating = yard.write("house", "mating", doe=agate, on="2025-09-01", how="pen")
    line = due(yard, agate, "buck-out", "2025-10-16")
    assert (line.opens, line.closes, line.state) == ("2025-10-13", "2025-11-03", "due")
    yard.amend("house", mating, until="2025-10-16", on="2025-09-01")
    assert work(yard, agate, "buck-out", "2025-10-16") is None


def test_a_check_that_asks_to_be_looked_at_again_is() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "check", animal=agate, on="2026-03-01", what="eye", again=True)
    assert due(yard, agate, "look-again", "2026-03-03").state == "closing"
    yard.write("house", "check", animal=agate, on="2026-03-03", what="eye")
    assert work(yard, agate, "look-again", "2026-03-03") is None


def test_a_buck_is_looked_over_in_his_season_alone() -> None:
    yard = Yard()
    basalt = yard.animal("Basalt", sex="buck", born="2020-03-01")
    yard.write("house", "check", animal=basalt, on="2025-10-01", what="buck")
    assert due(yard, basalt, "buck-rut", "2025-10-15").state == "due"
    assert work(yard, basalt, "buck-rut", "2026-03-15") is None


def test_milk_is_sampled_a_month_after_kidding_and_every_month() -> None:
    # ICAR Guidelines, Section 2; 28 to 34 days: from memory.
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=agate, on="2026-02-10")
    assert due(yard, agate, "test-day", "2026-02-20").due == "2026-03-12"
    yard.write("house", "test-day", doe=agate, on="2026-03-10", milk_kg=[3, 0, "kg"])
    assert due(yard, agate, "test-day", "2026-03-20").due == "2026-04-09"


def test_kids_that_nobody_wrote_down_are_asked_for() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    kidding = yard.write("house", "kidding", doe=agate, on="2026-02-17", born_alive=2)
    assert due(yard, agate, "kids-written", "2026-02-17").state == "due"
    yard.animal("Shale", sex="buck", born="2026-02-17", dam=agate, kidding=kidding)
    assert due(yard, agate, "kids-written", "2026-02-17").state == "due"
    yard.animal("Jasper", sex="doe", born="2026-02-18", dam=agate)
    assert work(yard, agate, "kids-written", "2026-02-18") is None


def test_a_first_freshener_learns_the_stand_and_one_that_kidded_knows_it() -> None:
    # Common practice, no published source; days from a due date worked out by hand: 2026-02-17.
    yard = Yard()
    young = yard.animal("Mica", sex="doe", born="2024-03-01")
    old = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=old, on="2025-02-01")
    for doe in (young, old):
        yard.write("house", "mating", doe=doe, on="2025-09-20", how="hand")
    line = due(yard, young, "stand-training", "2026-01-10")
    assert (line.opens, line.best, line.closes) == ("2026-01-06", "2026-01-20", "2026-02-10")
    assert work(yard, old, "stand-training", "2026-01-10") is None


def test_the_kidding_pen_is_cleaned_out_after_a_kidding_and_once() -> None:
    yard = Yard()
    doe = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=doe, on="2026-02-17")
    line = due(yard, doe, "kidding-pen-clean", "2026-02-20")
    assert (line.opens, line.best, line.closes) == ("2026-02-20", "2026-02-24", "2026-03-03")
    assert "Gloves" in line.caution
    yard.write("house", "chore-done", about=doe, on="2026-02-22", item="kidding-pen-clean")
    assert work(yard, doe, "kidding-pen-clean", "2026-02-24") is None


def test_dung_taken_before_worming_is_taken_again_after() -> None:
    # From memory: 14 days. Another count in between does not answer whether the wormer worked.
    yard = Yard()
    doe = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "egg-count", animal=doe, on="2026-06-01", eggs=22, sampled="before")
    yard.write("house", "egg-count", animal=doe, on="2026-06-12", eggs=9, sampled="routine")
    assert due(yard, doe, "egg-count-after", "2026-06-15").best == "2026-06-15"
    yard.write("house", "egg-count", animal=doe, on="2026-06-15", eggs=1, sampled="after")
    assert work(yard, doe, "egg-count-after", "2026-06-16") is None


def test_the_grown_are_weighed_too() -> None:
    yard = Yard()
    doe = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "weighing", animal=doe, on="2026-03-01", weight_kg=[60, 0, "kg"])
    assert due(yard, doe, "adult-weighing", "2026-05-30").due == "2026-05-30"


def test_a_season_that_moves_is_foretold() -> None:
    """Two plans are held against each other in one look, in which a season is worked out once for each."""
    yard = Yard()
    yard.animal("Agate", sex="doe", born="2021-03-01")
    herd = herd_at(yard, "2026-05-20T07:00:00+00:00")
    item = Item(
        id="bell", work="Ring", whom=Whom(), season=Season(opens="05-01", closes="06-30"),
        source="common practice, no published source",
    )  # fmt: skip
    later = structs.replace(item, season=Season(opens="08-01", closes="09-30"))
    before, after = (Plan("trial", "Trial", (one,), "") for one in (item, later))
    assert [one.what for one in preview(herd, before, after)] == ["gone"]
    assert [one.what for one in preview(herd, after, before)] == ["new"]


def test_work_on_every_pen_is_narrowed_to_one() -> None:
    yard = Yard()
    pens = {name: yard.write("house", "pen", name=name) for name in ("Barn", "Field")}
    for name, pen in pens.items():
        goat = yard.animal(f"Goat of {name}", sex="doe", born="2020-03-01")
        yard.write("house", "pen-move", animal=goat, pen=pen, on="2026-01-01")

    def grazed() -> list[str]:
        lines = rounds_at(yard, "2026-06-20").lines()
        return [line.pen for line in lines if line.item == "grass-look"]

    assert sorted(grazed()) == ["Barn", "Field"]
    change = yard.write("house", "plan-item", item="grass-look", pen=pens["Field"])
    assert grazed() == ["Field"]
    yard.amend("house", change, every_days=21)
    assert grazed() == ["Field"]
    yard.write("house", "plan-item", item="hoof-trim", pen=pens["Field"])
    assert "is not for pens" in faults(yard)[0]
