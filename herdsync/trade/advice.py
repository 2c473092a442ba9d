"""The three levels of advice and the sentence that goes with each.

Knows no animal and no rule: a rule of the trade elsewhere in this room picks the level and writes
the reason.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple


class Advice(StrEnum):
    """How much a finding asks of the keeper, from nothing to hands off."""

    OK = "ok"
    LOOK = "look"
    STOP = "stop"


_ORDER = tuple(Advice)


class Finding(NamedTuple):
    """One answer of the trade: its level and the sentence that says why."""

    advice: Advice
    reason: str


def gravest(findings: Iterable[Finding]) -> Finding:
    """The gravest of some findings, the first among equals.

    Raises ``ValueError`` where there is none to choose from.
    """
    chosen = max(findings, key=lambda finding: _ORDER.index(finding.advice), default=None)
    if chosen is None:
        raise ValueError("there is no finding to choose from; give at least one")
    return chosen
