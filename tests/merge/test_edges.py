"""The edges of the rules: the very moment of leaving, dates told as moments, who a verdict is about."""

from __future__ import annotations

from typing import Any

import pytest

from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import PairRule
from herdsync.merge import pedigree
from herdsync.merge.lone import Lone
from herdsync.merge.rules import near, timed
from herdsync.merge.shelf import found_under, lying, sort_moment, work_key
from tests.farmyard import Yard

LOOP = "pedigree loop"


def rules(yard: Yard) -> list[str]:
    return sorted(one.field for one in yard.conflicts() if one.kind == "rule")


def loops(yard: Yard) -> list[list[bytes]]:
    return [one.records for one in yard.conflicts() if one.field == LOOP]


@pytest.mark.parametrize(
    ("left", "act", "broken"),
    [
        ("2026-01-10T06:00:00Z", "2026-01-10T06:00:00Z", []),
        ("2026-01-10T06:00:00Z", "2026-01-10T06:00:01Z", ["act after leaving"]),
        ("2026-01-10T06:00:00Z", "2026-01-10", []),
        ("2026-01-10", "2026-01-11T00:00:00Z", ["act after leaving"]),
    ],
)
def test_an_act_at_the_moment_of_leaving_is_not_after_it(
    yard: Yard, left: str, act: str, broken: list[str]
) -> None:
    agate = yard.animal("Agate")
    yard.write("house", "leaving", animal=agate, on=left, how="sold")
    yard.write("house", "hoof-trim", animal=agate, on=act)
    assert rules(yard) == broken


@pytest.mark.parametrize("day", ["2026-01-10", "2026-01-10T06:00:00Z"])
def test_who_came_and_went_on_one_day_has_not_come_back(yard: Yard, day: str) -> None:
    agate = yard.animal("Agate")
    yard.write("house", "arrival", animal=agate, on=day)
    yard.write("house", "leaving", animal=agate, on=day, how="sold")
    yard.write("house", "hoof-trim", animal=agate, on="2026-01-11")
    assert rules(yard) == ["act after leaving"]


def test_two_moments_of_one_date_are_one_day(yard: Yard) -> None:
    agate = yard.animal("Agate")
    byre, loft = (yard.write("house", "pen", name=name) for name in ("Byre", "Loft"))
    yard.meet()
    yard.write("house", "pen-move", animal=agate, pen=byre, on="2026-01-02T06:00:00Z")
    yard.write("barn", "pen-move", animal=agate, pen=loft, on="2026-01-02T18:00:00Z")
    yard.meet()
    assert rules(yard) == ["two pens at one time"]


@pytest.mark.parametrize(
    ("amended", "broken"),
    [({"sex": "buck"}, "dam of the wrong sex"), ({"born": "2026-01-01"}, "dam too young")],
)
def test_what_is_said_of_a_parent_later_is_held_against_its_young(
    yard: Yard, amended: dict[str, Any], broken: str
) -> None:
    dam = yard.animal("Agate", sex="doe", born="2020-01-01")
    yard.animal("Onyx", dam=dam, born="2026-01-02")
    assert rules(yard) == []
    yard.amend("house", dam, **amended)
    assert rules(yard) == [broken]


def test_a_loop_within_one_that_was_mended_is_still_told(yard: Yard) -> None:
    a, b, c = (yard.animal(name) for name in ("Agate", "Beryl", "Chert"))
    yard.amend("house", a, dam=c)
    yard.amend("house", b, dam=c, sire=a)
    yard.amend("house", c, dam=b)
    assert loops(yard) == [sorted([a, b, c])]
    yard.retract("house", a)
    assert loops(yard) == [sorted([b, c])]


def test_no_ancestors_are_walked_from_what_cannot_come_back_to_itself(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    byre, dam = yard.write("house", "pen", name="Byre"), yard.animal("Agate")
    yard.animal("Onyx", dam=dam)
    shelf = yard.shelf()
    seeds = [one for one in map(shelf.get, (byre, dam)) if one is not None]
    monkeypatch.setattr(shelf, "get", lambda _: pytest.fail("it is looked at"))
    assert len(seeds) == 2
    assert list(pedigree.loops(seeds, shelf)) == []


def test_a_verdict_on_two_says_nothing_of_a_third() -> None:
    yard = Yard(devices={"house": "Oda", "barn": "Ravi", "loft": "Ida"})
    trim: dict[str, Any] = {"animal": yard.animal("Agate"), "on": "2026-01-02"}
    first, second, third = (yard.write(name, "hoof-trim", **trim) for name in yard.devices)
    yard.meet()
    yard.different("house", first, second)
    asked = sorted(one.records for one in yard.conflicts() if one.kind == "pair")
    assert asked == sorted([sorted([first, third]), sorted([second, third])])


def test_a_rule_without_hours_or_a_kind_without_a_time_asks_for_no_time(yard: Yard) -> None:
    hours, same_date = PairRule(within_hours=12), PairRule(within_hours=None, or_same_date=True)
    alike = PairRule(within_hours=None)
    for rule, when in ((hours, True), (same_date, True), (alike, False)):
        assert timed(CATALOGUE["hoof-trim"], rule) is when
        assert timed(CATALOGUE["animal"], rule) is False
    agate = yard.animal("Agate")
    trims = [
        yard.records().get(yard.write("house", "hoof-trim", animal=agate, on=on))
        for on in ("2026-01-01", "2026-06-01")
    ]
    one, other = (trim for trim in trims if trim is not None)
    assert near(CATALOGUE["hoof-trim"], alike, one, other) is True
    assert near(CATALOGUE["hoof-trim"], hours, one, other) is False


def test_an_animal_lies_under_its_marks_and_a_chore_under_its_item(yard: Yard) -> None:
    agate = yard.records().get(yard.animal("Agate", tag="Q7"))
    assert isinstance(agate, Lone)
    assert pedigree.mark_key(("tag", "Q7")) in found_under(agate)
    assert lying(agate) == (sort_moment(agate), found_under(agate))
    byre, loft = (yard.write("house", "pen", name=name) for name in ("Byre", "Loft"))
    done = {
        (pen, item): yard.write("house", "chore-done", about=pen, item=item, on="2026-01-02")
        for pen in (byre, loft)
        for item in ("bedding", "water")
    }
    for (pen, item), id in done.items():
        found = yard.records().naming(work_key(pen, item), "chore-done")
        assert [one.id for one in found] == [id]
