"""Who shared a pen with whom: where animals stood, when they were away, and how long it is told."""

from __future__ import annotations

import pytest

from herdsync.projections.exposure import exposures, stays, would_meet
from tests.farmyard import Yard
from tests.projections.board import goat_of, herd_at

Spans = list[tuple[str, str | None]]


def stood(yard: Yard, goat: bytes, at: str) -> Spans:
    """From which to which minute an animal stood in pens."""
    return [
        (f"{one.since:%m-%d %H:%M}", None if one.until is None else f"{one.until:%m-%d %H:%M}")
        for one in stays(goat_of(herd_at(yard, at), goat))
    ]


def moved(yard: Yard, goat: bytes, pen: bytes, on: str) -> bytes:
    return yard.write("house", "pen-move", animal=goat, pen=pen, on=on)


@pytest.mark.parametrize(
    ("away", "left"),
    [
        ([], [("01-01 06:00", None)]),
        ([("01-10", "01-12")], [("01-01 06:00", "01-10 06:00"), ("01-12 06:00", None)]),
        ([("01-10", None)], [("01-01 06:00", "01-10 06:00")]),
        # Back in the minute it left: it was not away.
        ([("01-10", "01-10")], [("01-01 06:00", None)]),
        # Out before it was ever moved, and back before that, too.
        ([("12-01", "12-20")], [("01-01 06:00", None)]),
        ([("12-01", "01-01")], [("01-01 06:00", None)]),
        ([("12-01", "01-05")], [("01-05 06:00", None)]),
        # Twice away, told in the wrong order.
        (
            [("01-20", "01-22"), ("01-10", "01-12")],
            [("01-01 06:00", "01-10 06:00"), ("01-12 06:00", "01-20 06:00"), ("01-22 06:00", None)],
        ),
    ],
)
def test_where_it_stood_is_told_without_the_times_it_was_away(
    away: list[tuple[str, str | None]], left: Spans
) -> None:
    yard = Yard()
    buck = yard.animal("Basalt", sex="buck", born="2018-03-01")
    pen = yard.write("house", "pen", name="Stone yard")
    moved(yard, buck, pen, "2025-01-01T06:00:00+00:00")
    for gone, back in away:
        year = "2024" if gone.startswith("12") else "2025"
        yard.write("house", "leaving", animal=buck, on=f"{year}-{gone}T06:00:00+00:00", how="lent")
        if back is not None:
            year = "2024" if back.startswith("12") else "2025"
            on = f"{year}-{back}T06:00:00+00:00"
            yard.write("house", "arrival", animal=buck, on=on, how="returned")
    assert stood(yard, buck, "2025-02-01") == left


@pytest.mark.parametrize(
    ("arrived", "away"),
    [("2025-01-10", False), ("2025-01-11", True), ("2025-01-10T05:00:00+00:00", False),
     ("2025-01", False), ("2025-01-09", True)],
)  # fmt: skip
def test_one_that_left_and_came_on_one_day_counts_as_here(arrived: str, away: bool) -> None:
    """Nobody knows which came first: nothing frees a doe that may have been with him."""
    yard = Yard()
    buck = yard.animal("Basalt", sex="buck", born="2018-03-01")
    moved(yard, buck, yard.write("house", "pen", name="Hill"), "2025-01-01T06:00:00+00:00")
    yard.write("house", "leaving", animal=buck, on="2025-01-10", how="lent")
    yard.write("house", "arrival", animal=buck, on=arrived, how="returned")
    assert (stood(yard, buck, "2025-02-01") != [("01-01 06:00", None)]) is away


