"""A tattoo recorded done tells its animal's sheet, beside what the sheet said; never twice the number."""

from __future__ import annotations

import pytest

from herdsync.faults import Refused
from tests.acts.test_acting import Two, two

__all__ = ["two"]


def kid(two: Two, name: str = "Topaz", **told: str) -> str:
    return two.farm.record("animal", {"name": name, "born": "2026-01-01", "sex": "doe"} | told).id


def tattoo(two: Two, animal: str, stage: str = "done", **told: str) -> list[str]:
    return two.farm.record("tattoo", {"animal": animal, "stage": stage} | told).warnings


def test_the_sheet_follows_a_tattoo_done_and_is_found_by_it(two: Two) -> None:
    topaz = kid(two)
    tattoo(two, topaz, "planned", right="QMR", left="V1")
    assert two.record(topaz).values("tattoo_left") == []
    tattoo(two, topaz, right="QMR", left="V1")
    assert two.record(topaz).value("tattoo_left") == "V1"
    assert {two.farm.show(mark).id for mark in ("V1", "v 01", "QMR V1")} == {topaz}
    [line] = [one for one in two.farm.herd() if one.id == topaz]
    assert (line.tattoo_right, line.tattoo_left, line.disputed) == ("QMR", "V1", False)


def test_what_the_sheet_says_otherwise_stands_beside_it_until_a_keeper_resolves_it(
    two: Two,
) -> None:
    topaz = kid(two, tattoo_left="V2")
    told = tattoo(two, topaz, left="V1")
    assert any("said V2 for the left mark, this says V1" in one for one in told)
    assert two.record(topaz).values("tattoo_left") == ["V2", "V1"]
    [conflict] = two.farm.conflicts()
    assert (conflict.kind, conflict.field) == ("field", "tattoo_left")
    two.farm.resolve(conflict.id, value="V1", because="read off the ear")
    assert two.record(topaz).values("tattoo_left") == ["V1"]
    assert two.farm.conflicts() == []


def test_the_same_mark_written_otherwise_is_no_second_account(two: Two) -> None:
    topaz = kid(two, tattoo_left="V 01")
    tattoo(two, topaz, left="V1")
    assert two.record(topaz).values("tattoo_left") == ["V 01"]


@pytest.mark.parametrize("before", [{}, {"tattoo_left": "V2"}])
def test_undo_takes_back_the_tattoo_and_what_it_said_of_the_sheet(
    two: Two, before: dict[str, str]
) -> None:
    topaz = kid(two, **before)
    tattoo(two, topaz, left="V1")
    two.farm.undo()
    assert two.record(topaz).values("tattoo_left") == list(before.values())
    assert two.farm.conflicts() == []
    assert not [act for act in two.farm.show(topaz).acts if act.kind == "tattoo"]


def test_a_mark_that_reads_badly_says_nothing_of_the_sheet(two: Two) -> None:
    topaz = kid(two)
    tattoo(two, topaz, "re-read", left="V7", legibility_left="part-unreadable")
    assert two.record(topaz).values("tattoo_left") == []
    tattoo(two, topaz, "re-read", left="V1", legibility_left="clear")
    assert two.record(topaz).value("tattoo_left") == "V1"


def test_a_draft_sent_twice_tells_the_sheet_once(two: Two) -> None:
    topaz = kid(two)
    pairs = {"animal": topaz, "stage": "done", "left": "V1"}
    first, again = (two.farm.record("tattoo", pairs, salt=b"d" * 16) for _ in range(2))
    assert first.id == again.id != ""
    assert len(list(two.record(topaz).registers["tattoo_left"].every())) == 1


def test_several_tattoos_and_their_sheets_are_one_batch(two: Two) -> None:
    topaz, onyx = kid(two), kid(two, "Onyx")
    told = two.farm.record("tattoo", {"stage": "done", "right": "QMR"}, [topaz, onyx])
    assert len(told.ids) == 2
    two.farm.undo()
    assert two.record(topaz).values("tattoo_right") == two.record(onyx).values("tattoo_right") == []


def test_two_partners_who_used_one_number_offline_are_told_with_a_way_out(two: Two) -> None:
    topaz, onyx = kid(two), kid(two, "Onyx")
    two.meet()
    tattoo(two, topaz, right="QMR", left="V1")
    two.barn(onyx, tattoo_right="QMR", tattoo_left="V1")
    two.meet()
    [conflict] = [one for one in two.conflicts() if one.field == "one mark on two animals"]
    assert "QMR V1" in conflict.says and "Read the marks again" in conflict.mend
    with pytest.raises(Refused, match="may mean 2 records"):
        two.farm.show("QMR V1")
    suggestion = two.farm.marks(year=2026).suggestion
    assert suggestion is not None and suggestion.left == "V2"
    two.farm.amend(onyx, ["tattoo_left=V2"], because="read off the ear")
    assert [one for one in two.conflicts() if one.field == "one mark on two animals"] == []


