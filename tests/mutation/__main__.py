"""``python -m tests.mutation trade [--module dates] [--line 37] [--seconds 600]``: rooms are in `rooms`.

Makes one small wrong change after the other and runs the tests of the room that come near it, quickest
first, until one fails; prints each change that none of them notices and that `kept` does not explain. For
development: not part of the suite. ``--seconds`` bounds the time for each module; of a longer list a drawn
part is then tried.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import sys
import time
from pathlib import Path

import hypothesis.strategies  # noqa: F401 - loaded before the fork, once for all
import pytest

from tests.mutation.afresh import NO_CHANGE, QUIET, noticed_afresh
from tests.mutation.bench import (
    Bench,
    Calls,
    Known,
    apart,
    first_to_fail,
    hush,
    listened_to,
    put_in_place,
)
from tests.mutation.kept import why_kept
from tests.mutation.rooms import ROOMS, Room
from tests.mutation.sites import Change, changes_of

Found = dict[tuple[Path, int], str]
LATER = "(to be tried afresh)"


def unnoticed(path: Path, change: Change) -> str:
    """What is printed as soon as no test notices a change, and read by ``--again``."""
    return f"{path}:{change.line}:{change.column}: {change.what}"


def drawn(path: Path, told: argparse.Namespace) -> list[tuple[int, Change]]:
    """The changes of a module that are asked for, in a drawn order."""
    all_of_them = list(enumerate(changes_of(path.read_text())))
    asked = [one for one in all_of_them if not told.line or one[1].line in told.line]
    if told.again is not None:
        wanted = told.again.read_text().splitlines()
        asked = [one for one in asked if unnoticed(path, one[1]) in wanted]
    return random.Random(1).sample(asked, len(asked))


def in_memory(room: Room, modules: list[Path], told: argparse.Namespace) -> tuple[Known, Found]:
    """What the tests notice of the changes within functions."""
    calls, known, found = Calls(), Known(), Found()

    def work(tests: list[pytest.Item]) -> None:
        nonlocal known
        known = apart(lambda: listened_to(tests))
        known.early = early
        known.shortest, known.longest = told.shortest, told.longest
        for path in modules if not known.broken else []:
            end = time.monotonic() + told.seconds
            for number, change in drawn(path, told):
                if time.monotonic() > end:
                    break
                test = noticed_in_memory(path, number, change, tests, known)
                found[path, number] = test
                if not test:
                    print(unnoticed(path, change), file=say, flush=True)

    class Listening(Bench):
        def pytest_collection_finish(self) -> None:
            sys.settrace(None)
            early.update(calls.taken())

    early: set[tuple[str, int, str]] = set()
    say = os.fdopen(os.dup(1), "w")
    hush()
    with calls.listening():
        ended = pytest.main([*QUIET, room.tests], plugins=[Listening(work)])
    if ended:
        known.broken.append(f"(collecting ends with {ended!r})")
    return known, found


def noticed_in_memory(
    path: Path,
    number: int,
    change: Change,
    tests: list[pytest.Item],
    known: Known,
) -> str:
    """The test that notices a change, empty if none does, `LATER` if it cannot be put in place."""
    if change.function is None:
        return LATER
    name, line = change.function
    place = (str(path.absolute()), line, name)
    near = known.in_order(one for one in tests if one.nodeid in known.calls.get(place, ()))

    def work() -> str:
        return first_to_fail(near, known) if put_in_place(path, change, number) else LATER

    if place in known.early:
        return LATER
    test = str(apart(work)) if near else ""
    if test and test != LATER:
        known.took_notice(test)
    return test


def summed_up(path: Path, told: argparse.Namespace, found: Found) -> tuple[int, int, int]:
    """How many changes of a module were tried, went unnoticed, are explained; prints the others."""
    lines, left, explained, tried = path.read_text().splitlines(), [], 0, 0
    for number, change in drawn(path, told):
        if (path, number) not in found:
            continue
        tried += 1
        line = lines[change.line - 1]
        if found[path, number]:
            continue
        if why_kept(path.stem, line, change.column, change.what):
            explained += 1
        else:
            left.append((change.line, change.column, change.what, line.strip()))
    print(f"{path}: {tried} of {len(drawn(path, told))} changes tried, {len(left)} unnoticed, "
          f"{explained} explained", flush=True)  # fmt: skip
    for place, column, change_made, line in sorted(left):
        print(f"  {place}:{column}: {change_made}   | {line}", flush=True)
    return tried, len(left), explained


def tried(room: Room, told: argparse.Namespace) -> list[tuple[int, int, int]]:
    """All modules of a room; for each how many changes were tried, are left and are explained."""
    modules = [one for one in room.modules() if not told.module or one.stem in told.module]
    known, found = apart(lambda: in_memory(room, modules, told))
    if known.broken:
        print(f"{room.tests}: these fail as the code is: {', '.join(known.broken)}")
        return [(0, 1, 0)]
    if told_afresh := noticed_afresh(modules[0], NO_CHANGE, room.tests, known):
        print(f"{room.tests}: imported anew this fails as the code is: {told_afresh}")
        return [(0, 1, 0)]
    counts = []
    for path in modules:
        end = time.monotonic() + told.seconds
        for (module, number), test in list(found.items()):
            if module == path and test == LATER:
                del found[path, number]
                if time.monotonic() < end:
                    found[path, number] = noticed_afresh(path, number, room.tests, known)
                    known.took_notice(found[path, number])
        counts.append(summed_up(path, told, found))
    return counts


def main() -> int:
    """Try every change, or as many as the time allows, in a drawn order."""
    ask = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    ask.add_argument("rooms", nargs="+", choices=sorted(ROOMS))
    ask.add_argument("--module", action="append", help="only this module of the rooms")
    ask.add_argument("--line", action="append", type=int, help="only changes that begin here")
    ask.add_argument("--seconds", type=float, default=3600)
    ask.add_argument("--longest", type=float, default=60, help="leave out tests of more seconds")
    ask.add_argument("--shortest", type=float, default=0, help="leave out tests of less seconds")
    ask.add_argument("--again", type=Path, help="only what an earlier run printed as unnoticed")
    ask.add_argument("--few", action="store_true", help="few examples of each property")
    told = ask.parse_args()
    if told.few:
        QUIET[-1] = "--hypothesis-profile=few"
    counts = [one for room in told.rooms for one in tried(ROOMS[room], told)]
    count, left, explained = (sum(column) for column in zip(*counts, strict=True))
    spent = sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2])
    print(f"{count} changes tried, {count - left - explained} noticed, {explained} explained, "
          f"{left} left; {spent:.0f} s of processor")  # fmt: skip
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
