"""``python -m tests.mutation herdsync/trade/dates.py tests/trade/test_dates.py ... [--seconds 600]``.

Runs the tests named, stopping at the first that fails, once for every way to change the module; prints each
change that none of them notices. For development, hours of it: not part of the suite.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import signal
import sys
import time
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.mutation.sites import changed, how_many

MOST_SECONDS = 60


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
        signal.alarm(MOST_SECONDS)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        sys.meta_path.insert(0, Wrong(path, tree))
        asked = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", *tests]
        os._exit(int(pytest.main(asked)))
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def main() -> int:
    """Try every change, or as many as the time allows, in a drawn order."""
    ask = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    ask.add_argument("module", type=Path)
    ask.add_argument("tests", nargs="+")
    ask.add_argument("--seconds", type=float, default=3600)
    told = ask.parse_args()
    source = told.module.read_text()
    order = random.Random(1).sample(range(how_many(source)), how_many(source))
    if not unnoticed(told.module, ast.parse(source), told.tests):
        print("the tests fail as it is")
        return 2
    end, tried, left = time.monotonic() + told.seconds, 0, []
    for number in order:
        if time.monotonic() > end:
            break
        tree, what = changed(source, number)
        tried += 1
        if unnoticed(told.module, tree, told.tests):
            left.append(what)
    print(f"{told.module}: {tried} of {len(order)} changes tried, {len(left)} unnoticed")
    lines = source.splitlines()
    for what in sorted(left, key=lambda one: int(one.split(":")[0])):
        print(f"  {what}   | {lines[int(what.split(':')[0]) - 1].strip()}")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
