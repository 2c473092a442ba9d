"""A line of a file as a keeper would type it: kind, fields, and the key that makes it one record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from herdsync.faults import Refused
from herdsync.kinds.kind import Kind
from herdsync.papers.columns import Column
from herdsync.papers.notebook import typed
from herdsync.papers.rows import Row


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its number, what it says as a keeper would type it, or ``why`` it cannot be read.

    ``key``: the words that make it what it is; the same words are the same record on every laptop.
    ``record``: the id it was exported with, if any. ``about``: whom an animal's line names.
    """

    number: int
    kind: str = ""
    pairs: dict[str, str] = field(default_factory=dict)
    key: tuple[str, ...] = ()
    record: str = ""
    why: str = ""


def sheet_lines(
    rows: Iterable[Row], kind: Kind, columns: Sequence[Column], key_at: int | None, order: str
) -> Iterator[Line]:
    """The lines of a table whose columns are known; ``order``: of day and month, where told."""
    for row in rows:
        if row.why:
            yield Line(row.number, why=row.why)
            continue
        try:
            yield _line(row, kind, columns, key_at, order)
        except Refused as fault:
            yield Line(row.number, why=str(fault))


def _line(row: Row, kind: Kind, columns: Sequence[Column], key_at: int | None, order: str) -> Line:
    pairs: dict[str, str] = {}
    raw: dict[str, str] = {}
    for column in columns:
        if not column.field or column.place >= len(row.cells):
            continue
        cell = row.cells[column.place]
        field = kind.fields[column.field]
        try:
            told = typed(field, cell, unit=column.unit, order=order)
        except Refused as fault:
            raise Refused(f"{column.heading}: {fault.what}", fault.mend) from fault
        # Of two columns for one field (a name and an id, a figure and how it was written) the later.
        if told:
            pairs[column.field], raw[column.field] = told, cell.strip()
    record = row.cells[key_at] if key_at is not None and key_at < len(row.cells) else ""
    if len(row.cells) > len(columns) and any(cell.strip() for cell in row.cells[len(columns) :]):
        raise Refused("It has more cells than the headings.", "Look for a stray comma.")
    if not pairs:
        raise Refused("Nothing in it is a field.", "Leave the line out, or fill it in.")
    if kind.on is not None and kind.on not in pairs:
        raise Refused(
            "It says no date, and today's would be a guess.", "Fill the date in, a month will do."
        )
    key = tuple(f"{name}={raw[name]}" for name in sorted(raw))
    return Line(row.number, kind.name, pairs, (kind.name, *key), record.strip())
