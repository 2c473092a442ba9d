"""Changes that no test notices and why that is right: they make no difference that anyone could see.

As much of a line as names the place (the change begins within it), the change, and the reason.
"""

from __future__ import annotations

UNSEEN = (
    "what was not seen lies before every sequence, which is 0 or more: as -2 no less than as -1"
)

KEPT: dict[str, list[tuple[str, str, str]]] = {
    "chain": [
        (".get(earlier.chain, -1) >= earlier.sequence", "1 -> 2", UNSEEN),
        ("past.get(chain.number, -1) < chain.tip_sequence", "1 -> 2", UNSEEN),
    ],
}


def why_kept(module: str, line: str, column: int, change: str) -> str:
    """Why this change at this place of a line may go unnoticed; empty where nothing says so."""
    for text, what, reason in KEPT.get(module, []):
        start = line.find(text)
        if what == change and start >= 0 and start <= column < start + len(text):
            return reason
    return ""
