"""Changes outside of functions, or in what importing calls: the tests are imported anew for each."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import importlib.util
import sys
from collections import Counter
from functools import partial
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.mutation.bench import Bench, Known, apart, first_to_fail, hush
from tests.mutation.reach import reached_from
from tests.mutation.sites import changed

QUIET = ["-n0", "-q", "-p", "no:cacheprovider", "--hypothesis-profile=quick"]
NO_CHANGE = -1
NOT_TAKEN_IN = "(tests cannot be imported)"


class Wrong(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one module in its changed form."""

    def __init__(self, path: Path, number: int) -> None:
        self.name = ".".join(path.with_suffix("").parts).removesuffix(".__init__")
        self.path = path
        self.code = compile(changed(path.read_text(), number), str(path.absolute()), "exec")

    def find_spec(self, name: str, *_: Any) -> importlib.machinery.ModuleSpec | None:
        if name != self.name:
            return None
        packed = [str(self.path.parent)] if self.path.stem == "__init__" else None
        return importlib.util.spec_from_file_location(
            name, self.path, loader=self, submodule_search_locations=packed
        )

    def create_module(self, spec: importlib.machinery.ModuleSpec) -> ModuleType | None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(self.code, module.__dict__)


def noticed_afresh(path: Path, number: int, tests: str, known: Known) -> str:
    """The test that notices a change, empty if none does: those that use the module most are asked first."""
    at = str(path.absolute())
    using = Counter(
        test.partition("::")[0]
        for (file, _, _), called in known.calls.items()
        if file == at
        for test in called
    )
    lately = {test.partition("::")[0]: turn for test, turn in known.noticed.items()}
    near = sorted(using, key=lambda file: (-lately.get(file, 0), -using[file]))[:2]
    files_there = sorted(Path(tests).rglob("test_*.py"))
    seeing = [str(one) for one in files_there if path in reached_from(one)]
    rest = [one for one in seeing if one not in near]
    for files in (near, rest):
        told = apart(partial(one_try, path, number, files, known)) if files else ""
        if told:
            return str(told)
    return ""


def one_try(path: Path, number: int, files: list[str], known: Known) -> str:
    """The first test in these files that fails."""
    hush()
    sys.meta_path.insert(0, Wrong(path, number))
    told = [NOT_TAKEN_IN]

    def work(tests: list[pytest.Item]) -> None:
        told[0] = first_to_fail(known.in_order(tests), known)

    pytest.main([*QUIET, *files], plugins=[Bench(work)])
    return told[0]
