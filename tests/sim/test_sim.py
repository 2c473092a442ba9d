"""A slice of the long simulation: every promise over a few dozen farms, and what these farms met.

``python -m tests.sim --runs 2000`` is the same at length.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from itertools import combinations_with_replacement
from pathlib import Path

import pytest

from herdsync.kinds import CATALOGUE
from herdsync.merge.fold import Fold
from herdsync.merge.records import Register
from herdsync.store.intake import Intake
from herdsync.store.store import Store
from tests.sim.apart import APART
from tests.sim.coverage import CLASSES, FATES, NEVER, pairs, sort_of
from tests.sim.play import STEPS, Outcome, Play, drawn, played, shortened

SEEDS = int(os.environ.get("HERDSYNC_SIM_SEEDS", "20"))
STEPS_IN_A_PLAY = 70
KEPT = sorted((Path(__file__).parent / "plays").glob("*.json"))


def all_pairs() -> Play:
    """Three laptops, and every pair of ways to write about one thing apart."""
    steps = ["welcome", "welcome", *["stock"] * 6, *APART]
    return Play("pairs", 1, [(name, number) for number, name in enumerate(steps)])


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    """The slice, and as many farms more, at most twice as often again, as what is to be met asks for."""
    found = [played(all_pairs(), thorough=True)]
    for seed in range(3 * SEEDS):
        if seed >= SEEDS and not missing(found):
            break
        found.append(played(drawn(seed, STEPS_IN_A_PLAY)))
    return found


def missing(outcomes: list[Outcome]) -> list[str]:
    """What these plays did not meet: fates, deeds, pairs of merge classes."""
    hits = sum((one.hits for one in outcomes), Counter[str]())
    wanted = [*FATES, *(f"{a} beside {b}" for a, b in pairs()), *(f"step {name}" for name in STEPS)]
    return [one for one in wanted if not hits[one]]


def test_every_promise_holds_in_every_farm(outcomes: list[Outcome]) -> None:
    assert [(one.play.seed, one.at, one.fault) for one in outcomes if one.fault] == []


def test_every_fate_every_deed_and_every_pair_of_classes_was_met(outcomes: list[Outcome]) -> None:
    assert missing(outcomes) == []


def test_only_what_no_kind_has_together_is_never_met() -> None:
    sorts = [{sort_of(kind.name, one) for one in kind.registers} for kind in CATALOGUE.values()]
    every = combinations_with_replacement(CLASSES, 2)
    declared = [pair for pair in every if set(pair) <= {"field", "bond", "set"}]
    assert {pair for pair in declared if not any(set(pair) <= told for told in sorts)} == NEVER


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)
def test_what_once_broke_holds(path: Path) -> None:
    outcome = played(Play.decode(path.read_text()), thorough=True)
    assert (outcome.fault, outcome.at) == ("", len(outcome.play.steps))


def test_the_same_seed_gives_the_same_trace_in_any_process() -> None:
    here = played(drawn(7, 30))
    for order in ("1", "2"):
        told = subprocess.run(
            [sys.executable, "-m", "tests.sim", "--seed", "7", "--steps", "30"],
            env=os.environ | {"PYTHONHASHSEED": order},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert told.stdout.splitlines()[0] == f"trace {here.trace}"


def drop_unread(self: Fold, *_: object) -> None:
    """A fold that forgets what it cannot read."""


def forget_ended(self: Register) -> object:
    """A register whose ended claims count for safety no more."""
    return [*self.standing, *self.unvouched]


def take_all_but_one(self: Intake, entries: list[object], source: str) -> object:
    """An intake that loses an entry of every larger batch without a word."""
    return TAKE(self, entries[:-1] if len(entries) > 3 else entries, source)  # type: ignore[arg-type]


def never_a_marker(self: Store, *_: object) -> None:
    """A store that keeps no marker: copies of it all write."""


TAKE = Intake.take
SABOTAGE = {
    "P2": (Fold, "_unread", drop_unread),
    "P7": (Register, "safety", forget_ended),
    "P6": (Intake, "take", take_all_but_one),
}


def broken_by(promise: str, monkeypatch: pytest.MonkeyPatch) -> Outcome:
    """The first farm in which an engine that breaks a promise is found out."""
    owner, name, worse = SABOTAGE[promise]
    monkeypatch.setattr(owner, name, worse)
    outcomes = (played(drawn(seed, STEPS_IN_A_PLAY)) for seed in range(20))
    return next(one for one in outcomes if one.fault)


@pytest.mark.parametrize("promise", SABOTAGE)
def test_an_engine_that_breaks_a_promise_is_found_out(
    promise: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = broken_by(promise, monkeypatch)
    assert promise in found.fault or "slow model" in found.fault


def test_a_failing_play_is_shortened_and_can_be_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    found = broken_by("P7", monkeypatch)
    least = shortened(found.play)
    assert least.fault and len(least.play.steps) < len(found.play.steps)
    assert played(Play.decode(least.play.encode())).fault == least.fault
