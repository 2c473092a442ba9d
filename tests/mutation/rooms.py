"""The rooms whose every slip would matter, and the tests that are to notice it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Room:
    """Where modules stand (all of a folder, or those named) and where their tests do."""

    folder: str
    tests: str
    named: tuple[str, ...] = ()

    def modules(self) -> list[Path]:
        """The modules, by name."""
        found = sorted(Path(self.folder).glob("*.py"))
        return [one for one in found if not self.named or one.stem in self.named]


ROOMS = {
    "log": Room("herdsync/log", "tests/log"),
    "merge": Room("herdsync/merge", "tests/merge"),
    "trade": Room("herdsync/trade", "tests/trade"),
    "holds": Room(
        "herdsync/projections",
        "tests/projections",
        ("exposure", "held", "holds", "spans", "unrecorded", "verdicts", "withholding"),
    ),
}
