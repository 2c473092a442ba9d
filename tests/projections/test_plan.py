"""The care plan: every item of it sound and sourced, bad plans refused in a sentence, farm items."""

from __future__ import annotations

import re

import pytest

from herdsync.faults import BadBytes
from herdsync.kinds import CATALOGUE
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.plan import read_plan, shipped_plan, shipped_plans
from herdsync.projections.settings import DEFAULT_PLAN, settings_of
from tests.farmyard import Yard
from tests.projections.board import due, work

GOOD = """
name = "try"
title = "A plan to try"
[[item]]
id = "bell"
work = "Ring the bell"
every = { days = 7 }
source = "invented for this test"
"""


@pytest.mark.parametrize("name", shipped_plans())
def test_every_shipped_item_names_its_source_and_warns_where_it_can_hurt(name: str) -> None:
    plan = shipped_plan(name)
    assert plan.name == name
    for item in plan.items:
        assert item.source, item.id
        assert item.work[0].isupper(), item.id
        assert len(item.work) <= (34 if item.chore else 40), f"{item.id} fits no line of 80 columns"
        warned = item.caution or CATALOGUE[item.kind].caution
        assert warned or not item.hazard, item.id
        if item.kind in ("disbudding", "castration", "hoof-trim", "vaccination", "dose"):
            assert item.hazard, item.id


def test_the_shipped_plan_is_there_under_its_hash() -> None:
    plan = shipped_plan(DEFAULT_PLAN)
    assert re.fullmatch(r"[0-9a-f]{64}", plan.hash)
    assert read_plan(GOOD.encode()).hash != plan.hash


@pytest.mark.parametrize(
    ("found", "wrong", "says"),
    [
        ("days = 7", "days = 0", "has days outside"),
        ("days = 7", 'days = "7"', "Expected `int`"),
        ("every = { days = 7 }", "", "it has none"),
        ("every = { days = 7 }", "every = { days = 7 }\nchore = ['morning']", "every, chore"),
        ("every = { days = 7 }", "chore = ['noon']", "none of morning, midday"),
        ("every = { days = 7 }", "window = [{ opens = 7, closes = 3 }]", "do not rise"),
        ("every = { days = 7 }", "after = { kind = 'ringing', days = [1] }", "'ringing'"),
        ("every = { days = 7 }", "after = { kind = 'dose', days = [3, 1] }", "do not rise"),
        ("every = { days = 7 }", "season = { opens = '13-01', closes = '02-01' }", "no calendar"),
        ("every = { days = 7 }", "every = { days = 7 }\nbarred_by = ['rain']", "'rain'"),
        ("every = { days = 7 }", "every = { days = 7 }\nby = [{ kind = 'check', where = { foot = 'ok' } }]",
         "'foot'"),
        ('source = "invented for this test"', 'source = ""', "its source"),
        ('source = "invented for this test"', 'source = "x"\nhows = 1', "unknown field `hows`"),
        ("[[item]]", "[[item", "cannot be read"),
    ],
)  # fmt: skip
def test_a_plan_that_does_not_hold_together_is_refused(found: str, wrong: str, says: str) -> None:
    assert found in GOOD
    with pytest.raises(BadBytes, match=re.escape(says)):
        read_plan(GOOD.replace(found, wrong).encode())


def test_an_item_may_not_stand_twice() -> None:
    item = GOOD[GOOD.index("[[item]]") :]
    with pytest.raises(BadBytes, match="stands twice"):
        read_plan((GOOD + item).encode())


def test_a_plan_that_is_not_here_or_changed_is_said_and_looking_goes_on() -> None:
    yard = Yard()
    yard.write("house", "setting", key="plan", value="valley-9")
    records = yard.records()
    found = plan_in_force(records, settings_of(records))
    assert found.plan.name == DEFAULT_PLAN
    assert "'valley-9'" in found.faults[0]
    yard.write("house", "setting", key="plan", value=DEFAULT_PLAN)
    yard.write("house", "setting", key="plan-hash", value="00" * 32)
    records = yard.records()
    assert "not, byte for byte" in plan_in_force(records, settings_of(records)).faults[0]


def test_the_farm_adds_changes_and_retires_items() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01", groups=["show"])
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    own = yard.write(
        "house", "plan-item", item="clip-beard", title="Clip the beard", every_days=20,
        groups=["show"], source="Oda",
    )  # fmt: skip
    line = due(yard, agate, "clip-beard", "2025-03-10")
    assert (line.work, line.source, line.preset) == (
        "Clip the beard",
        "Oda",
        {"item": "clip-beard"},
    )
    yard.write("house", "chore-done", about=agate, on="2025-03-10", item="clip-beard")
    assert due(yard, agate, "clip-beard", "2025-03-10").due == "2025-03-30"
    other = yard.animal("Opal", sex="doe", born="2020-03-01")
    assert work(yard, other, "clip-beard", "2025-03-10") is None
    yard.amend("house", own, retired=True)
    assert work(yard, agate, "clip-beard", "2025-03-10") is None
    change = yard.write(
        "house", "plan-item", item="hoof-trim", every_days=42, caution="Mind her hip."
    )
    changed = due(yard, agate, "hoof-trim", "2025-03-10")
    assert (changed.due, changed.caution) == ("2025-04-21", "Mind her hip.")
    assert changed.source.startswith("common practice")
    yard.amend("house", change, retired=True)
    assert work(yard, agate, "hoof-trim", "2025-03-10") is None


def test_farm_items_follow_births_acts_and_due_dates() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2020-03-01")
    yard.write("house", "mating", doe=opal, on="2025-09-20")
    yard.write(
        "house", "plan-item", item="clip-flank", title="Clip the flanks", after="due-date",
        opens_days=-10, best_days=-7, closes_days=-3,
    )  # fmt: skip
    yard.write(
        "house", "plan-item", item="thank-buck", title="Thank the buck", after="mating",
        opens_days=1, closes_days=5,
    )  # fmt: skip
    yard.write(
        "house", "plan-item", item="photo", title="Photograph the kid", kind="note",
        opens_days=10, best_days=12, closes_days=20,
    )  # fmt: skip
    clip = due(yard, opal, "clip-flank", "2025-09-21")
    assert (clip.opens, clip.best, clip.closes) == ("2026-02-07", "2026-02-10", "2026-02-14")
    thank = due(yard, opal, "thank-buck", "2025-09-21")
    assert (thank.opens, thank.closes) == ("2025-09-21", "2025-09-25")
    kid = yard.animal("Shale", sex="doe", born="2026-02-17")
    assert due(yard, kid, "photo", "2026-02-20").best == "2026-03-01"


def test_a_farm_item_that_cannot_hold_together_is_named_and_harms_nothing() -> None:
    yard = Yard()
    yard.write("house", "plan-item", item="whistle", title="Whistle")
    yard.write("house", "plan-item", item="hoof-trim", kind="no-such-kind")
    yard.write("house", "plan-item", item="weaning", opens_days=50, closes_days=20)
    records = yard.records()
    found = plan_in_force(records, settings_of(records))
    shipped = shipped_plan(DEFAULT_PLAN)
    assert found.plan.items == shipped.items
    assert len(found.faults) == 3
    assert all("Mend it there." in fault for fault in found.faults)
