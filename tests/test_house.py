"""The rules of the house, read off the code itself: the ladder of rooms, its words, its sizes."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("herdsync", "tui", "scenarios")

# A room may import rooms above it in this list, and itself.
LADDER = (
    "herdsync.faults",
    "herdsync.wall",
    "herdsync.desk",
    "herdsync.safe_text",
    "herdsync.answers",
    "herdsync.meetings",
    "herdsync.reports",
    "herdsync.sights",
    "herdsync.trade",
    "herdsync.kinds",
    "herdsync.log",
    "herdsync.merge",
    "herdsync.store",
    "herdsync.projections",
    "herdsync.exchange",
    "herdsync.papers",
    "herdsync.acts",
    "herdsync.farm",
    "herdsync.founding",
    "herdsync.deeds",
    "herdsync.cli",
    "tui",
    "scenarios",
    "herdsync.start",
)
# What an upper room asks for only when it is needed: never at import time.
LATE = {("herdsync.cli", "tui"), ("herdsync.cli", "scenarios")}
# The dashboard sees the engine through these alone.
DASHBOARD_SEES = {
    "herdsync.farm", "herdsync.founding", "herdsync.deeds", "herdsync.answers",
    "herdsync.reports", "herdsync.faults", "herdsync.wall", "herdsync.safe_text", "herdsync.kinds",
    "herdsync.desk", "herdsync.sights", "herdsync.meetings",
}  # fmt: skip
THIRD_PARTY = {
    "asyncssh": ("herdsync.exchange", "scenarios"),
    "click": ("herdsync.cli", "herdsync.start", "scenarios"),
    "cryptography": ("herdsync.log", "herdsync.exchange"),
    "filelock": ("herdsync.store",),
    "fpdf": ("herdsync.papers",),
    "icalendar": ("herdsync.papers",),
    "keyring": ("herdsync.exchange",),
    "mnemonic": ("herdsync.log",),
    "msgspec": (
        "herdsync.answers", "herdsync.meetings", "herdsync.reports", "herdsync.sights",
        "herdsync.kinds", "herdsync.log",
        "herdsync.merge", "herdsync.store",
        "herdsync.projections", "herdsync.exchange", "herdsync.papers", "herdsync.acts",
        "herdsync.founding",
        "herdsync.cli", "scenarios",
    ),
    "obstore": ("herdsync.exchange",),
    "platformdirs": ("herdsync.desk", "herdsync.store", "herdsync.cli"),
    "rich": ("tui",),
    "segno": ("herdsync.cli",),
    "sqlite3": ("herdsync.store",),
    "ssl": ("herdsync.exchange",),
    "textual": ("tui",),
    "watchfiles": ("herdsync.exchange",),
}  # fmt: skip
BANNED_NAMES = {
    "utils",
    "util",
    "helpers",
    "helper",
    "common",
    "misc",
    "manager",
    "handler",
    "service",
}
BANNED_CALLS = re.compile(
    r"\b(datetime\.now|datetime\.utcnow|date\.today|time\.time|random\.\w+|os\.environ|os\.getenv"
    r"|secrets\.\w+|uuid\.\w+)"
)
FUNCTION_LINES = 60
FILE_LINES = 400


def modules() -> Iterator[tuple[str, Path]]:
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            yield ".".join(part for part in parts if part != "__init__"), path


MODULES = list(modules())
TREES = {name: ast.parse(path.read_text()) for name, path in MODULES}


def room_of(module: str) -> str | None:
    found = [room for room in LADDER if module == room or module.startswith(room + ".")]
    return max(found, key=len, default=None)


def imports_of(tree: ast.AST) -> Iterator[tuple[str, bool]]:
    """Every module a tree imports, and whether at import time (not within a function)."""
    inside = {
        id(node)
        for outer in ast.walk(tree)
        if isinstance(outer, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(outer)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, id(node) not in inside
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name their module in full"
            base = node.module or ""
            for alias in node.names:
                full = f"{base}.{alias.name}"
                yield (full if full in TREES else base), id(node) not in inside


def test_rooms_import_only_rooms_above_them() -> None:
    wrong = []
    for name, tree in TREES.items():
        room = room_of(name)
        for target, at_once in imports_of(tree):
            other = room_of(target)
            if room is None or other is None or other == room:
                continue
            late = (room, other) in LATE and not at_once
            if LADDER.index(other) > LADDER.index(room) and not late:
                wrong.append(f"{name} imports {target}")
    assert wrong == []


def test_every_module_stands_in_a_room() -> None:
    assert [name for name in TREES if name not in PACKAGES and room_of(name) is None] == []


def test_the_dashboard_sees_the_engine_through_its_door_alone() -> None:
    wrong = [
        f"{name} imports {target}"
        for name, tree in TREES.items()
        if room_of(name) == "tui"
        for target, _ in imports_of(tree)
        if target.startswith("herdsync") and room_of(target) not in DASHBOARD_SEES
    ]
    assert wrong == []


def test_third_party_libraries_stay_in_their_rooms() -> None:
    own = set(PACKAGES)
    wrong = []
    for name, tree in TREES.items():
        for target, _ in imports_of(tree):
            top = target.split(".")[0]
            outside = top not in sys.stdlib_module_names and top not in own
            if (outside or top in THIRD_PARTY) and room_of(name) not in THIRD_PARTY.get(top, ()):
                wrong.append(f"{name} imports {target}")
    assert wrong == []


def test_the_trade_imports_nothing_of_ours() -> None:
    wrong = [
        f"{name} imports {target}"
        for name, tree in TREES.items()
        if room_of(name) == "herdsync.trade"
        for target, _ in imports_of(tree)
        if target.startswith("herdsync") and room_of(target) != "herdsync.trade"
    ]
    assert wrong == []


def test_clock_randomness_and_environment_are_read_in_one_place() -> None:
    wrong = []
    for name, path in MODULES:
        if name == "herdsync.wall":
            continue
        for number, line in enumerate(path.read_text().splitlines(), 1):
            found = BANNED_CALLS.search(line)
            if found and not line.lstrip().startswith(("#", '"')):
                wrong.append(f"{path.relative_to(ROOT)}:{number} {found.group()}")
    assert wrong == []


def test_names_are_of_the_field() -> None:
    wrong = []
    for name, tree in TREES.items():
        words = set(name.split("."))
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                words.add(node.name)
            elif isinstance(node, ast.ClassDef):
                words.add(re.findall(r"[A-Z]?[a-z]+", node.name)[-1])
        wrong += [f"{name}: {word}" for word in sorted(words) if word.lower() in BANNED_NAMES]
    assert wrong == []


def test_functions_and_files_are_short() -> None:
    wrong = []
    for name, path in MODULES:
        lines = len(path.read_text().splitlines())
        if lines > FILE_LINES:
            wrong.append(f"{name}: {lines} lines")
        for node in ast.walk(TREES[name]):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = (node.end_lineno or node.lineno) - node.lineno + 1
                if length > FUNCTION_LINES:
                    wrong.append(f"{name}.{node.name}: {length} lines")
    assert wrong == []


def test_modules_say_what_they_are() -> None:
    assert [name for name, tree in TREES.items() if not ast.get_docstring(tree)] == []


def test_nothing_is_left_for_later() -> None:
    marks = re.compile(r"\b(TODO|FIXME|XXX|HACK|for now|NotImplementedError)\b")
    wrong = [
        f"{path.relative_to(ROOT)}:{number}"
        for _, path in MODULES
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if marks.search(line)
    ]
    assert wrong == []


@pytest.mark.parametrize("verb", ["due", "record"])
def test_plain_commands_load_no_screen_watcher_or_network(verb: str, tmp_path: Path) -> None:
    """In a fresh process: what a command does not use, it does not load."""
    heavy = ("textual", "watchfiles", "ssl", "asyncio", "asyncssh", "obstore")
    script = (
        "import sys\n"
        "from herdsync.start import main\n"
        f"sys.argv = ['herdsync', {verb!r}, '--farm', {str(tmp_path / 'none')!r}]\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([one for one in {heavy!r} if one in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.strip().splitlines()[-1] == "[]"
