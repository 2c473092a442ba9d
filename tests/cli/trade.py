"""Short words for the tests of the trade: one record, one animal, at one moment."""

from __future__ import annotations

from typing import Any

from tests.cli.laptops import Laptops

DAY = "2026-03-10T08:00:00+00:00"


def record(farm: Laptops, kind: str, *pairs: str, laptop: str = "house", at: str = DAY) -> Any:
    """What recording answers."""
    return farm.ask(laptop, "record", kind, *pairs, at=at)


def animal(farm: Laptops, name: str, *pairs: str, laptop: str = "house") -> Any:
    """What recording an animal answers."""
    return record(farm, "animal", f"name={name}", *pairs, laptop=laptop)


def warned(told: Any, words: str) -> bool:
    """Whether an answer warns in these words."""
    return any(words in warning for warning in told["warnings"])
