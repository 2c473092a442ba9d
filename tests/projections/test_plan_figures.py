"""The care plan and the sums of the trade hold one figure where both need it, beside its source."""

from __future__ import annotations

from datetime import date

import pytest

from herdsync.projections.plan import shipped_plan, shipped_plans
from herdsync.projections.plan_items import After, AgeWindow, AroundDue, Every, Item
from herdsync.projections.settings import DEFAULT_PLAN, settings_of
from herdsync.trade import (
    castration,
    disbudding,
    hooves,
    kids,
    maturity,
    parasites,
    reproduction,
    screening,
    tetanus,
    vaccination,
)
from tests.farmyard import Yard
from tui.bench import IRON_HEATS_S, TOUCH_MOST_S

PLANS = shipped_plans()


def item(name: str, plan: str = DEFAULT_PLAN) -> Item:
    found = shipped_plan(plan).item(name)
    assert found is not None, name
    return found


def window(name: str, place: int = 0) -> AgeWindow:
    return item(name).window[place]


def every(name: str, plan: str = DEFAULT_PLAN) -> Every:
    found = item(name, plan).every
    assert found is not None, name
    return found


def after(name: str) -> After:
    found = item(name).after
    assert found is not None, name
    return found


def around(name: str) -> AroundDue:
    found = item(name).due_date
    assert found is not None, name
    return found


def days(told: AgeWindow | After | AroundDue) -> tuple[int, int | None, int]:
    return told.opens, told.best, told.closes


def test_disbudding_by_sex_and_its_end() -> None:
    # Shearer and Plummer, Iowa State University (4-7 d; past 14 d dehorning); Niemann, Raising
    # Goats Naturally (bucks in the first week, does by two).
    by_sex = {
        one.whom.sex[0] if one.whom is not None and one.whom.sex else "unknown": one
        for one in item("disbudding").window
        if one.whom is None or not one.whom.size
    }
    assert {sex: days(one) for sex, one in by_sex.items()} == dict(disbudding.WINDOW_DAYS)
    assert {one.lost for one in item("disbudding").window} == {disbudding.LATE_FROM_DAYS}
    assert disbudding.VET_FROM_DAYS == disbudding.LATE_FROM_DAYS + 1


def test_the_clocks_beside_the_iron() -> None:
    # 10 minutes: common practice; about 10 s: Extension Goat Handbook, Management Techniques.
    assert TOUCH_MOST_S == disbudding.APPLICATION_MOST_S
    assert f"at least {IRON_HEATS_S // 60} minutes" in item("disbudding").caution
    assert f"at most {TOUCH_MOST_S} seconds" in item("disbudding").caution


def test_the_decision_about_a_buckling_opens_when_both_say_and_closes_when_he_may_sire() -> None:
    # Langston University goat training, Castration (from 3 d); 8 weeks: common practice.
    decided = window("castration-decision")
    assert decided.opens == castration.DECISION_OPENS_DAYS
    assert decided.closes == maturity.MALE_ABLE_DAYS == castration.STONES_EARLIEST_DAYS
    apart = window("separation")
    assert (apart.best, apart.closes) == (maturity.MALE_ABLE_DAYS, maturity.SEPARATION_OVERDUE_DAYS)


def test_vaccination_of_kids() -> None:
    # Goat Vaccination Program, NC State-origin extension text; 42 days: common practice.
    assert days(window("vaccination-first")) == vaccination.FIRST_DOSE_DAYS
    assert days(window("vaccination-early")) == vaccination.FIRST_DOSE_WITHOUT_COVER_DAYS
    second = days(after("vaccination-second"))
    assert second == (
        vaccination.SECOND_DOSE_LEAST_DAYS,
        vaccination.SECOND_DOSE_DAYS,
        vaccination.SECOND_DOSE_LATE_AFTER_DAYS,
    )
    assert days(after("vaccination-unknown"))[::2] == second[::2]


def test_the_booster_before_kidding_covers_the_kids_that_castration_counts_on() -> None:
    # Same text: 2 to 6 weeks before kidding, about 30 days.
    booster = around("pre-kidding-booster")
    due = date(2026, 2, 17)
    told = reproduction.pre_kidding_booster(due)
    offsets = [(day - due).days for day in (told.opens, told.best or told.opens, told.closes)]
    assert [booster.opens, booster.best, booster.closes] == offsets
    assert (-booster.closes, -booster.opens) == tetanus.DAM_BOOSTED_DAYS


def test_heat_and_pregnancy() -> None:
    # Merck Veterinary Manual (18 to 24 d, 21 usual); Storey's Guide, 5th ed. (from day 140).
    served = date(2025, 9, 20)
    back = reproduction.heat_return(served)
    assert back.best is not None
    cycle = tuple((day - served).days for day in (back.opens, back.best, back.closes))
    assert days(after("heat-watch")) == days(after("heat-return")) == cycle
    check = reproduction.pregnancy_check_due(served)
    assert check.best is not None
    assert days(after("pregnancy-check")) == tuple(
        (day - served).days for day in (check.opens, check.best, check.closes)
    )
    earliest = reproduction.kidding_due(served, "standard").opens
    watched = around("kidding-watch")
    assert watched.opens_from == "earliest"
    assert (earliest - served).days + watched.opens == reproduction.WATCH_FROM_DAYS


