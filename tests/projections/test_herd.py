"""Derived facts of animals: what nobody typed, and what no impossible date may break."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.answers import HerdLine
from herdsync.kinds.ids import text_id
from herdsync.projections.heads import counted_heads
from herdsync.projections.herd_lines import herd_lines
from herdsync.projections.kids import kid_boards
from herdsync.projections.timers import timers
from herdsync.sights import HeadsLine
from tests.farmyard import Yard
from tests.projections.board import goat_of, herd_at, rounds_at


def line(yard: Yard, name: str, at: str) -> HerdLine:
    lines = herd_lines(herd_at(yard, at), everything=True)
    return next(one for one in lines if one.name == name)


def test_wether_and_entire_follow_from_castrations() -> None:
    # Still counted as entire for 28 days: from memory (3-4 weeks), the longer is taken.
    yard = Yard()
    kid = yard.animal("Pumice", sex="buck", born="2025-01-01")
    castration = yard.write("house", "castration", animal=kid, on="2025-06-01", method="clamp")
    assert line(yard, "Pumice", "2025-09-01").state == ["entire"]
    yard.amend("house", castration, complete=True)
    assert line(yard, "Pumice", "2025-06-29").state == [
        "wether", "counts as entire until 2025-06-29",
    ]  # fmt: skip
    assert line(yard, "Pumice", "2025-06-30").state == ["wether"]
    yard.meet()
    yard.amend("barn", castration, complete=False)
    yard.amend("house", castration, complete=True, method="ring")
    yard.meet()
    late = line(yard, "Pumice", "2025-09-01")
    assert (late.state, late.disputed) == (["entire"], True)


def test_one_word_for_a_castrated_male_wherever_he_is_named() -> None:
    yard = Yard()
    kid = yard.animal("Shale", sex="buck", born="2026-02-17")
    at = "2026-03-10"
    [board] = kid_boards(rounds_at(yard, at))
    assert (line(yard, "Shale", at).sex_now, board.sex_now) == ("buck", "buck")
    yard.write("house", "castration", animal=kid, on="2026-03-01", method="ring", complete=True)
    [board] = kid_boards(rounds_at(yard, at))
    assert (line(yard, "Shale", at).sex_now, board.sex_now) == ("wether", "wether")
    assert (line(yard, "Shale", at).sex, board.sex) == ("buck", "buck")


def test_of_one_that_is_gone_nothing_is_said_but_that() -> None:
    yard = Yard()
    buck = yard.animal("Schist", sex="buck", born="2024-02-17")
    doe = yard.animal("Opal", sex="doe", born="2022-02-17")
    yard.write("house", "mating", doe=doe, buck=buck, on="2026-01-01")
    yard.write("house", "death", animal=buck, on="2026-02-01")
    yard.write("house", "leaving", animal=doe, on="2026-02-01", how="sold")
    assert line(yard, "Schist", "2026-03-01").state == ["dead"]
    assert line(yard, "Opal", "2026-03-01").state == ["sold"]


def test_heads_say_what_is_on_them_now() -> None:
    yard = Yard()
    kid = yard.animal("Shale", sex="doe", born="2026-02-17", horns_born="horned")
    yard.animal("Onyx", sex="doe", born="2026-02-17", horns_born="polled")
    assert line(yard, "Shale", "2026-02-20").horns == "horned"
    yard.write("house", "disbudding", animal=kid, on="2026-02-22")
    assert line(yard, "Shale", "2026-02-21").horns == "horned"
    assert line(yard, "Shale", "2026-02-22").horns == "disbudded"
    yard.write("house", "scurs", animal=kid, on="2026-05-22", left_mm=[4, 0, "mm"])
    assert line(yard, "Shale", "2026-05-22").horns == "scurs"
    assert line(yard, "Onyx", "2026-05-22").horns == "polled"


def test_milk_kidding_and_mating_show_in_the_line() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=opal, on="2025-02-10")
    assert line(yard, "Opal", "2025-03-01").state == ["in milk"]
    yard.write("house", "mating", doe=opal, on="2025-09-20")
    assert line(yard, "Opal", "2025-09-21").state == ["in milk", "mated", "due 2026-02-17"]
    yard.write("house", "pregnancy-check", doe=opal, on="2025-10-25", result="bred")
    yard.write("house", "dry-off", doe=opal, on="2025-12-19")
    assert line(yard, "Opal", "2025-12-20").state == ["bred", "due 2026-02-17"]
    yard.write("house", "kidding", doe=opal, on="2026-02-16")
    assert line(yard, "Opal", "2026-02-17").state == ["in milk"]


@pytest.mark.parametrize(
    ("kind", "told", "standing"),
    [
        ("leaving", {"how": "sold"}, "sold"),
        ("leaving", {"how": "lent"}, "away"),
        ("leaving", {"how": "culled"}, "culled"),
        ("death", {}, "dead"),
    ],
)
def test_going_shows_and_takes_it_out_of_the_herd(
    kind: str, told: dict[str, str], standing: str
) -> None:
    yard = Yard()
    goat = yard.animal("Marl", sex="doe", born="2020-03-01")
    yard.write("house", kind, animal=goat, on="2025-03-01", **told)
    assert line(yard, "Marl", "2025-02-28").standing == "here"
    assert line(yard, "Marl", "2025-03-01").standing == standing
    here = [one.name for one in herd_lines(herd_at(yard, "2025-03-01"))]
    assert here == (["Marl"] if standing == "away" else [])
    if kind == "leaving":
        yard.write("house", "arrival", animal=goat, on="2025-04-01", how="returned")
        assert line(yard, "Marl", "2025-06-01").standing == "here"


def test_the_pen_now_and_then() -> None:
    yard = Yard()
    goat = yard.animal("Mica", sex="doe", born="2020-03-01", dam=None or b"\0" * 16)
    pens = [yard.write("house", "pen", name=name) for name in ("Barn", "Hill")]
    yard.write("house", "pen-move", animal=goat, pen=pens[1], on="2025-05-01")
    yard.write("house", "pen-move", animal=goat, pen=pens[0], on="2025-01-01")
    found = line(yard, "Mica", "2025-05-02")
    assert (found.pen, found.pen_id) == ("Hill", text_id(pens[1]))
    assert found.dam == text_id(b"\0" * 16)
    herd = herd_at(yard, "2025-06-01")
    early = herd_at(yard, "2025-02-01").look.moment
    assert goat_of(herd, goat).pen_at(early) == pens[0]
    assert line(yard, "Mica", "2024-12-31").pen == ""


def test_counted_heads_are_compared_with_the_records() -> None:
    yard = Yard()
    barn = yard.write("house", "pen", name="Barn")
    for name in ("Agate", "Opal"):
        goat = yard.animal(name, sex="doe", born="2020-03-01")
        yard.write("house", "pen-move", animal=goat, pen=barn, on="2025-01-01")
    yard.write("house", "counted-heads", pen=barn, on="2025-02-01", heads=2)
    assert counted_heads(herd_at(yard, "2025-03-01")) == []
    yard.write("house", "counted-heads", pen=barn, on="2025-02-02", heads=3)
    (found,) = counted_heads(herd_at(yard, "2025-03-01"))
    assert (found.counted, found.recorded, found.names) == (3, 2, ["Agate", "Opal"])
    assert found.says.startswith(
        "3 heads were counted in Barn on 2025-02-02, the records put 2 there (Agate, Opal): count"
    )
    yard.write("house", "leaving", animal=goat, on="2025-02-20", how="sold")
    assert len(counted_heads(herd_at(yard, "2025-03-01"))) == 1
    again = yard.write("house", "counted-heads", pen=barn, on="2025-02-21", heads=1)
    assert counted_heads(herd_at(yard, "2025-03-01")) == []
    herd = herd_at(yard, "2025-03-01")
    assert herd.look.names(again) == "count of heads in Barn on 2025-02-21"


def barn_of_two(yard: Yard) -> tuple[bytes, bytes, bytes]:
    barn = yard.write("house", "pen", name="Barn")
    goats = [yard.animal(name, sex="doe", born="2020-03-01") for name in ("Agate", "Opal")]
    for goat in goats:
        yard.write("house", "pen-move", animal=goat, pen=barn, on="2025-01-01")
    yard.meet()
    return barn, goats[0], goats[1]


def heads_told(yard: Yard, at: str) -> list[HeadsLine]:
    yard.meet()
    return counted_heads(herd_at(yard, at))


def test_two_keepers_who_counted_otherwise_are_both_told() -> None:
    yard = Yard()
    barn, _, opal = barn_of_two(yard)
    yard.write("barn", "counted-heads", pen=barn, on="2025-02-01", heads=1)
    yard.write("house", "counted-heads", pen=barn, on="2025-02-01", heads=2)
    (found,) = heads_told(yard, "2025-03-01")
    assert found.recorded == 2
    for keeper, heads in (("Oda", 2), ("Ravi", 1)):
        assert f"{keeper} counted {heads}" in found.work and f"by {keeper}" in found.says
    assert found.work.endswith("2 on record: count again")
    # Within half a day it is one time; the same keeper's own later count ends his earlier one.
    yard.write("barn", "counted-heads", pen=barn, on="2025-02-03T07:00:00+00:00", heads=1)
    yard.write("house", "counted-heads", pen=barn, on="2025-02-03T19:00:00+00:00", heads=2)
    assert len(heads_told(yard, "2025-02-04")) == 1
    yard.write("barn", "counted-heads", pen=barn, on="2025-02-03T18:00:00+00:00", heads=2)
    assert heads_told(yard, "2025-02-04") == []
    # Half a day and more apart, the later one has looked again.
    yard.write("barn", "counted-heads", pen=barn, on="2025-02-05T07:00:00+00:00", heads=1)
    yard.write("house", "counted-heads", pen=barn, on="2025-02-05T19:00:01+00:00", heads=2)
    assert heads_told(yard, "2025-02-06") == []
    # A move between the two explains them.
    yard.write("barn", "counted-heads", pen=barn, on="2025-02-07T07:00:00+00:00", heads=2)
    shed = yard.write("house", "pen", name="Shed")
    yard.write("house", "pen-move", animal=opal, pen=shed, on="2025-02-07T08:00:00+00:00")
    yard.write("house", "counted-heads", pen=barn, on="2025-02-07T09:00:00+00:00", heads=1)
    assert heads_told(yard, "2025-02-08") == []


def test_a_count_says_in_few_words_whom_to_look_for() -> None:
    yard = Yard()
    barn, *_ = barn_of_two(yard)
    yard.write("house", "counted-heads", pen=barn, on="2025-02-01", heads=1)
    (found,) = counted_heads(herd_at(yard, "2025-02-02"))
    assert found.work == "1 counted, 2 on record: look who is missing"
    yard.write("house", "counted-heads", pen=barn, on="2025-02-02", heads=3)
    (found,) = counted_heads(herd_at(yard, "2025-02-03"))
    assert found.work == "3 counted, 2 on record: look who is not written down"


def test_a_count_is_held_against_those_there_then_whatever_became_of_them() -> None:
    yard = Yard()
    barn, agate, opal = barn_of_two(yard)
    yard.write("house", "counted-heads", pen=barn, on="2025-02-01", heads=2)
    shed = yard.write("house", "pen", name="Shed")
    yard.write("house", "pen-move", animal=agate, pen=shed, on="2025-02-02")
    yard.write("house", "leaving", animal=opal, on="2025-02-03", how="sold")
    assert counted_heads(herd_at(yard, "2025-03-01")) == []
    # One written down by mistake was never there.
    yard.retract("house", agate, because="it was Opal")
    (found,) = counted_heads(herd_at(yard, "2025-03-01"))
    assert (found.counted, found.recorded, found.names) == (2, 1, ["Opal"])


def test_a_kid_has_a_board_of_its_windows() -> None:
    yard = Yard()
    dam = yard.animal("Agate", sex="doe", born="2020-03-01")
    kid = yard.animal("Jasper", sex="buck", born="2026-02-17", dam=dam, horns_born="horned")
    yard.write("house", "disbudding", animal=kid, on="2026-02-21")
    # Gain from birth to 70 d, 3.4 to 13.6 kg: 145.7 g a day (worked out by hand).
    yard.write("house", "weighing", animal=kid, on="2026-02-17", weight_kg=[34, -1, "kg"])
    yard.write("house", "weighing", animal=kid, on="2026-04-28", weight_kg=[136, -1, "kg"])
    (board,) = kid_boards(rounds_at(yard, "2026-04-28"))
    tasks = {task.item: task for task in board.tasks}
    assert (tasks["disbudding"].state, tasks["disbudding"].done) == ("done", "2026-02-21")
    assert tasks["vaccination-first"].state == "late"
    assert (board.dam, board.weight_kg, board.gain_g_per_day) == ("Agate", 13.6, 145.7)
    assert board.decision[0].startswith("ring: unknown")
    assert any("able to sire" in words for words in board.decision)


def test_a_kids_board_begins_with_its_first_hooves_and_coccidia_watch() -> None:
    # Hooves from 56 d, coccidia from day 14 (2026-03-03), a day or a week early, grace behind it.
    yard = Yard()
    kid = yard.animal("Jasper", sex="buck", born="2026-02-17", horns_born="horned")

    def tasks(at: str) -> dict[str, tuple[str, str, str]]:
        (board,) = kid_boards(rounds_at(yard, at))
        return {task.item: (task.state, task.opens, task.closes) for task in board.tasks}

    newborn = tasks("2026-02-18")
    assert newborn["hoof-trim"] == ("ahead", "2026-04-07", "2026-05-12")
    assert newborn["coccidia-watch"] == ("ahead", "2026-03-02", "2026-03-05")
    assert newborn["eyelid-score"] == ("ahead", "2026-04-15", "2026-04-22")
    assert not {"condition-score", "test-cae", "vaccination-yearly", "milking"} & newborn.keys()
    assert tasks("2026-04-20")["hoof-trim"][0] == "due"
    yard.write("house", "hoof-trim", animal=kid, on="2026-04-20")
    assert tasks("2026-04-21")["hoof-trim"][1:] == ("2026-06-08", "2026-06-21")


def test_a_kids_board_tells_the_weight_at_birth_from_later_ones() -> None:
    yard = Yard()
    kid = yard.animal("Jasper", sex="buck", born="2026-02-17")

    def at_birth() -> tuple[str, str]:
        (board,) = kid_boards(rounds_at(yard, "2026-04-28"))
        (task,) = (one for one in board.tasks if one.item == "birth-weight")
        return task.state, task.done

    # Weighed by day 3 it was weighed at birth; on day 70 it was not.
    yard.write("house", "weighing", animal=kid, on="2026-04-28", weight_kg=[136, -1, "kg"])
    assert at_birth() == ("missed", "")
    yard.write("house", "weighing", animal=kid, on="2026-02-20", weight_kg=[38, -1, "kg"])
    assert at_birth() == ("done", "2026-02-20")
    # What is done once is done, however late.
    yard.write("house", "disbudding", animal=kid, on="2026-03-09")
    (board,) = kid_boards(rounds_at(yard, "2026-04-28"))
    (task,) = (one for one in board.tasks if one.item == "disbudding")
    assert (task.state, task.done) == ("done", "2026-03-09")


TIMES = st.sampled_from(
    ["1970-01", "2200-12-31", "2200-12-31T23:59:59Z", "1970-01-01T00:00:00+14:00",
     "2024-02-29", "2026-03-29T02:30:00+01:00", "2026-02"]
)  # fmt: skip
DEEDS = st.one_of(
    st.tuples(st.just("hoof-trim"), st.fixed_dictionaries({"on": TIMES})),
    st.tuples(st.just("disbudding"), st.fixed_dictionaries({"on": TIMES})),
    st.tuples(
        st.just("castration"),
        st.fixed_dictionaries({"on": TIMES, "method": st.just("ring"), "complete": st.booleans()}),
    ),
    st.tuples(st.just("arrival"), st.fixed_dictionaries({"on": TIMES})),
    st.tuples(st.just("death"), st.fixed_dictionaries({"on": TIMES})),
    st.tuples(st.just("weaning"), st.fixed_dictionaries({"on": TIMES})),
    st.tuples(
        st.just("weighing"),
        st.fixed_dictionaries({"on": TIMES, "weight_kg": st.just([1, 0, "lb"])}),
    ),
    st.tuples(st.just("kidding"), st.fixed_dictionaries({"on": TIMES})),
    st.tuples(st.just("mating"), st.fixed_dictionaries({"on": TIMES, "until": TIMES})),
    st.tuples(
        st.just("pregnancy-check"), st.fixed_dictionaries({"on": TIMES, "result": st.just("bred")})
    ),
)


@given(
    born=TIMES,
    sex=st.sampled_from(["doe", "buck", "intersex", "new-word"]),
    deeds=st.lists(DEEDS, max_size=5),
)
def test_impossible_dates_break_nothing(
    born: str, sex: str, deeds: list[tuple[str, dict[str, Any]]]
) -> None:
    yard = Yard(devices={"house": "Oda"})
    yard.write("house", "setting", key="zone", value="America/Santiago")
    goat = yard.write("house", "animal", name="[red]\u202e\x1b[2J", sex=sex, born=born)
    yard.amend("house", goat, dam=goat, sire=goat)
    for kind, told in deeds:
        field = "doe" if kind in ("kidding", "mating", "pregnancy-check") else "animal"
        yard.write("house", kind, **{**told, field: goat})
    for at in ("1971-01-01", "2026-03-29T02:30:00+02:00", "2199-12-31"):
        rounds = rounds_at(yard, at)
        rounds.lines(everything=True)
        herd_lines(rounds.herd, everything=True)
        timers(rounds.herd, rounds.plan)
        kid_boards(rounds)
