"""The first morning: animals entered grown, with nothing on record, are due and never called late."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from tests.farmyard import Yard
from tests.projections.board import due, goat_of, rounds_at, work

# The yard's clock begins on 2026-01-01.
ENTERED = "2026-01-01"


def test_work_of_an_age_is_not_due_before_that_age_though_the_farm_knew_the_animal() -> None:
    # 1825 days after 2021-01-10 is 2026-01-09, by hand; the sheet was begun on 2026-01-01.
    yard = Yard()
    old = yard.animal("Agate", sex="doe", born="2021-01-10")
    line = due(yard, old, "teeth", "2027-06-01")
    assert (line.state, line.due) == ("due", "2026-01-09")


def test_a_grown_animal_without_history_is_late_with_nothing() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    rounds = rounds_at(yard, "2026-05-05")
    lines = rounds.of_goat(goat_of(rounds.herd, agate))
    assert lines
    assert not [line.item for line in lines if line.state == "late"]
    hooves = due(yard, agate, "hoof-trim", "2026-05-05")
    assert (hooves.state, hooves.due, hooves.closes) == ("due", ENTERED, "")
    assert hooves.reason.startswith("nothing of it is on record; born 2020-03-01")
    assert due(yard, agate, "hoof-trim", "2031-05-05").state == "due"


def test_one_act_on_record_makes_lateness_exact() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    line = due(yard, agate, "hoof-trim", "2026-05-05")
    assert (line.state, line.due) == ("late", "2025-05-05")


def test_a_chance_less_than_an_interval_back_stays_exact() -> None:
    # First trim at 56 d with 28 d of grace: common practice, no published source.
    yard = Yard()
    kid = yard.animal("Topaz", sex="doe", born="2025-09-01")
    states = {day: due(yard, kid, "hoof-trim", day).state for day in (
        "2025-11-24", "2025-11-25", "2025-12-22", "2025-12-23",
    )}  # fmt: skip
    assert states == {
        "2025-11-24": "due",
        "2025-11-25": "late",
        "2025-12-22": "late",
        "2025-12-23": "due",
    }


def test_an_animal_born_here_was_everybodys_to_see() -> None:
    yard = Yard()
    dam = yard.animal("Agate", sex="doe", born="2020-03-01")
    kidding = yard.write("house", "kidding", doe=dam, on="2025-09-01")
    kid = yard.animal("Topaz", sex="doe", born="2025-09-01", dam=dam, kidding=kidding)
    line = due(yard, kid, "hoof-trim", "2026-09-01")
    assert (line.state, line.due) == ("late", "2025-10-27")


def test_a_window_of_age_long_closed_is_due_unless_facts_speak() -> None:
    yard = Yard()
    kid = yard.animal("Jasper", sex="buck", born="2025-09-01")
    weaning = due(yard, kid, "weaning", "2026-04-01")
    assert (weaning.state, weaning.reason[:28]) == ("open", "nothing of it is on record; ")
    assert due(yard, kid, "castration-decision", "2026-04-01").state == "due"
    # He stands among females: that is seen today, whatever was written down.
    assert due(yard, kid, "separation", "2026-04-01").state == "late"


def test_the_day_it_arrived_is_told_and_no_clock_decides() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "arrival", animal=agate, on="2026-03-01")
    assert due(yard, agate, "condition-score", "2026-05-05").due == "2026-03-01"
    early = due(yard, agate, "condition-score", "2025-06-01")
    assert (early.state, early.due) == ("due", "2025-06-01")


def test_an_unknown_birth_date_makes_no_one_late() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe")
    line = due(yard, opal, "hoof-trim", "2026-05-05")
    assert (line.state, line.due) == ("due", ENTERED)
    assert line.reason == "nothing of it is on record, nor a birth date to count from"


def test_an_udder_never_checked_counts_from_kidding() -> None:
    # 30 d: common practice, no published source.
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=opal, on="2026-04-01")
    line = due(yard, opal, "udder-check", "2026-05-09")
    assert (line.state, line.due) == ("late", "2026-05-01")
    assert line.reason.startswith("30 days after the kidding of 2026-04-01; nothing of it")
    yard.write("house", "udder-check", doe=opal, on="2026-05-10", left="clear")
    assert due(yard, opal, "udder-check", "2026-05-11").due == "2026-06-09"
    yard.write("house", "kidding", doe=opal, on="2027-04-01")
    assert due(yard, opal, "udder-check", "2027-04-02").due == "2027-05-01"


@given(st.integers(0, 2500), st.integers(0, 60))
def test_asking_later_never_moves_what_was_never_recorded(age: int, later: int) -> None:
    yard = Yard()
    born = date(2026, 1, 1) - timedelta(days=age)
    goat = yard.animal("Onyx", sex="doe", born=born.isoformat())
    first = date(2026, 3, 1)
    lines = [
        work(yard, goat, "hoof-trim", (first + timedelta(days=days)).isoformat())
        for days in (0, later)
    ]
    assert all(line is not None for line in lines)
    assert lines[0] is not None and lines[1] is not None
    assert lines[0].id == lines[1].id
