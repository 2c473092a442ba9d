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


def test_what_the_sheet_says_otherwise_stands_beside_it_until_a_keeper_settles_it(two: Two) -> None:
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
