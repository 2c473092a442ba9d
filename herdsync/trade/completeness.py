"""How much of a pedigree is known: the figure without which an inbreeding coefficient misleads.

Knows the shape of a herd book only.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from herdsync.trade.pedigree import HerdBook

# Generations whose known share is listed one by one: the five of an extended sale pedigree;
# common practice, no published source.
GENERATIONS_LISTED = 5


class Completeness(NamedTuple):
    """What is known behind an animal (or behind a kid not yet born).

    ``complete_generations``: how many generations have no gap. ``deepest_generations``: the
    longest known line. ``equivalent_generations``: the sum of (1/2)^n over all known ancestors n
    generations back (Maignel, Boichard and Verrier 1996; from memory). ``known_by_generation``:
    share known of parents, grandparents and so on. ``presumed`` lists (animal, role) of every
    parent behind it that is not sure.
    """

    complete_generations: int
    deepest_generations: int
    equivalent_generations: Fraction
    known_by_generation: tuple[Fraction, ...]
    presumed: tuple[tuple[str, str], ...]
    reason: str


class Depths:
    """The completeness of every pedigree in a herd book, worked out once, oldest animal first."""

    def __init__(self, book: HerdBook) -> None:
        self._book = book
        # Equivalent generations in whole numbers of 2^-places: a line adds one place a generation.
        self._places = max(book.deepest, default=0) + 1
        self._complete: list[int] = []
        self._equivalent: list[int] = []
        for place in range(len(book.ids)):
            parents = tuple(book.parents(place))
            self._complete.append(self._complete_behind(parents))
            self._equivalent.append(self._equivalent_behind(parents))

    def of(self, animal: str) -> Completeness:
        """Completeness of a recorded animal; raises ValueError where the book lacks it."""
        place = self._book.place(animal)
        return self._completeness(tuple(self._book.parents(place)), [place])

    def of_kid(self, sire: str, dam: str) -> Completeness:
        """Completeness of a kid these two would have; raises ValueError for an unknown animal."""
        parents = (self._book.place(sire), self._book.place(dam))
        return self._completeness(parents, parents)

    def _complete_behind(self, parents: Sequence[int]) -> int:
        return 1 + min(self._complete[p] for p in parents) if len(parents) == 2 else 0

    def _equivalent_behind(self, parents: Sequence[int]) -> int:
        return sum(((1 << self._places) + self._equivalent[p]) >> 1 for p in parents)

    def _completeness(self, parents: Sequence[int], heads: Sequence[int]) -> Completeness:
        book = self._book
        complete = self._complete_behind(parents)
        longest = max((book.deepest[parent] + 1 for parent in parents), default=0)
        presumed = _presumed(book, book.ancestors(heads))
        reason = (
            f"generations known without a gap: {complete}, longest line: {longest}; "
            "unknown ancestors count as unrelated"
        )
        if presumed:
            reason += f"; parents in it only presumed: {len(presumed)}"
        return Completeness(
            complete,
            longest,
            Fraction(self._equivalent_behind(parents), 1 << self._places),
            _known_shares(book, parents),
            presumed,
            reason,
        )


def _known_shares(book: HerdBook, parents: Sequence[int]) -> tuple[Fraction, ...]:
    """An ancestor that stands in two places of one generation fills both."""
    shares = []
    generation = Counter(parents)
    for back in range(1, GENERATIONS_LISTED + 1):
        shares.append(Fraction(generation.total(), 2**back))
        older: Counter[int] = Counter()
        for place, times in generation.items():
            for parent in book.parents(place):
                older[parent] += times
        generation = older
    return tuple(shares)


def _presumed(book: HerdBook, behind: set[int]) -> tuple[tuple[str, str], ...]:
    found = []
    for place in sorted(behind):
        line = book.lines[book.ids[place]]
        if line.sire is not None and not line.sire_sure:
            found.append((line.animal, "sire"))
        if line.dam is not None and not line.dam_sure:
            found.append((line.animal, "dam"))
    return tuple(found)
