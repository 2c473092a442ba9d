"""A care plan that was shipped never changes: farms name it with its hash, and their due work rests on it.

What is to be otherwise is a new plan beside it (``hill-and-barn-2``), which keepers are asked to accept.
Until the first release a plan may still be mended; its line in ``plans.txt`` then changes with it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.projections.plan import read_plan, shipped_plan, shipped_plans
from tests.golden.farm import ANSWERS, KEPT, PLAN

HASHES = dict(
    line.split() for line in (Path(__file__).parent / "plans.txt").read_text().splitlines()
)


def test_every_shipped_plan_is_kept() -> None:
    assert sorted(HASHES) == shipped_plans()


@pytest.mark.parametrize("name", sorted(HASHES))
def test_a_shipped_plan_is_what_it_was(name: str) -> None:
    assert shipped_plan(name).hash == HASHES[name]


def test_the_plan_of_the_kept_farm_is_the_one_it_accepted() -> None:
    accepted = read_plan((KEPT / PLAN).read_bytes())
    assert f'"plan-hash", "value": "{accepted.hash}"' in (KEPT / ANSWERS).read_text()
