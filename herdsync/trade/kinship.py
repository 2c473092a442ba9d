"""Exact kinship sums over a herd book: inbreeding of all, and one animal's row of relationships.

The numerator relationship matrix A is never formed. It factors as A = T D T' (Henderson 1976;
Quaas 1976; from memory), so one row is a walk up the ancestors, a scaling, and a walk down
(Colleau 2002, Genet. Sel. Evol. 34:409; from memory): memory grows with the herd book, not with
its square, and inbreeding of all costs one row per sire or per dam, whichever are fewer.

Every value is a whole number of 2^-k, so the sums are done in integers and nothing is rounded.
Must not know names, advice or what a mating is.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from herdsync.trade.pedigree import UNKNOWN, HerdBook


class Kinship:
    """Inbreeding of every animal of a herd book, and relationships on asking.

    Positions are those of the book. Founders and unknown parents count as unrelated and not
    inbred. A value of A between animals i and j needs at most depth(i) + depth(j) binary places,
    hence the scale of 2^(2 x deepest).
    """

    def __init__(self, book: HerdBook) -> None:
        self._book = book
        self._places = max(book.deepest, default=0)
        self._unit = 1 << (2 * self._places)
        count = len(book.ids)
        # The slot at the end answers for UNKNOWN (-1) and stays 0.
        self._inbreeding = [0] * (count + 1)
        self._own_share = [0] * count
        self._find_inbreeding()

    def inbreeding(self, place: int) -> Fraction:
        """Wright's F of one animal: half the relationship of its parents."""
        return Fraction(self._inbreeding[place], self._unit)

    def row(self, place: int) -> list[Fraction]:
        """Numerator relationship of one animal with every animal of the book, itself included."""
        row = self._row(place, len(self._book.ids) - 1)
        return [Fraction(value, self._unit) for value in row[:-1]]

    def _find_inbreeding(self) -> None:
        """F for all, oldest first; one row settles all kids of one sire (or of one dam)."""
        book = self._book
        families, mates = _families(book)
        settled: set[int] = set()
        for place in range(len(book.ids)):
            self._own_share[place] = self._mendelian(place)
            if UNKNOWN in (book.sires[place], book.dams[place]):
                continue
            parent = families[place]
            if parent in settled:
                continue
            settled.add(parent)
            row = self._row(parent, max(mate for _, mate in mates[parent]))
            for kid, mate in mates[parent]:
                self._inbreeding[kid] = row[mate] >> 1

    def _mendelian(self, place: int) -> int:
        """The part of an animal's own diagonal that does not come from its parents (D)."""
        share = self._unit
        for parent in self._book.parents(place):
            share -= (self._unit + self._inbreeding[parent]) >> 2
        return share

    def _row(self, place: int, last: int) -> list[int]:
        """Scaled relationships of ``place`` with positions 0..last (the rest is left 0)."""
        sires, dams = self._book.sires, self._book.dams
        row = [0] * (len(sires) + 1)
        first = place
        for ancestor, path in self._paths_up(place):
            row[ancestor] = (self._own_share[ancestor] * path) >> self._places
            first = ancestor
        down = zip(range(first, last + 1), sires[first:], dams[first:], strict=False)
        for animal, sire, dam in down:
            row[animal] += (row[sire] + row[dam]) >> 1
        return row

    def _paths_up(self, place: int) -> Iterator[tuple[int, int]]:
        """Ancestors youngest first, each with the sum of (1/2)^length over the paths to it."""
        paths = {place: 1 << self._places}
        for animal in sorted(self._book.ancestors([place]), reverse=True):
            half = paths[animal] >> 1
            for parent in self._book.parents(animal):
                paths[parent] = paths.get(parent, 0) + half
            yield animal, paths[animal]


def _families(book: HerdBook) -> tuple[tuple[int, ...], dict[int, list[tuple[int, int]]]]:
    """Group the animals with two known parents by sire or by dam, whichever gives fewer rows.

    Answers the column of grouping parents, and for each such parent its (kid, other parent) pairs.
    """
    both = [
        place
        for place in range(len(book.ids))
        if UNKNOWN not in (book.sires[place], book.dams[place])
    ]
    by_sire = len({book.sires[p] for p in both}) <= len({book.dams[p] for p in both})
    grouping, others = (book.sires, book.dams) if by_sire else (book.dams, book.sires)
    mates: dict[int, list[tuple[int, int]]] = {}
    for place in both:
        mates.setdefault(grouping[place], []).append((place, others[place]))
    return grouping, mates
