"""Frozen answers for what a keeper takes in at a glance: figures to draw, and what stands out.

As in ``herdsync.answers``: more fields may be added, none renamed. Weights kg, lengths mm, dates
``YYYY-MM-DD``. Shapes only, no rules.
"""

from __future__ import annotations

from msgspec import Struct


class Point(Struct, frozen=True):
    """One figure: when, on which day of the course (of age, or in milk), how much.

    ``mark`` says what is to be known of it: ``held``, ``part`` (of it held), ``test`` or nothing.
    """

    on: str
    day: int
    value: float
    mark: str = ""
    record: str = ""


class Curve(Struct, frozen=True):
    """The figures of one animal, or of one side of it, oldest first."""

    name: str
    points: list[Point]
    animal: str = ""


class BandDay(Struct, frozen=True):
    """Between which figures is usual on one day of the course."""

    day: int
    least: float
    most: float


class Growth(Struct, frozen=True):
    """An animal's weights with those of its litter mates, and the usual band of a kid's first months.

    The first curve is the animal's own. The band is empty where nothing published fits.
    """

    curves: list[Curve]
    band: list[BandDay]
    says: str


class MilkCurve(Struct, frozen=True):
    """Milk of a doe day by day since ``start``; a point's mark tells whether it was held."""

    start: str
    days: Curve
    tests: Curve
    held_kg: float
    says: str


class Ancestor(Struct, frozen=True):
    """One ancestor. ``path`` leads to it from the animal: ``s`` to a sire, ``d`` to a dam."""

    path: str
    id: str
    name: str
    mark: str = ""
    born: str = ""
    sure: bool = True


class Pedigree(Struct, frozen=True):
    """Ancestors of four generations, how inbred the animal is, and how much of this is known.

    ``known``: the share of each generation that is known, parents first; fractions.
    """

    ancestors: list[Ancestor]
    inbreeding: float
    complete_generations: int
    equivalent_generations: float
    known: list[float]
    says: str
    faults: list[str]


class Sights(Struct, frozen=True):
    """What can be drawn of one animal."""

    id: str
    name: str
    born: str
    growth: Growth
    milk: MilkCurve | None
    scurs: list[Curve]
    pedigree: Pedigree


class FlagLine(Struct, frozen=True):
    """Something lately written down that asks for a look: a reading out of the usual, two doses."""

    animal: str
    name: str
    pen: str
    kind: str
    on: str
    what: str
    says: str
    record: str


class HeadsLine(Struct, frozen=True):
    """Heads somebody counted in a pen beside those the records put there at that time.

    ``work``: what to do about it, in a few words.
    """

    id: str
    pen: str
    on: str
    counted: int
    recorded: int
    names: list[str]
    says: str
    work: str = ""


class LastUse(Struct, frozen=True):
    """When a product was last given, and to whom."""

    product: str
    on: str
    animal: str
    name: str


class Sickroom(Struct, frozen=True):
    """What stands out among doses and readings of late, and when each product was last given."""

    flags: list[FlagLine]
    last_uses: list[LastUse]
    days: int


class Milking(Struct, frozen=True):
    """One milking of one doe. ``slot`` is morning, noon, evening or night; ``held``: not for sale then."""

    animal: str
    on: str
    day: str
    slot: str
    milk_kg: float | None
    sold: bool
    held: bool
    record: str
