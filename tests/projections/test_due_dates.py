"""Dates of due work against the published and hand-worked rows of the trade."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.farmyard import Yard
from tests.projections.board import due, rounds_at, work


def test_hooves_are_due_eight_weeks_after_the_last_trim(yard: Yard) -> None:
    # Common practice, no published source (56 days); date worked out by hand.
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    line = due(yard, agate, "hoof-trim", "2025-04-01")
    assert (line.due, line.best, line.state) == ("2025-05-05", "2025-05-05", "ahead")
    assert "2025-03-10" in line.reason
    assert due(yard, agate, "hoof-trim", "2025-05-05").state == "due"
    assert due(yard, agate, "hoof-trim", "2025-05-11").state == "due"
    assert due(yard, agate, "hoof-trim", "2025-05-12").state == "late"


def test_the_interval_of_hooves_is_a_setting(yard: Yard) -> None:
    # Longest published interval: two to three months; 90 days after 2025-03-10 by hand.
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    yard.write("house", "setting", key="hoof-days", value="90")
    assert due(yard, agate, "hoof-trim", "2025-04-01").due == "2025-06-08"


@pytest.mark.parametrize(
    ("sex", "opens", "closes"),
    [
        ("doe", "2026-02-21", "2026-03-03"),
        ("buck", "2026-02-20", "2026-02-24"),
        ("unknown", "2026-02-21", "2026-02-24"),
    ],
)
def test_c015_the_days_for_disbudding(yard: Yard, sex: str, opens: str, closes: str) -> None:
    # Shearer and Plummer, Iowa State University (4-7 d); Niemann, Raising Goats Naturally
    # (bucks within the first week, does by two weeks).
    kid = yard.animal("Shale", sex=sex, born="2026-02-17", horns_born="horned")
    line = due(yard, kid, "disbudding", "2026-02-18")
    assert (line.opens, line.closes, line.state) == (opens, closes, "ahead")


def test_c015_disbudding_is_late_after_its_days_and_missed_after_two_weeks(yard: Yard) -> None:
    # Shearer and Plummer, Iowa State University: after 14 d it is a dehorning.
    kid = yard.animal("Shale", sex="buck", born="2026-02-17")
    states = {day: due(yard, kid, "disbudding", day).state for day in (
        "2026-02-19", "2026-02-20", "2026-02-24", "2026-02-25", "2026-03-03", "2026-03-04",
    )}  # fmt: skip
    assert states == {
        "2026-02-19": "ahead",
        "2026-02-20": "open",
        "2026-02-24": "closing",
        "2026-02-25": "late",
        "2026-03-03": "late",
        "2026-03-04": "missed",
    }


def test_no_disbudding_for_the_polled_nor_twice(yard: Yard) -> None:
    polled = yard.animal("Onyx", sex="doe", born="2026-02-17", horns_born="polled")
    done = yard.animal("Topaz", sex="doe", born="2026-02-17", horns_born="horned")
    yard.write("house", "disbudding", animal=done, on="2026-02-22", applications=1)
    assert work(yard, polled, "disbudding", "2026-02-22") is None
    assert work(yard, done, "disbudding", "2026-02-22") is None


def test_a_ring_is_looked_at_until_it_is_off(yard: Yard) -> None:
    # Langston University goat training, Castration: off in 10-14 d; overdue after 42 d and the
    # days of looking: common practice, no published source.
    kid = yard.animal("Jasper", sex="buck", born="2026-02-17")
    yard.write("house", "castration", animal=kid, on="2026-02-22", method="ring", complete=True)
    rounds = rounds_at(yard, "2026-02-22")
    goat = rounds.herd.goat(kid)
    assert goat is not None
    lines = {line.item: line for line in rounds.of_goat(goat, everything=True)}
    checks = sorted(line.due for item, line in lines.items() if item.startswith("ring-check"))
    assert checks == [
        "2026-02-23", "2026-02-24", "2026-02-25", "2026-03-01", "2026-03-08", "2026-03-15",
        "2026-03-22", "2026-03-29", "2026-04-05",
    ]  # fmt: skip
    off = lines["ring-off"]
    assert (off.opens, off.best, off.closes) == ("2026-03-04", "2026-03-08", "2026-04-05")
    assert due(yard, kid, "ring-off", "2026-04-05").state == "closing"
    assert due(yard, kid, "ring-off", "2026-04-06").state == "late"
    yard.write("house", "check", animal=kid, on="2026-03-20", of="castration", finding="off")
    assert work(yard, kid, "ring-off", "2026-04-06") is None
    assert work(yard, kid, "ring-check", "2026-03-22") is None


def test_a_ring_taken_off_again_is_not_waited_for(yard: Yard) -> None:
    # One testis above the ring: it is taken off at once, long before day 10.
    kid = yard.animal("Jasper", sex="buck", born="2026-02-17")
    yard.write("house", "castration", animal=kid, on="2026-02-22", method="ring", complete=False)
    yard.write("house", "check", animal=kid, on="2026-02-23", of="castration", finding="off")
    for item in ("ring-off", "ring-check"):
        assert work(yard, kid, item, "2026-03-08") is None
    assert due(yard, kid, "half-castrated", "2026-03-08").state == "closing"


def test_lice_are_not_asked_for_in_a_newborn(yard: Yard) -> None:
    kid = yard.animal("Topaz", sex="doe", born="2026-01-05")
    assert work(yard, kid, "lice", "2026-02-03") is None
    assert due(yard, kid, "lice", "2026-02-04").closes == "2026-02-28"


def test_a_fresh_does_grain_goes_up_over_three_weeks(yard: Yard) -> None:
    # Iowa State University Extension 2021: feed changes to the third or fourth week of milking.
    doe = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=doe, on="2028-02-20")
    line = due(yard, doe, "fresh-feed", "2028-02-21")
    assert (line.opens, line.best, line.closes) == ("2028-02-21", "2028-02-23", "2028-03-12")
    assert "sweet breath" in line.caution
    yard.write("house", "chore-done", about=doe, on="2028-02-24", item="fresh-feed")
    assert work(yard, doe, "fresh-feed", "2028-02-25") is None


def test_what_follows_disbudding(yard: Yard) -> None:
    # Skin closed: Animals 2021, 11(2):430 (5-9 weeks). Scur checks at 4, 8, 12 weeks: common
    # practice, no published source.
    kid = yard.animal("Topaz", sex="doe", born="2026-02-17", horns_born="horned")
    yard.write("house", "disbudding", animal=kid, on="2026-02-22")
    skin = due(yard, kid, "disbudding-skin", "2026-02-22")
    assert (skin.opens, skin.closes) == ("2026-03-29", "2026-04-26")
    rounds = rounds_at(yard, "2026-02-22")
    goat = rounds.herd.goat(kid)
    assert goat is not None
    lines = rounds.of_goat(goat, everything=True)
    scurs = sorted(line.due for line in lines if line.item.startswith("scur-check"))
    looks = sorted(line.due for line in lines if line.item.startswith("disbudding-check"))
    assert scurs[:3] == ["2026-03-22", "2026-04-19", "2026-05-17"]
    assert looks == ["2026-02-23", "2026-02-25", "2026-03-01", "2026-03-08"]


def test_one_look_meets_one_rung(yard: Yard) -> None:
    kid = yard.animal("Topaz", sex="doe", born="2026-02-17", horns_born="horned")
    act = yard.write("house", "disbudding", animal=kid, on="2026-02-22")
    first = due(yard, kid, "disbudding-check", "2026-02-23")
    assert (first.item, first.state) == ("disbudding-check-d1", "due")
    assert (first.kind, first.preset) == ("check", {"of": "disbudding"})
    yard.write("house", "check", animal=kid, on="2026-02-23", of=act)
    second = due(yard, kid, "disbudding-check", "2026-02-24")
    assert (second.item, second.state) == ("disbudding-check-d3", "open")
    left = due(yard, kid, "disbudding-check", "2026-03-02")
    assert (left.item, left.state) == ("disbudding-check-d7", "late")
    assert "one earlier look is not on record" in left.reason


def test_c014_the_pair_of_vaccinations(yard: Yard) -> None:
    # Goat Vaccination Program, NC State-origin extension text: 5-6 weeks, repeated after 28 d.
    kid = yard.animal("Onyx", sex="doe", born="2026-02-17")
    assert due(yard, kid, "vaccination-first", "2026-02-17").due == "2026-03-31"
    assert work(yard, kid, "vaccination-second", "2026-03-31") is None
    product = yard.write("house", "product", substance="invented toxoid")
    yard.write("house", "vaccination", animal=kid, on="2026-03-31", product=product)
    assert work(yard, kid, "vaccination-first", "2026-04-01") is None
    assert due(yard, kid, "vaccination-second", "2026-04-01").due == "2026-04-28"
    yard.write("house", "vaccination", animal=kid, on="2026-04-28", product=product)
    assert work(yard, kid, "vaccination-second", "2026-04-28") is None


@pytest.mark.parametrize(
    ("bred", "size", "best"),
    [
        # Extension Goat Handbook, NAL 1992, D-6 (150 d); dates worked out by hand.
        ("2025-01-01", "standard", "2025-05-31"),
        ("2024-01-01", "standard", "2024-05-30"),
        ("2027-10-02", "standard", "2028-02-29"),
        ("2027-10-01", "standard", "2028-02-28"),
        ("2025-09-20", "standard", "2026-02-17"),
        # Miniatures, 145 d: common practice, no published source.
        ("2025-09-20", "miniature", "2026-02-12"),
    ],
)
def test_the_day_she_is_due(yard: Yard, bred: str, size: str, best: str) -> None:
    opal = yard.animal("Opal", sex="doe", born="2020-03-01", size=size)
    yard.write("house", "mating", doe=opal, on=bred)
    assert due(yard, opal, "kidding", bred).best == best


def test_work_around_the_due_date(yard: Yard) -> None:
    # Kidding window: Storey's Guide, 5th ed. (145-155). Booster: Goat Vaccination Program (30 d
    # before). Heat: Merck Veterinary Manual (21 d, 18-24). Dry 60 d: Ontario Goat.
    opal = yard.animal("Opal", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=opal, on="2025-02-10")
    yard.write("house", "mating", doe=opal, on="2025-09-20")
    kidding = due(yard, opal, "kidding", "2025-09-21")
    assert (kidding.opens, kidding.closes) == ("2026-02-12", "2026-02-22")
    assert due(yard, opal, "pre-kidding-booster", "2025-09-21").best == "2026-01-18"
    heat = due(yard, opal, "heat-return", "2025-09-21")
    assert (heat.opens, heat.best, heat.closes) == ("2025-10-08", "2025-10-11", "2025-10-14")
    assert due(yard, opal, "pregnancy-check", "2025-09-21").opens == "2025-10-20"
    assert due(yard, opal, "dry-off", "2025-09-21").best == "2025-12-19"
    assert due(yard, opal, "kidding-watch", "2025-09-21").opens == "2026-02-07"
    yard.write("house", "pregnancy-check", doe=opal, on="2025-10-25", result="open")
    assert work(yard, opal, "kidding", "2025-10-25") is None


def test_the_coccidia_watch_opens_at_two_weeks(yard: Yard) -> None:
    # Life of the parasite: Extension Goat Handbook G-6; day 14: common practice.
    kid = yard.animal("Onyx", sex="doe", born="2026-02-17")
    assert due(yard, kid, "coccidia-watch", "2026-03-03").due == "2026-03-03"
    assert work(yard, kid, "coccidia-watch", "2026-03-02") is None


def test_weaning_waits_for_the_weight(yard: Yard) -> None:
    # Cornell CALS 4-H: 10 weeks and 30 lb (13.6 kg).
    kid = yard.animal("Onyx", sex="doe", born="2026-02-17")
    line = due(yard, kid, "weaning", "2026-05-20")
    assert (line.opens, line.state) == ("2026-04-28", "open")
    assert line.blocks == ["no weight is on record; 13.6 kg is needed"]
    yard.write("house", "weighing", animal=kid, on="2026-05-01", weight_kg=[299, -1, "lb"])
    assert "13.56 kg" in due(yard, kid, "weaning", "2026-05-20").blocks[0]
    yard.write("house", "weighing", animal=kid, on="2026-05-10", weight_kg=[30, 0, "lb"])
    assert due(yard, kid, "weaning", "2026-05-17").state == "closing"


def test_the_buckling_is_decided_on_and_kept_apart(yard: Yard) -> None:
    # From 3 d: Langston University. Apart by 56 d: common practice, no published source.
    kid = yard.animal("Jasper", sex="buck", born="2026-02-17")
    line = due(yard, kid, "castration-decision", "2026-02-20")
    assert (line.opens, line.closes, line.state) == ("2026-02-20", "2026-04-14", "open")
    assert "ask before the day" in line.law
    yard.write("house", "setting", key="country", value="GB")
    assert "ring: allowed" in due(yard, kid, "castration-decision", "2026-02-24").law
    assert "ring: veterinarian only" in due(yard, kid, "castration-decision", "2026-02-25").law
    assert due(yard, kid, "separation", "2026-04-14").best == "2026-04-14"
    pen = yard.write("house", "pen", name="Buck pen")
    yard.write("house", "pen-move", animal=kid, pen=pen, on="2026-04-10")
    assert work(yard, kid, "separation", "2026-04-14") is None
    doe = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "pen-move", animal=doe, pen=pen, on="2026-04-11")
    assert due(yard, kid, "separation", "2026-04-14").state == "due"


def test_lame_feet_are_looked_at_again_after_a_week(yard: Yard) -> None:
    # 7 d: common practice, no published source.
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2026-02-22", hind_left="lame")
    assert due(yard, agate, "hoof-recheck-lame", "2026-02-23").due == "2026-03-01"
    assert work(yard, agate, "hoof-recheck-nick", "2026-02-23") is None
    yard.write("house", "check", animal=agate, on="2026-03-01", of="hoof-trim")
    assert work(yard, agate, "hoof-recheck-lame", "2026-03-01") is None


@given(
    st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "UTC"]),
    st.dates(date(2023, 12, 25), date(2028, 3, 5)),
    st.integers(0, 24 * 60 - 1),
)
def test_days_are_counted_on_the_farms_calendar_whatever_the_clocks_do(
    zone: str, day: date, minute: int
) -> None:
    # Born at any minute, midnights, leap days, year ends and changed clocks among them: the window
    # opens with the third day and is over with the day after the seventh.
    yard = Yard()
    yard.write("house", "setting", key="zone", value=zone)
    farm = ZoneInfo(zone)
    born = (
        datetime.combine(day, time(0), farm).astimezone(UTC) + timedelta(minutes=minute)
    ).astimezone(farm)
    kid = yard.animal("Shale", sex="buck", born=born.isoformat(), horns_born="horned")
    first, last = (born.date() + timedelta(days=one) for one in (3, 7))
    opens = datetime.combine(first, time(0), farm).astimezone(UTC)
    closes = datetime.combine(last + timedelta(days=1), time(0), farm).astimezone(UTC)
    second = timedelta(seconds=1)
    states = [
        due(yard, kid, "disbudding", at.isoformat()).state
        for at in (opens - second, opens, closes - second, closes)
    ]
    assert states == ["ahead", "open", "closing", "late"]
    line = due(yard, kid, "disbudding", opens.isoformat())
    assert (line.opens, line.closes) == (str(first), str(last))
