"""The tests of a room, collected once: which run which function, how long each takes, which notices what.

A change within a function is put into the functions that stand in memory, in a process split off for it; so
no test is imported or collected twice. What was called while the tests were imported has left its results
behind: changes there, and outside of functions, are for `afresh`.
"""

from __future__ import annotations

import gc
import os
import pickle
import resource
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import _lru_cache_wrapper
from itertools import pairwise
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

from tests.mutation.sites import Change, changed

# Of the processor, not of the clock: on a busy machine nothing is taken for noticed that only was slow.
LEAST_SECONDS, TIMES_AS_LONG = 5, 10
ENDLESS = "(a test that never ends)"
DIED = "(the process died)"


class Calls:
    """Notes every function that is called while it listens."""

    def __init__(self) -> None:
        self.seen: dict[int, CodeType] = {}

    def __call__(self, frame: FrameType, event: str, _: Any) -> None:
        self.seen[id(frame.f_code)] = frame.f_code

    @contextmanager
    def listening(self) -> Iterator[None]:
        """While this runs."""
        threading.settrace(self)
        sys.settrace(self)
        try:
            yield
        finally:
            sys.settrace(None)
            threading.settrace(None)

    def taken(self) -> set[tuple[str, int, str]]:
        """What was called since: file, first line, name."""
        found = {
            (one.co_filename, one.co_firstlineno, one.co_qualname) for one in self.seen.values()
        }
        self.seen = {}
        return found


@dataclass
class Known:
    """Of a room's tests, by their ids: seconds of each, which run which function, which noticed last.

    ``early`` are the functions that were called while the tests were imported; only tests from
    ``shortest`` to ``longest`` seconds are asked.
    """

    seconds: dict[str, float] = field(default_factory=dict)
    calls: dict[tuple[str, int, str], set[str]] = field(default_factory=dict)
    early: set[tuple[str, int, str]] = field(default_factory=set)
    noticed: dict[str, int] = field(default_factory=dict)
    broken: list[str] = field(default_factory=list)
    turn: int = 0
    shortest: float = 0
    longest: float = 60

    def took_notice(self, test: str) -> None:
        """It will be asked earlier the next time."""
        self.turn += 1
        self.noticed[test] = self.turn

    def in_order(self, tests: Iterable[pytest.Item]) -> list[pytest.Item]:
        """Those that noticed one of the last three changes, then the quickest first; within bounds."""

        def place(test: pytest.Item) -> tuple[int, float]:
            turn = self.noticed.get(test.nodeid, -3)
            return (-turn if turn > self.turn - 3 else 1), self.seconds.get(test.nodeid, 0.0)

        asked = [
            one
            for one in tests
            if self.shortest <= self.seconds.get(one.nodeid, 0.0) <= self.longest
        ]
        return sorted(asked, key=place)


def apart(work: Callable[[], Any]) -> Any:
    """What some work gives, done in a process of its own; a word on how that ended if it gave nothing."""
    back, there = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(back)
        try:
            with os.fdopen(there, "wb") as out:
                pickle.dump(work(), out)
            os._exit(0)
        finally:
            os._exit(1)
    os.close(there)
    with os.fdopen(back, "rb") as source:
        told = source.read()
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if ended == 0:
        return pickle.loads(told)
    return ENDLESS if ended == -signal.SIGXCPU else DIED


def hush() -> None:
    """From here on this process prints nothing."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)


def first_to_fail(tests: list[pytest.Item], known: Known) -> str:
    """The id of the first test that fails, or empty. One that takes far too long ends the process."""
    for test, following in pairwise([*tests, None]):
        assert test is not None
        spent = time.process_time()
        longest = LEAST_SECONDS + TIMES_AS_LONG * known.seconds.get(test.nodeid, 1.0)
        resource.setrlimit(resource.RLIMIT_CPU, (int(spent + longest) + 1, resource.RLIM_INFINITY))
        if any(one.failed for one in runtestprotocol(test, log=False, nextitem=following)):
            return test.nodeid
    return ""


def listened_to(tests: list[pytest.Item]) -> Known:
    """Every test run once, as the code is; what it keeps is forgotten before each, so that all is called."""
    known, calls = Known(), Calls()
    keeping = [one for one in gc.get_objects() if isinstance(one, _lru_cache_wrapper)]
    for test, following in pairwise([*tests, None]):
        assert test is not None
        for one in keeping:
            one.cache_clear()
        began = time.process_time()
        with calls.listening():
            told = runtestprotocol(test, log=False, nextitem=following)
        known.seconds[test.nodeid] = time.process_time() - began
        if any(one.failed for one in told):
            known.broken.append(test.nodeid)
        for called in calls.taken():
            known.calls.setdefault(called, set()).add(test.nodeid)
    return known


def put_in_place(path: Path, change: Change, number: int) -> int:
    """Changes the functions that stand in memory; how many there are."""
    code = compile(changed(path.read_text(), number), str(path.absolute()), "exec")
    assert change.function is not None
    name, line = change.function
    new = [one for one in within(code) if (one.co_qualname, one.co_firstlineno) == (name, line)]
    found = [
        one
        for one in gc.get_objects()
        if isinstance(one, FunctionType)
        and (one.__code__.co_qualname, one.__code__.co_firstlineno) == (name, line)
        and one.__code__.co_filename == str(path.absolute())
    ]
    try:
        for function in found:
            function.__code__ = new[0]
    except ValueError:
        # A change that takes away a use of ``super()`` makes a function of another shape.
        return 0
    return len(found)


def within(code: CodeType) -> Iterator[CodeType]:
    """The code of functions and classes within, all depths."""
    for one in code.co_consts:
        if isinstance(one, CodeType):
            yield one
            yield from within(one)


class Bench:
    """A pytest plugin that hands the tests to ``work`` once they are collected, instead of running them."""

    def __init__(self, work: Callable[[list[pytest.Item]], None]) -> None:
        self.work = work

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """All is done in here."""
        if not session.testsfailed:
            self.work(session.items)
        return True