def tattoo_id(two: Two, animal: str, stage: str = "done", **told: str) -> str:
    return two.farm.record("tattoo", {"animal": animal, "stage": stage} | told).id


def left(two: Two, animal: str) -> list[str]:
    return two.record(animal).values("tattoo_left")


def test_the_sheet_goes_with_a_tattoo_told_anew_taken_back_and_brought_back(two: Two) -> None:
    topaz = kid(two)
    done = tattoo_id(two, topaz, right="QMR", left="V1")
    two.farm.amend(done, ["left=V2"], because="typed wrong")
    assert left(two, topaz) == ["V2"]
    trail = [line for line in two.farm.trail(topaz) if line.field == "tattoo_left"]
    assert (trail[-1].before, trail[-1].after) == (["V1"], "V2")
    assert "told anew" in trail[-1].because
    two.farm.amend(done, ["left="])
    assert left(two, topaz) == []
    two.farm.undo()
    assert left(two, topaz) == ["V2"]
    two.farm.retract(done, because="another kid's")
    assert (left(two, topaz), two.record(topaz).values("tattoo_right")) == ([], [])
    two.farm.amend(done, ["stands=yes"], because="hers after all")
    assert (left(two, topaz), two.record(topaz).values("tattoo_right")) == (["V2"], ["QMR"])
    assert two.farm.conflicts() == []


def test_a_tattoo_that_was_not_done_after_all_says_nothing(two: Two) -> None:
    topaz = kid(two)
    done = tattoo_id(two, topaz, left="V1")
    two.farm.amend(done, ["stage=planned"], because="the ink had run out")
    assert left(two, topaz) == []


def test_a_tattoo_moved_to_another_kid_moves_the_mark(two: Two) -> None:
    topaz, onyx = kid(two), kid(two, "Onyx")
    done = tattoo_id(two, topaz, left="V1")
    two.farm.amend(done, [f"animal={onyx}"], because="the other twin")
    assert (left(two, topaz), left(two, onyx)) == ([], ["V1"])
    two.farm.undo()
    assert (left(two, topaz), left(two, onyx)) == (["V1"], [])


def test_what_a_keeper_typed_on_the_sheet_stays_and_the_difference_is_a_question(two: Two) -> None:
    topaz = kid(two, tattoo_left="V1")
    done = tattoo_id(two, topaz, left="V1")
    two.farm.amend(done, ["left=V2"])
    assert left(two, topaz) == ["V1", "V2"]
    [conflict] = two.farm.conflicts()
    assert conflict.field == "tattoo_left"
    two.farm.retract(done, because="it was another kid")
    assert left(two, topaz) == ["V1"]
    assert two.farm.conflicts() == []


def test_a_mark_that_was_read_again_is_not_moved_by_the_tattoo_alone(two: Two) -> None:
    topaz = kid(two)
    done = tattoo_id(two, topaz, left="V1")
    tattoo(two, topaz, "re-read", left="V1", legibility_left="clear")
    two.farm.amend(done, ["left=V2"])
    assert left(two, topaz) == ["V1", "V2"]
    two.farm.undo()
    two.farm.retract(done, because="written twice")
    assert left(two, topaz) == ["V1"]


def test_two_accounts_of_one_tattoo_end_on_the_sheet_with_the_answer(two: Two) -> None:
    topaz = kid(two)
    done = tattoo_id(two, topaz, left="V1")
    two.meet()
    two.barn(done, left="V3")
    two.farm.amend(done, ["left=V2"])
    two.meet()
    [conflict] = two.farm.conflicts()
    two.farm.resolve(conflict.id, value="V3", because="read off the ear")
    assert left(two, topaz) == ["V3"]
    assert two.farm.conflicts() == []


def test_a_mark_the_sheet_does_not_follow_is_told_beside_it(two: Two) -> None:
    topaz = kid(two)
    done = tattoo_id(two, topaz, left="V1")
    two.meet()
    two.barn(done, left="V2")
    two.meet()
    [line] = two.farm.marks(topaz).animals
    assert any("was tattooed V2, its sheet says V1" in one for one in line.warnings)
