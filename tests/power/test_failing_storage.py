"""Storage that fails below SQLite: a change refused once or from then on, a short write, a stick pulled out.

``HERDSYNC_PROOF_FAILURES`` sets how many days with a failing storage are spent (0: every one of them).
"""

from __future__ import annotations

import errno
import os
import random
from collections import Counter
from pathlib import Path
from typing import TypeVar

import pytest

from tests.power.look import broken
from tests.power.storage import prepared, spent

T = TypeVar("T")
FAILURES = int(os.environ.get("HERDSYNC_PROOF_FAILURES", "10"))
CHANGES, STICKS_CHANGES = 200, 12
WAYS = [(errno.EIO, "once"), (errno.EIO, "ever"), (errno.ENOSPC, "ever"), (0, "short")]
DAYS = ("ordinary", "founding")


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepared(tmp_path_factory.mktemp("ready"))


def some(every: list[T]) -> list[T]:
    return random.Random(6).sample(every, min(FAILURES, len(every))) if FAILURES else every


def told_and_broken(
    name: str, ready: Path, folder: Path, **fate: str
) -> tuple[Counter[str], object]:
    """How often each word was told on a day with a fate, and what does not hold once storage is well."""
    day = spent(name, ready, folder, **fate)
    assert (day.ended, day.said) == (0, ""), fate
    words = Counter(word for word, _ in day.told)
    assert words["no-sentence"] == 0, day.told
    return words, broken(name, folder / "root", day.told)


def test_what_fails_is_said_and_loses_nothing_acknowledged(ready: Path, tmp_path: Path) -> None:
    refused = 0
    every = [(name, at, *way) for name in DAYS for at in range(1, CHANGES + 1) for way in WAYS]
    for number, (name, at, code, how) in enumerate(some(every)):
        folder = tmp_path / str(number)
        words, faults = told_and_broken(name, ready, folder, POWER_FAIL=f"{at} {code} {how}")
        assert faults == [], (name, at, code, how)
        refused += words["refused"]
    assert refused > 0


def test_a_stick_pulled_out_at_any_moment_is_said(ready: Path, tmp_path: Path) -> None:
    for number, at in enumerate(some([*range(1, STICKS_CHANGES + 1)])):
        folder = tmp_path / str(number)
        stick = str(folder / "root" / "stick")
        fate = {"POWER_ROOT": stick, "POWER_FAIL": f"{at} {errno.EIO} pulled"}
        words, faults = told_and_broken("ordinary", ready, folder, **fate)
        assert (faults, words["record"], words["backup"]) == ([], 6, 1), at
        assert words["refused"] + words["left"] >= 2, at


def test_a_new_farm_whose_last_bytes_are_not_taken_is_not_founded(
    ready: Path, tmp_path: Path
) -> None:
    # Closing moves the write-ahead log into the file and says nothing if it cannot.
    sound = spent("founding", ready, tmp_path / "sound")
    moved = next(at for at, one in enumerate(sound.log) if one.b.endswith(b"/farm.db"))
    last = max(at for at, one in enumerate(sound.log[:moved]) if one.what == "W") + 1
    fate = {"POWER_FAIL": f"{last} {errno.EIO} once"}
    words, faults = told_and_broken("founding", ready, tmp_path / "failing", **fate)
    assert (words["founded"], words["refused"], faults) == (0, 1, [])
