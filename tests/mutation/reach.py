"""Which test files come to see a module: by what they import, and what that imports in turn."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path


@cache
def imported_by(file: Path) -> frozenset[Path]:
    """The files of ours that a file imports, wherever in it; those it names from a package too."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    found = set()
    for name in names:
        parts = name.split(".")
        for depth in range(1, len(parts) + 1):
            at = Path(*parts[:depth])
            found |= {one for one in (at.with_suffix(".py"), at / "__init__.py") if one.is_file()}
    return frozenset(found)


def reached_from(file: Path) -> set[Path]:
    """All files of ours that are loaded when this one is."""
    seen, open_ones = {file}, [file]
    while open_ones:
        for one in imported_by(open_ones.pop()) - seen:
            seen.add(one)
            open_ones.append(one)
    return seen
