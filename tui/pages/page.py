"""Lines of cells: the form in which every place tells what it knows. Plain data, no widget."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field

# Tones name what is meant; a theme gives each a colour, and none is told by colour alone.
TONES = (
    "plain", "dim", "strong", "held", "tag", "good", "accent", "closing", "late", "due", "unknown", "open",
    "barred", "put-off", "missed", "ahead",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cell:
    """One piece of a line, with what it means."""

    text: str
    tone: str = "plain"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, its width in cells, its share of spare width, the least room it needs.

    A column is shown only where the whole list is at least ``room`` cells wide; ``right`` sets
    figures under each other.
    """

    heading: str
    width: int
    grow: int = 0
    room: int = 0
    right: bool = False


Cells = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One line. ``key`` tells it from all others; a ``heading`` cannot be acted on.

    ``told`` are its cells, or tells them when they are asked for: of thousands of lines few are shown.
    ``animal`` and ``record`` are the ids a deed on this line is about, ``pen`` the pen it stands in.
    """

    key: str
    told: Cells | Callable[[], Cells]
    heading: bool = False
    animal: str = ""
    name: str = ""
    pen: str = ""
    record: str = ""

    @property
    def cells(self) -> Cells:
        """What stands on it, column by column."""
        return self.told() if callable(self.told) else self.told


@dataclass(frozen=True, slots=True)
class Fact:
    """One line beside the list about what the cursor is on: a label and what it says."""

    label: str
    text: str
    tone: str = "plain"


@dataclass(frozen=True, slots=True)
class Page:
    """What a place tells: its lines, and what to do where there is none."""

    columns: tuple[Column, ...]
    rows: list[Row]
    empty: str
    facts: Mapping[str, list[Fact]] = field(default_factory=dict)


class OnAsking(Mapping[str, list[Fact]]):
    """Facts worked out when their line is asked for: of thousands of lines few are ever pointed at."""

    def __init__(self, keys: Collection[str], tell: Callable[[str], list[Fact]]) -> None:
        self._keys = keys
        self._tell = tell

    def __getitem__(self, key: str) -> list[Fact]:
        if key not in self._keys:
            raise KeyError(key)
        return self._tell(key)

    def __iter__(self) -> Iterator[str]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


def heading(key: str, *texts: str) -> Row:
    """A heading line."""
    return Row(f"heading {key}", tuple(Cell(text, "strong") for text in texts), heading=True)