def test_a_stay_ends_where_the_next_begins_and_begins_with_its_move() -> None:
    yard = Yard()
    buck = yard.animal("Basalt", sex="buck", born="2018-03-01")
    pens = [yard.write("house", "pen", name=name) for name in ("Barn", "Hill", "Yard")]
    for day, pen in enumerate(pens, 1):
        moved(yard, buck, pen, f"2025-01-0{day}T06:00:00+00:00")
    every = [("01-01 06:00", "01-02 06:00"), ("01-02 06:00", "01-03 06:00"), ("01-03 06:00", None)]
    assert stood(yard, buck, "2025-01-09") == every
    assert stood(yard, buck, "2025-01-03T06:00:00+00:00") == every
    assert stood(yard, buck, "2025-01-03T05:59:59+00:00") == every[:2]
    # Back from being lent into the next pen in the minute of the move: nothing between.
    yard.write("house", "leaving", animal=buck, on="2025-01-01T12:00:00+00:00", how="lent")
    yard.write("house", "arrival", animal=buck, on="2025-01-02T06:00:00+00:00", how="returned")
    every[0] = ("01-01 06:00", "01-01 12:00")
    assert stood(yard, buck, "2025-01-09") == every
    # It left from the second pen in the minute of the move: nothing of the third is left.
    on = "2025-01-03T06:00:00+00:00"
    yard.write("house", "leaving", animal=buck, on=on, how="lent")
    assert stood(yard, buck, "2025-01-09") == every[:2]
    yard.write("house", "death", animal=buck, on="2025-01-02T12:00:00+00:00")
    assert stood(yard, buck, "2025-01-09") == [every[0], ("01-02 06:00", "01-02 12:00")]


def met(since: str, until: str = "", *, born: str | None = None) -> tuple[Yard, bytes, bytes]:
    """A doe in a pen for good, and a buck from one day to another."""
    yard = Yard()
    told = {"born": born} if born else {}
    doe = yard.animal("Agate", sex="doe", **told)
    buck = yard.animal("Basalt", sex="buck", born="2018-03-01")
    barn, hill = (yard.write("house", "pen", name=name) for name in ("Barn", "Hill"))
    moved(yard, doe, barn, "2025-01-01")
    moved(yard, buck, barn, since)
    if until:
        moved(yard, buck, hill, until)
    return yard, doe, buck


def test_a_meeting_is_told_until_a_month_after_its_last_possible_kidding() -> None:
    # 2025-06-03 + 155 days = 2025-11-05 (Storey's Guide, ch. 64), and 30 days more: ours.
    yard, _, _ = met("2025-06-01", "2025-06-03", born="2020-03-01")
    assert len(exposures(herd_at(yard, "2025-12-05"))) == 1
    assert exposures(herd_at(yard, "2025-12-06")) == []


@pytest.mark.parametrize(("kidded", "told"), [("2025-06-03", True), ("2025-06-04", False)])
def test_a_kidding_after_it_ends_a_meeting_and_one_before_does_not(kidded: str, told: bool) -> None:
    yard, doe, _ = met("2025-06-01", "2025-06-03", born="2020-03-01")
    yard.write("house", "kidding", doe=doe, on=kidded)
    assert bool(exposures(herd_at(yard, "2025-07-01"))) is told


def test_does_are_asked_for_by_name_and_ages_and_kinship_said() -> None:
    yard, doe, buck = met("2025-06-01", "2025-06-03", born="2020-03-01")
    herd = herd_at(yard, "2025-07-01")
    (line,) = exposures(herd, [goat_of(herd, doe)])
    assert line.says == "Agate shared Barn with Basalt, entire, for 3 days"
    assert exposures(herd, [goat_of(herd, buck)]) == []
    yard, doe, _ = met("2025-06-01", "2025-06-03")
    herd = herd_at(yard, "2025-07-01")
    (line,) = exposures(herd)
    assert line.says.endswith("for 3 days; an age is unknown")
    yard.write("house", "kidding", doe=doe, on="2025-05-01")
    kid = yard.animal("Onyx", sex="doe", born="2025-05-01", dam=doe)
    moved(yard, kid, yard.write("house", "pen", name="Fold"), "2025-05-01")
    herd = herd_at(yard, "2025-08-15")
    pen = goat_of(herd, kid).pen_at(herd.look.moment)
    assert pen is not None
    son = yard.animal("Jasper", sex="buck", born="2025-05-01", dam=doe)
    herd = herd_at(yard, "2025-08-15")
    (words,) = would_meet(herd, goat_of(herd, son), pen, herd.look.moment)
    assert words == "Onyx would share Fold with Jasper, able to sire; related 0.25"


