"""Exact kinship sums over a herd book: inbreeding of all, and one animal's row of relationships.

The numerator relationship matrix A is never formed. It factors as A = T D T' (Henderson 1976;
Quaas 1976; from memory), so a row is a walk up the ancestors, a scaling, and a walk down
(Colleau 2002, Genet. Sel. Evol. 34:409; from memory): memory grows with the herd book, not with
its square, and inbreeding of all costs one row per sire or per dam, whichever are fewer.

Every value is a whole number of 2^-k, so the sums are done in integers and nothing is rounded.
That also lets many rows share one long integer, each in a lane of its own: sums and halvings act
on all lanes at once, and since every halving is exact no bit ever crosses into the next lane.
Must not know names, advice or what a mating is.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from herdsync.trade.pedigree import UNKNOWN, HerdBook

# Width of the long integers: wide enough to make the steps worth their cost, small enough that a
# book of 5,000 takes some ten megabytes.
BITS_AT_ONCE = 8192

# A kid with two known parents: its position and that of the parent it is not grouped by.
_Kids = list[tuple[int, int]]


class Kinship:
    """Inbreeding of every animal of a herd book, and relationships on asking.

    Positions are those of the book. Founders and unknown parents count as unrelated and not
    inbred. With G generations on the longest line, a value of A needs at most 2 G binary places
    and a path at most G; no value exceeds 2, so 3 G + 3 bits hold any step of any sum.
    """

    def __init__(self, book: HerdBook) -> None:
        self._book = book
        self._places = max(book.deepest, default=0)
        self._lane_bits = 3 * self._places + 3
        self._lane = (1 << self._lane_bits) - 1
        self._unit = 1 << (2 * self._places)
        self._inbreeding = [0] * len(book.ids)
        self._own_share = [0] * len(book.ids)
        self._find_inbreeding()

    def inbreeding(self, place: int) -> Fraction:
        """Wright's F of one animal: half the relationship of its parents."""
        return Fraction(self._inbreeding[place], self._unit)

    def row(self, place: int) -> list[Fraction]:
        """Numerator relationship of one animal with every animal of the book, itself included."""
        row = self._rows([place], len(self._book.ids) - 1)
        return [Fraction(value, self._unit) for value in row]

    def _find_inbreeding(self) -> None:
        """F of all by generations: the rows of one settle kids of later ones only."""
        families = _families(self._book)
        generations: dict[int, list[int]] = {}
        for place, depth in enumerate(self._book.deepest):
            generations.setdefault(depth, []).append(place)
        at_once = max(1, BITS_AT_ONCE // self._lane_bits)
        for _, places in sorted(generations.items()):
            for place in places:
                self._own_share[place] = self._mendelian(place)
            parents = [place for place in places if place in families]
            for start in range(0, len(parents), at_once):
                self._settle_kids(parents[start : start + at_once], families)

    def _settle_kids(self, parents: Sequence[int], families: dict[int, _Kids]) -> None:
        last = max(mate for parent in parents for _, mate in families[parent])
        rows = self._rows(parents, last)
        for number, parent in enumerate(parents):
            shift = number * self._lane_bits
            for kid, mate in families[parent]:
                self._inbreeding[kid] = (rows[mate] >> shift & self._lane) >> 1

    def _mendelian(self, place: int) -> int:
        """The part of an animal's own diagonal that does not come from its parents (D)."""
        share = self._unit
        for parent in self._book.parents(place):
            share -= (self._unit + self._inbreeding[parent]) >> 2
        return share

    def _rows(self, wanted: Sequence[int], last: int) -> list[int]:
        """Scaled relationships with positions 0..last, one lane for each animal ``wanted``."""
        sires, dams = self._book.sires, self._book.dams
        # The slot at the end takes what goes to UNKNOWN (-1).
        paths = [0] * (len(sires) + 1)
        row = [0] * (len(sires) + 1)
        for number, place in enumerate(wanted):
            paths[place] += 1 << (self._places + number * self._lane_bits)
        for animal in range(max(wanted), -1, -1):
            path = paths[animal]
            if path:
                paths[sires[animal]] += path >> 1
                paths[dams[animal]] += path >> 1
                row[animal] = self._own_share[animal] * path >> self._places
        for animal, (sire, dam) in enumerate(zip(sires[: last + 1], dams, strict=False)):
            row[animal] += (row[sire] + row[dam]) >> 1
        return row[:-1]


def _families(book: HerdBook) -> dict[int, _Kids]:
    """Kids with two known parents, by sire or by dam, whichever gives fewer families."""
    by_sire: dict[int, _Kids] = {}
    by_dam: dict[int, _Kids] = {}
    for kid, (sire, dam) in enumerate(zip(book.sires, book.dams, strict=True)):
        if UNKNOWN not in (sire, dam):
            by_sire.setdefault(sire, []).append((kid, dam))
            by_dam.setdefault(dam, []).append((kid, sire))
    return min(by_sire, by_dam, key=len)
