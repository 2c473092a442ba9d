"""A small farm made of answers alone, for quick tests of screens: same signatures, no engine."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext

from tests.tui.fake_lines import (
    CAUTION,
    DOES,
    KIDS,
    NOW,
    StillWall,
    claim,
    day,
    due_line,
    herd_line,
    id_of,
)
from tests.tui.fake_partners import Laptops
from tests.tui.fake_shelf import Shelf

__all__ = [
    "CAUTION", "DOES", "KIDS", "NOW", "FakeFarm", "StillWall", "claim", "day", "due_line",
    "herd_line", "id_of",
]  # fmt: skip


class FakeFarm(Shelf, Laptops):
    """Answers as Farm does."""

    closed = False

    def one_look(self) -> AbstractContextManager[None]:
        return nullcontext()

    def mark(self) -> object:
        return object()

    def __enter__(self) -> FakeFarm:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self.closed = True