def test_a_meeting_of_one_day_and_of_an_age_reached_that_day_counts() -> None:
    # She can conceive from 90 days: born 2025-03-03, that is 2025-06-01.
    yard, _, _ = met("2025-05-20", "2025-06-01", born="2025-03-03")
    (line,) = exposures(herd_at(yard, "2025-07-01"))
    assert (line.doe_name, line.since, line.until, line.days) == (
        "Agate",
        "2025-06-01",
        "2025-06-01",
        1,
    )
    yard, _, _ = met("2025-05-20", "2025-05-31", born="2025-03-03")
    assert exposures(herd_at(yard, "2025-07-01")) == []


def test_two_that_change_places_in_one_moment_count_as_having_met() -> None:
    yard, _, buck = met("2025-06-01", born="2020-03-01")
    doe = yard.animal("Opal", sex="doe", born="2020-03-01")
    moment = "2025-06-20T06:00:00+00:00"
    herd = herd_at(yard, "2025-06-02")
    barn = goat_of(herd, buck).pen_at(herd.look.moment)
    assert barn is not None
    moved(yard, buck, yard.write("house", "pen", name="Fold"), moment)
    moved(yard, doe, barn, moment)
    found = exposures(herd_at(yard, "2025-07-01"))
    assert [(line.doe_name, line.days) for line in found] == [("Agate", 20), ("Opal", 1)]


def test_kinship_of_one_struck_from_the_herd_book_cannot_be_told() -> None:
    yard, _, buck = met("2025-06-01", born="2020-03-01")
    stray = yard.animal("Opal", sex="doe", born="2020-03-01")
    yard.retract("house", stray)
    herd = herd_at(yard, "2025-06-02")
    barn = goat_of(herd, buck).pen_at(herd.look.moment)
    assert barn is not None
    (words,) = would_meet(herd, goat_of(herd, stray), barn, herd.look.moment)
    assert words.endswith("able to sire; how they are related cannot be told")


def test_a_doubtful_leaving_frees_nobody() -> None:
    yard, _, buck = met("2025-06-01", born="2020-03-01")
    doe = yard.animal("Opal", sex="doe", born="2020-03-01")
    barn = goat_of(herd_at(yard, "2025-06-02"), buck).pen_at(
        herd_at(yard, "2025-06-02").look.moment
    )
    assert barn is not None
    moved(yard, doe, barn, "2025-08-25")
    leaving = yard.write("house", "leaving", animal=buck, on="2025-08-01", how="lent")
    yard.meet()
    yard.amend("house", leaving, on="2025-08-02")
    yard.amend("barn", leaving, on="2025-08-20")
    yard.meet()
    found = exposures(herd_at(yard, "2025-09-05"))
    assert [line.doe_name for line in found] == ["Agate", "Opal"]


def test_who_met_is_related_as_the_book_reckons_and_who_shares_no_ancestor_is_not() -> None:
    # Half sibs by one dam 0.25, aunt and nephew 0.125 (rule: Mrode 2014, ch. 2).
    yard = Yard()
    dam = yard.animal("Agate", sex="doe", born="2018-03-01")
    doe = yard.animal("Beryl", sex="doe", born="2021-03-01", dam=dam)
    sib = yard.animal("Marl", sex="doe", born="2021-03-01", dam=dam)
    bucks = {
        "Basalt": yard.animal("Basalt", sex="buck", born="2021-03-01", dam=dam),
        "Flint": yard.animal("Flint", sex="buck", born="2023-03-01", dam=sib),
        "Onyx": yard.animal("Onyx", sex="buck", born="2021-03-01"),
    }
    pen = yard.write("house", "pen", name="Fold")
    for one in (doe, *bucks.values()):
        moved(yard, one, pen, "2025-06-01")
    lines = {line.male_name: line for line in exposures(herd_at(yard, "2025-07-01"))}
    told = {name: (line.relationship, line.says.partition("; ")[2]) for name, line in lines.items()}
    assert told == {
        "Basalt": (0.25, "related 0.25"), "Flint": (0.125, "related 0.125"), "Onyx": (0.0, ""),
    }  # fmt: skip
