"""What a record is called, the marks it can be read off by, and the keys that both are found under."""

from __future__ import annotations

from herdsync.kinds import CATALOGUE
from herdsync.merge.pedigree import folded, key_of
from herdsync.merge.records import Record

CALLED = frozenset(kind.name for kind in CATALOGUE.values() if kind.names or kind.marks)


def words_of(record: Record) -> set[str]:
    """The names a record goes by, casefolded; every claimed name counts while they are disputed."""
    spec = CATALOGUE[record.kind]
    told = [value for field in spec.names for value in record.values(field)]
    return {str(value).casefold() for value in told}


def marks_of(record: Record) -> set[str]:
    """The marks that can be read off it, folded; both ears together count as one mark too."""
    spec = CATALOGUE[record.kind]
    marks = {folded(value) for field in spec.marks for value in record.values(field)}
    for right in record.values("tattoo_right"):
        marks |= {folded(f"{right}{left}") for left in record.values("tattoo_left")}
    # The ear with the herd's own letters is the same on every animal of the herd.
    return marks - {folded(right) for right in record.values("tattoo_right")}


def keys_for(told: str) -> tuple[bytes, bytes]:
    """Under which ids the records are found that a keeper's word names, and those it is a mark of."""
    return key_of(["called", told.casefold()]), key_of(["read", folded(told)])


def keys_of(record: Record) -> set[bytes]:
    """The keys of all that a record is called and can be read off by."""
    if record.kind not in CALLED:
        return set()
    words = {key_of(["called", word]) for word in words_of(record)}
    return words | {key_of(["read", mark]) for mark in marks_of(record)}
