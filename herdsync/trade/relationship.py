"""How close two goats are, how inbred one is, and what a mating would give.

Rule: numerator relationship a(i,j) = (a(sire i,j) + a(dam i,j)) / 2, a(i,i) = 1 + a(sire,dam) / 2,
F = a(sire,dam) / 2 (Mrode, Linear Models for the Prediction of Animal Breeding Values, 3rd ed.,
CABI 2014, ch. 2). F is an expectation from the recorded pedigree, and a wrong sire makes it
meaningless, so every answer carries how much of the pedigree is known. Must not know breeding
dates or the records behind a parent.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.advice import Advice
from herdsync.trade.completeness import Completeness, Depths
from herdsync.trade.kinship import Kinship
from herdsync.trade.pedigree import HerdBook, PedigreeFault
from herdsync.trade.units import plain

# Below the first a mating is ok, above the second one is told to stop; between them one looks:
# common practice, no published source (6.25 % is that of first cousins, 12.5 % of half sibs).
LOOK_FROM = Fraction(1, 16)
STOP_ABOVE = Fraction(1, 8)
# With fewer generations than this complete, a low figure proves little: common practice, no
# published source.
FEW_GENERATIONS = 3


class Inbreeding(NamedTuple):
    """F of a recorded animal with the completeness of its pedigree."""

    animal: str
    inbreeding: Fraction
    completeness: Completeness
    faults: tuple[PedigreeFault, ...]
    reason: str


class Relation(NamedTuple):
    """How close two animals are.

    ``relationship`` is the numerator relationship a(x,y) (0.5 for full sibs of unrelated parents),
    ``kinship`` half of it, ``wright_coefficient`` a(x,y) / sqrt(a(x,x) a(y,y)) to six decimals.
    ``common_ancestors`` are the nearest ones.
    """

    one: str
    other: str
    relationship: Fraction
    kinship: Fraction
    wright_coefficient: Decimal
    common_ancestors: tuple[str, ...]
    faults: tuple[PedigreeFault, ...]
    reason: str


class PlannedMating(NamedTuple):
    """What a kid of these two would be: expected F, its pedigree's completeness, and advice."""

    doe: str
    buck: str
    inbreeding: Fraction
    relationship: Fraction
    common_ancestors: tuple[str, ...]
    completeness: Completeness
    faults: tuple[PedigreeFault, ...]
    advice: Advice
    reason: str


def inbreeding_of(book: HerdBook, animal: str) -> Inbreeding:
    """F of one animal from its ancestors only; raises ValueError where the book lacks it."""
    part = book.part([animal])
    value = Kinship(part).inbreeding(part.place(animal))
    completeness = Depths(part).of(animal)
    reason = f"{book.called(animal)}: F {_percent(value)}; {completeness.reason}"
    return Inbreeding(animal, value, completeness, _faults_within(part), reason)


def relate(book: HerdBook, one: str, other: str) -> Relation:
    """How close two animals are, or one to itself; raises ValueError for an unknown animal."""
    part = book.part([one, other])
    kinship = Kinship(part)
    here, there = part.place(one), part.place(other)
    value = kinship.row(here)[there]
    diagonals = (1 + kinship.inbreeding(here)) * (1 + kinship.inbreeding(there))
    wright = Decimal(f"{float(value) / math.sqrt(diagonals):.6f}")
    nearest = _nearest_common(part, here, there)
    reason = (
        f"{book.called(one)} and {book.called(other)}: relationship {_percent(value)}, "
        f"{_shared(book, nearest)}"
    )
    return Relation(one, other, value, value / 2, wright, nearest, _faults_within(part), reason)


def plan_mating(book: HerdBook, doe: str, buck: str) -> PlannedMating:
    """What a kid of this pair would be: F = a(doe, buck) / 2.

    Raises ValueError for an unknown animal, one animal twice, a doe recorded as a buck or the
    other way round.
    """
    (only,) = rank_bucks(book, doe, [buck])
    return only


def rank_bucks(book: HerdBook, doe: str, bucks: Iterable[str]) -> tuple[PlannedMating, ...]:
    """Planned matings of a doe with each buck, the least inbred first.

    Among equals the better known pedigree comes first, then the id. Raises as ``plan_mating``.
    """
    wanted = sorted(set(bucks))
    _check_sexes(book, doe, wanted)
    part = book.part([doe, *wanted])
    row = Kinship(part).row(part.place(doe))
    depths = Depths(part)
    planned = (_planned(part, depths, doe, buck, row[part.place(buck)]) for buck in wanted)
    return tuple(
        sorted(
            planned,
            key=lambda mating: (
                mating.inbreeding,
                -mating.completeness.complete_generations,
                -mating.completeness.equivalent_generations,
                mating.buck,
            ),
        )
    )


def _planned(
    book: HerdBook, depths: Depths, doe: str, buck: str, relationship: Fraction
) -> PlannedMating:
    inbreeding = relationship / 2
    completeness = depths.of_kid(buck, doe)
    nearest = _nearest_common(book, book.place(doe), book.place(buck))
    faults = _faults_within(book.part([doe, buck])) if book.faults else ()
    advice = _advice(inbreeding)
    reason = (
        f"kids of {book.called(doe)} by {book.called(buck)}: F {_percent(inbreeding)}, "
        f"{_shared(book, nearest)}; {completeness.reason}"
    )
    if completeness.complete_generations < FEW_GENERATIONS:
        reason += "; so little is known that the true figure may be higher"
    if faults:
        reason += f"; {len(faults)} faults in this pedigree make it doubtful"
    return PlannedMating(
        doe, buck, inbreeding, relationship, nearest, completeness, faults, advice, reason
    )


def _advice(inbreeding: Fraction) -> Advice:
    if inbreeding < LOOK_FROM:
        return Advice.OK
    return Advice.LOOK if inbreeding <= STOP_ABOVE else Advice.STOP


def _check_sexes(book: HerdBook, doe: str, bucks: list[str]) -> None:
    if doe in bucks:
        raise ValueError(f"{book.called(doe)} cannot be mated with itself; name two animals")
    for animal, wrong, role in [(doe, "buck", "doe"), *((buck, "doe", "buck") for buck in bucks)]:
        book.place(animal)
        if book.lines[animal].sex == wrong:
            raise ValueError(
                f"{book.called(animal)} is written down as a {wrong} and cannot be the {role}; "
                "swap the two or correct the sex"
            )


def _nearest_common(book: HerdBook, here: int, there: int) -> tuple[str, ...]:
    """Shared ancestors reached by one of the two without passing another shared one."""
    left, right = book.ancestors([here]), book.ancestors([there])
    shared = left & right
    nearest = shared & {here, there}
    for place in (left | right) - shared:
        nearest.update(parent for parent in book.parents(place) if parent in shared)
    return tuple(sorted(book.ids[place] for place in nearest))


def _shared(book: HerdBook, nearest: tuple[str, ...]) -> str:
    if not nearest:
        return "no ancestor in common on record"
    return "through " + ", ".join(book.called(animal) for animal in nearest)


def _faults_within(book: HerdBook) -> tuple[PedigreeFault, ...]:
    """The faults that touch this part of the book."""
    return tuple(
        fault for fault in book.faults if any(animal in book.places for animal in fault.animals)
    )


def _percent(value: Fraction) -> str:
    return f"{plain(value * 100)} %"
