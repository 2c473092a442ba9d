"""Which record a keeper's word means: a name, a mark read off the animal, an id or a unique beginning."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Protocol

from herdsync.answers import DueLine
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.ids import text_id
from herdsync.log.entry import RECORD_BYTES
from herdsync.merge.called import keys_for, marks_of, words_of
from herdsync.merge.conflicts import Conflict
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Record, Records

ALPHABET = "abcdefghijklmnopqrstuvwxyz234567"
SHORTEST_PREFIX = 4
# Of the id of a record, a claim, a piece of work.
ID_LETTERS = 26

Between = Callable[[bytes, bytes], list[bytes]]


class Index(Protocol):
    """What finding asks of the farm: its records, and ids by range (at most ten)."""

    records: Records
    record_ids: Between
    entry_ids: Between

    def conflicts(self) -> list[Conflict]:
        """Every disagreement, open and closed."""


def id_range(prefix: str, size: int) -> tuple[bytes, bytes] | None:
    """The least and greatest id of ``size`` bytes whose text begins so; None where none can."""
    text = prefix.strip().lower()
    longest = -(-size * 8 // 5)
    if not text or len(text) > longest or any(letter not in ALPHABET for letter in text):
        return None
    number = 0
    for letter in text:
        number = number * 32 + ALPHABET.index(letter)
    spare = 5 * (longest - len(text))
    extra = longest * 5 - size * 8
    low = (number << spare) >> extra
    high = (((number + 1) << spare) - 1) >> extra
    return low.to_bytes(size, "big"), min(high, 256**size - 1).to_bytes(size, "big")


def find(index: Index, kind: str, text: str) -> bytes:
    """The one record of ``kind`` ("" for any) that the text means. Raises Refused with candidates."""
    told = text.strip()
    if not told:
        raise Refused("There is no name or id to look for.", "Name the animal or record.")
    named = _by_name(index.records, kind, told)
    if len(named) == 1:
        return named[0].id
    if len(named) > 1:
        raise Refused(
            f"'{told}' may mean {len(named)} records: {_listed(named)}.",
            "Use the id, or a mark that is its alone.",
        )
    found = _by_id(index, kind, told)
    if found is not None:
        return found
    raise Refused(f"Nothing here is called '{told}'{_of(kind)}.", _hint(kind, told))


def find_record(index: Index, text: str, kind: str = "") -> Record:
    """The record the text means. Raises Refused."""
    record = index.records.get(find(index, kind, text))
    assert record is not None, "what is found is here"
    return record


def find_entry(index: Index, text: str) -> bytes:
    """The full id of the entry whose id begins so, or whose claims go by this id. Raises Refused."""
    told = text.strip().lower()
    # The id of a claim is the first half of its entry's: as text its last letter holds fewer bits.
    claim = id_range(told, RECORD_BYTES) if len(told) == ID_LETTERS else None
    if claim is not None:
        found = index.entry_ids(claim[0] + bytes(RECORD_BYTES), claim[0] + b"\xff" * RECORD_BYTES)
        if len(found) == 1:
            return found[0]
    return _unique(told, index.entry_ids, 32, "entry")


def find_conflict(index: Index, text: str) -> Conflict:
    """The disagreement, open or closed, whose id begins so. Raises Refused."""
    bounds = id_range(text, 32)
    every = index.conflicts()
    found = [one for one in every if bounds is not None and bounds[0] <= one.id <= bounds[1]]
    if len(found) != 1:
        what = f"{len(found)} conflicts begin with '{text}'." if found else _no_conflict(text)
        raise Refused(what, "List them with 'herdsync conflicts --all'.")
    return found[0]


def find_work(lines: Iterable[DueLine], text: str) -> DueLine:
    """The due work, of some, whose id begins so. Raises Refused."""
    told = text.strip().lower()
    found = {line.id: line for line in lines if line.id.startswith(told)}
    if len(told) < SHORTEST_PREFIX or not found:
        raise Refused(f"No due work goes by '{text}'.", "'herdsync due' tells its id in brackets.")
    if len(found) > 1:
        ids = ", ".join(sorted(found)[:3])
        raise Refused(
            f"{len(found)} pieces of work begin with '{text}': {ids}.", "Type more of it."
        )
    (line,) = found.values()
    return line


def _no_conflict(text: str) -> str:
    return f"There is no conflict '{text}' here; it may have been resolved or have grown."


def _by_name(records: Records, kind: str, told: str) -> list[Record]:
    kinds = [kind] if kind else [name for name, spec in CATALOGUE.items() if spec.names]
    found: dict[bytes, Record] = {}
    for key in keys_for(told):
        for record in records.naming(key):
            meant = told.casefold() in words_of(record) or folded(told) in marks_of(record)
            if record.kind in kinds and meant:
                found[record.id] = record
    return sorted(found.values(), key=lambda record: record.order)


def _by_id(index: Index, kind: str, told: str) -> bytes | None:
    bounds = id_range(told, 16)
    if bounds is None or len(told) < SHORTEST_PREFIX:
        return None
    # A look at an earlier state knows fewer records than the index of ids.
    here = [id for id in index.record_ids(*bounds) if index.records.get(id) is not None]
    found = {index.records.canonical(id) for id in here}
    if len(found) > 1:
        ids = ", ".join(sorted(text_id(id)[:8] for id in found))
        raise Refused(f"Several records begin with '{told}': {ids}.", "Type more of the id.")
    for id in found:
        record = index.records.get(id)
        if record is not None and kind and record.kind != kind:
            raise Refused(f"'{told}' is a {record.kind}, not a {kind}.", f"Name a {kind} instead.")
        return id
    return None


def _unique(text: str, between: Between, size: int, what: str) -> bytes:
    bounds = id_range(text, size)
    found = between(*bounds) if bounds is not None and len(text) >= SHORTEST_PREFIX else []
    if len(found) != 1:
        said = f"{len(found)} begin" if found else "None begins"
        raise Refused(f"{said} with '{text}'.", f"Give the id of one {what}, or more of it.")
    return found[0]


def _listed(records: Iterable[Record]) -> str:
    told = []
    for record in records:
        about = [str(record.value(field)) for field in ("sex", "born") if record.value(field)]
        name = next(
            (str(record.value(f)) for f in CATALOGUE[record.kind].names if record.value(f)), ""
        )
        told.append(f"{name or record.kind} ({', '.join([*about, text_id(record.id)[:8]])})")
    return "; ".join(told)


def _of(kind: str) -> str:
    return f" among the {CATALOGUE[kind].title}s" if kind in CATALOGUE else ""


def _hint(kind: str, told: str) -> str:
    if kind in ("pen", "product", "animal"):
        field = "substance" if kind == "product" else "name"
        return f"Write it down first ('herdsync record {kind} {field}={told} ...') or mend the spelling."
    return "See 'herdsync herd' and 'herdsync find'."
