"""``python -m tests.mutation trade [--module dates ...] [--seconds 600]``: rooms are those of `rooms`.

Runs the tests of a module, stopping at the first that fails, once for every way to change it; prints each
change that none of them notices and that `kept` does not explain. For development, hours of it: not part of
the suite. ``--seconds`` bounds the time for each module; of a longer list a drawn part is then tried.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import resource
import sys
import time
from pathlib import Path
from types import ModuleType
from typing import Any

import hypothesis.strategies  # noqa: F401 - loaded before the fork, once for all
import pytest

from tests.mutation.kept import why_kept
from tests.mutation.rooms import ROOMS, modules_of
from tests.mutation.sites import changed, how_many

# Of the processor, not of the clock: on a busy machine nothing is taken for noticed that only was slow.
MOST_SECONDS = 120


class Wrong(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one module in its changed form."""

    def __init__(self, path: Path, tree: ast.Module) -> None:
        self.name = ".".join(path.with_suffix("").parts)
        self.path = path
        self.code = compile(tree, str(path), "exec")

    def find_spec(self, name: str, *_: Any) -> importlib.machinery.ModuleSpec | None:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def create_module(self, spec: importlib.machinery.ModuleSpec) -> ModuleType | None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(self.code, module.__dict__)


def unnoticed(path: Path, tree: ast.Module, tests: list[str]) -> bool:
    """Whether the tests pass though the module is changed; a process of its own tries."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        sys.meta_path.insert(0, Wrong(path, tree))
        asked = ["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-profile=quick", *tests]
        os._exit(int(pytest.main(asked)))
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def tried(path: Path, tests: list[str], seconds: float) -> tuple[int, int, int]:
    """How many changes of a module were tried, went unnoticed, and of these are explained; prints them."""
    source = path.read_text()
    lines = source.splitlines()
    order = random.Random(1).sample(range(how_many(source)), how_many(source))
    if not unnoticed(path, ast.parse(source), tests):
        print(f"{path}: the tests fail as it is", flush=True)
        return 0, 1, 0
    end, count, left, explained = time.monotonic() + seconds, 0, [], 0
    for number in order:
        if time.monotonic() > end:
            break
        tree, what = changed(source, number)
        count += 1
        if not unnoticed(path, tree, tests):
            continue
        at, _, change = what.partition(": ")
        line = lines[int(at) - 1].strip()
        if why_kept(path.stem, line, change):
            explained += 1
        else:
            left.append((int(at), change, line))
    print(f"{path}: {count} of {len(order)} changes tried, {len(left)} unnoticed, "
          f"{explained} explained", flush=True)  # fmt: skip
    for place, change, line in sorted(left):
        print(f"  {place}: {change}   | {line}", flush=True)
    return count, len(left) + explained, explained


def main() -> int:
    """Try every change, or as many as the time allows, in a drawn order."""
    ask = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    ask.add_argument("rooms", nargs="+", choices=sorted(ROOMS))
    ask.add_argument("--module", action="append", help="only this module of the rooms")
    ask.add_argument("--seconds", type=float, default=3600)
    told = ask.parse_args()
    count = missed = explained = 0
    for room in told.rooms:
        for path, tests in modules_of(room):
            if told.module and path.stem not in told.module:
                continue
            one = tried(path, tests, told.seconds)
            count, missed, explained = count + one[0], missed + one[1], explained + one[2]
    print(f"{count} changes tried, {count - missed} noticed, {explained} explained, "
          f"{missed - explained} left")  # fmt: skip
    return 1 if missed > explained else 0


if __name__ == "__main__":
    sys.exit(main())
