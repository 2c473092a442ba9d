"""Changes that no test notices and why that is right: they make no difference that anyone could see.

A line as it stands in the module (or as much of it as names it), the change, and the reason.
"""

from __future__ import annotations

KEPT: dict[str, list[tuple[str, str, str]]] = {}


def why_kept(module: str, line: str, change: str) -> str:
    """Why this change may go unnoticed; empty where nothing says so."""
    for text, what, reason in KEPT.get(module, []):
        if text in line and what == change:
            return reason
    return ""
