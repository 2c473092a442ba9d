"""Frozen answers beyond those of every command: exposure, heads, milk, kids. Shapes only, no rules.

As in ``herdsync.answers``: more fields may be added, none renamed; ids are base32 text.
"""

from __future__ import annotations

from msgspec import Struct


class ExposureLine(Struct, frozen=True):
    """A doe that shared a pen with a male able to sire. ``sure`` is false where a move is disputed.

    ``relationship`` is the numerator relationship; ``window`` the days she may kid from it.
    """

    doe: str
    doe_name: str
    male: str
    male_name: str
    pen: str
    since: str
    until: str
    days: int
    running: bool
    sure: bool
    relationship: float
    window: list[str]
    says: str
    records: list[str] = []


class HeadsLine(Struct, frozen=True):
    """Heads somebody counted in a pen beside those the records put there at that time."""

    id: str
    pen: str
    on: str
    counted: int
    recorded: int
    names: list[str]
    says: str


class MilkLine(Struct, frozen=True):
    """Milk of one doe over some days: produced, sold, and given while not for sale."""

    animal: str
    name: str
    first: str
    last: str
    milkings: int
    milk_kg: float
    sold_kg: float
    held_kg: float
    in_milk: bool
    days_in_milk: int | None = None
    disputed: bool = False


class KidTask(Struct, frozen=True):
    """One window of a kid's first months: done on, or its state."""

    item: str
    work: str
    state: str
    opens: str
    closes: str
    done: str = ""
    reason: str = ""


class KidBoard(Struct, frozen=True):
    """One kid with all windows of its first months, gain and what bears on a buckling."""

    id: str
    name: str
    sex: str
    born: str
    age_days: int | None
    dam: str
    tasks: list[KidTask]
    weight_kg: float | None = None
    gain_g_per_day: float | None = None
    gain_says: str = ""
    decision: list[str] = []