def test_drying_off() -> None:
    # Ontario Goat, Dry off management (50 to 60 d in the mean).
    yard = Yard()
    settings = settings_of(yard.records())
    due = date(2026, 2, 17)
    assert -around("dry-off").opens == settings.dry_days
    assert (due - reproduction.dry_off(due, settings.dry_days).on).days == settings.dry_days


def test_first_breeding() -> None:
    # Extension Goat Handbook, NAL 1992: 7 months at the earliest.
    months = reproduction.FIRST_BREEDING_MONTHS
    assert window("first-breeding-weight").best == months * 30


@pytest.mark.parametrize("plan", PLANS)
def test_hooves_stay_within_the_published_intervals(plan: str) -> None:
    # Hoof-trimming articles: every two to three months, not under three a year.
    found = every("hoof-trim", plan)
    assert hooves.TRIM_LEAST_DAYS <= found.days <= hooves.TRIM_MOST_DAYS
    told = [one.every for one in item("hoof-trim", plan).presets.values() if one.every is not None]
    assert all(hooves.TRIM_LEAST_DAYS <= one.days <= hooves.TRIM_MOST_DAYS for one in told)
    assert every("hoof-trim").days == hooves.TRIM_INTERVAL_DAYS


def test_grass_and_boosters_within_what_is_published() -> None:
    # NCAT, internal parasites in multispecies grazing: 6 inches (15 cm) left, moved before day four,
    # 40 days of rest; a goat keeps its cover half a year (a British veterinary practice's leaflet).
    told = item("grass-look")
    assert f"under {round(6 * 2.54)} cm" in told.work and "after 40" in told.says
    assert every("grass-look", "wet-pasture-1").days < 4
    half = item("vaccination-yearly").presets["half-yearly"].every
    assert half is not None and half.days == 365 // 2 == every("vaccination-yearly").days // 2


def test_eyelids() -> None:
    # Field programmes in extension texts (14 d); 28 d and a week: common practice.
    told = every("eyelid-score")
    assert told.worm_days == parasites.WORM_SEASON_INTERVAL_DAYS
    assert told.days == parasites.OTHER_SEASON_INTERVAL_DAYS
    again = after("eyelid-again")
    assert again.best == parasites.PALE_AGAIN_DAYS
    assert again.where["score"] == list(range(parasites.PALE_FROM, 6))


def test_kids_at_the_bottle_and_weaning() -> None:
    # Cornell CALS 4-H: weaned at 10 weeks and 13.6 kg; colostrum: veterinary practice handout.
    wean = window("weaning")
    assert (wean.opens, wean.closes) == (kids.WEANING_DAYS, kids.WEANING_MOST_DAYS)
    assert abs(float(wean.needs_kg) - float(kids.WEANING_KG)) < 0.01
    early = item("weaning").presets["early"].window
    assert early is not None and early[0].opens == kids.WEANING_LEAST_DAYS
    first = window("colostrum")
    assert (first.closes, first.lost) == (kids.COLOSTRUM_LAST_FIRST_H, kids.GUT_CLOSES_H)
    assert item("bottle-young").whom.from_age_days == kids.BOTTLE_FROM_DAYS
    assert every("kid-weighing").days == kids.GAIN_ALERT_OVER_DAYS


def test_newcomers_and_screening() -> None:
    # Several extension pages (30 d); yearly tests: common practice.
    settings = settings_of(Yard().records())
    assert after("quarantine-retest").best == after("quarantine-end").opens
    assert after("quarantine-end").opens == screening.QUARANTINE_DAYS == settings.quarantine_days
    assert after("quarantine-look").days[-1] == screening.QUARANTINE_DAYS
    for name, disease in (("cae", "cae"), ("cl", "cl"), ("johnes", "johnes")):
        told = every(f"test-{name}")
        assert told.days == round(screening.INTERVAL_MONTHS * 365 / 12)
        least = screening.YOUNGEST_MONTHS[disease] * 365 / 12
        assert told.first_age_days is not None and abs(told.first_age_days - least) <= 3


@pytest.mark.parametrize("plan", PLANS)
def test_every_item_names_its_source_and_what_hurts_its_caution(plan: str) -> None:
    for one in shipped_plan(plan).items:
        assert one.source.strip(), one.id
        assert not one.hazard or one.caution, one.id


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("disbudding", "10 seconds"), ("castration-decision", "anaesthetic"), ("ring-check", "call"),
        ("hoof-trim", "tipping"), ("tattoo", "veins"), ("bottle-first", "drowns"),
        ("milking", "separate pail"), ("pre-kidding-booster", "label"), ("minerals", "sheep"),
        ("feed-store", "Grain"), ("fence-walk", "Yew"), ("grass-look", "bloat"), ("turn-out", "drum"),
        ("kidding", "gloves"), ("after-abortion", "pregnant"), ("kidding-pen-clean", "pregnant"),
        ("pen-cleaning", "pregnant"), ("adult-weighing", "Lift"), ("buck-rut", "back"),
        ("buck-season", "back"), ("buck-out", "back"), ("buck-condition", "back"),
        ("quarantine-look", "infects people"), ("milking-gear", "goggles"), ("flies", "withdrawal"),
        ("lice", "withdrawal"), ("foot-bath", "drink"), ("medicine-shelf", "drain"),
        ("fire-look", "electrician"), ("kidding-pen", "lamp"),
    ],
)  # fmt: skip
def test_what_can_hurt_has_its_caution(name: str, words: str) -> None:
    """Irons, knives, drugs, food, poison, what infects people, bucks, lifting, fire, cleaning stuff."""
    assert words in item(name).caution
