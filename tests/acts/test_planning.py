"""What a change of the care plan would make due is foretold, and nothing is written by asking."""

from __future__ import annotations

import pytest

from herdsync.faults import Refused
from herdsync.projections.plan import shipped_plan
from tests.acts.test_acting import Two, two
from tests.store.farms import everything

__all__ = ["two"]


def agate(two: Two) -> str:
    return two.farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"}).id


def of_hooves(two: Two) -> list[tuple[str, str, str]]:
    return [
        (line.state, line.due, line.reason) for line in two.farm.due() if line.item == "hoof-trim"
    ]


def test_a_shorter_interval_is_foretold_as_recording_it_then_does(two: Two) -> None:
    agate(two)
    two.farm.record("hoof-trim", {"animal": "Agate", "on": "2025-11-20", "front_left": "ok"})
    before = everything(two.store)
    assert of_hooves(two) == []
    [change] = two.farm.preview_plan("hoof-trim", {"every_days": "35"})
    assert (change.what, change.name, change.state_before) == ("new", "Agate", "")
    assert everything(two.store) == before and of_hooves(two) == []
    warnings = two.farm.record("plan-item", {"item": "hoof-trim", "every_days": "35"}).warnings
    [line] = of_hooves(two)
    assert line[:2] == (change.state_after, change.due_after)
    assert f"Of this item there is now: 1 {line[0]}." in warnings


def test_retiring_an_item_takes_its_work_away(two: Two) -> None:
    agate(two)
    two.farm.record("hoof-trim", {"animal": "Agate", "on": "2025-10-01", "front_left": "ok"})
    [change] = two.farm.preview_plan("hoof-trim", {"retired": "yes"})
    assert (change.what, change.state_before, change.due_after) == ("gone", "late", "")


def test_another_shipped_plan_is_looked_at_first_and_then_accepted_whole(two: Two) -> None:
    agate(two)
    two.farm.record("hoof-trim", {"animal": "Agate", "on": "2025-11-20", "front_left": "ok"})
    assert set(two.farm.plans()) >= {"hill-and-barn-1", "wet-pasture-1", "dry-lot-1"}
    found = two.farm.preview_plan("wet-pasture-1", {})
    assert ("new", "Agate", "hoof-trim") in [(one.what, one.name, one.item) for one in found]
    two.farm.accept_plan("wet-pasture-1", "the brook field")
    told = {line.key: line.value for line in two.farm.settings()}
    assert told["plan"] == "wet-pasture-1"
    assert told["plan-hash"] == shipped_plan("wet-pasture-1").hash
    assert two.farm.plan_faults() == [] and len(of_hooves(two)) == 1
    two.farm.undo()
    assert of_hooves(two) == []


def test_a_plan_set_without_its_hash_says_how_to_accept_it(two: Two) -> None:
    two.farm.accept_plan("hill-and-barn-1")
    [told] = two.farm.set("plan", "dry-lot-1").warnings
    assert "herdsync plan --accept dry-lot-1" in told


@pytest.mark.parametrize(
    ("what", "changes", "says"),
    [
        ("valley-9", {}, "no shipped plan"),
        ("whistle", {"title": "Whistle"}, "needs exactly one"),
        ("weaning", {"opens_days": "50", "closes_days": "20"}, "do not rise"),
        ("hoof-trim", {"every_dais": "20"}, "every_days"),
    ],
)
def test_what_could_not_count_is_refused(
    two: Two, what: str, changes: dict[str, str], says: str
) -> None:
    before = everything(two.store)
    with pytest.raises(Refused) as refused:
        two.farm.preview_plan(what, changes)
    assert says in str(refused.value)
    assert everything(two.store) == before


def test_an_item_that_cannot_count_is_named_where_it_is_written(two: Two) -> None:
    told = two.farm.record("plan-item", {"item": "whistle", "title": "Whistle"}).warnings
    assert any("'whistle'" in one and "does not count" in one for one in told)


def test_a_plan_this_program_lacks_is_not_accepted(two: Two) -> None:
    with pytest.raises(Refused, match="wet-pasture-1"):
        two.farm.accept_plan("valley-9")
