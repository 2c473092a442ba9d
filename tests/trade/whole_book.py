"""Inbreeding of a whole herd book at once: what the sums of `Kinship` answer, for checks and the bench."""

from __future__ import annotations

from fractions import Fraction

from herdsync.trade.kinship import Kinship
from herdsync.trade.pedigree import HerdBook


def inbreeding_of_all(book: HerdBook) -> dict[str, Fraction]:
    """F of every animal of the book, by id."""
    kinship = Kinship(book)
    return {animal: kinship.inbreeding(place) for place, animal in enumerate(book.ids)}
