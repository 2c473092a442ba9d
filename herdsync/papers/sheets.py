"""Tables for a spreadsheet: every kind of record and every view, with the units in the headings.

A reference is a name and an id, an amount a figure in the heading's unit and how the keeper wrote it:
read back, the exact one of the two counts. Must not know where a table goes.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import msgspec
from msgspec import Struct

from herdsync.kinds.field import Field
from herdsync.kinds.forms import Ref
from herdsync.kinds.ids import text_id
from herdsync.kinds.kind import Kind
from herdsync.kinds.quantities import Quantity
from herdsync.merge.payloads import STANDS
from herdsync.merge.records import Record
from herdsync.papers.cells import Cell
from herdsync.papers.columns import AS_WRITTEN, ID_HEADING
from herdsync.projections.look import Look
from herdsync.projections.moments import clock_text

Row = list[Cell]
_UNITS = {
    "kg": "kg", "g": "g", "ml": "mL", "percent": "%", "days": "d", "d": "d", "h": "h", "s": "s",
    "ms": "ms", "cm": "cm", "mm": "mm", "c": "C",
}  # fmt: skip
_TOLD = ("disputed", "written by", "laptop", "written at", "newest entry")


def kind_headings(kind: Kind) -> list[str]:
    """The headings of a kind's table."""
    found = [ID_HEADING]
    for name, field in kind.fields.items():
        found += _headings(name, field)
    return [*found, *_TOLD]


def kind_rows(
    kind: Kind, records: Iterable[Record], look: Look, device_name: Callable[[bytes], str]
) -> Iterator[Row]:
    """One row a record: the values that count, which are disputed, who wrote it last and where."""
    for record in records:
        row: Row = [text_id(record.id)]
        for name, field in kind.fields.items():
            row += _cells(field, record.value(name), look)
        disputed = [name for name in kind.fields if record.disputed(name)]
        last = record.last
        recorded = clock_text(last.author.clock, look.zone)
        device = device_name(last.author.device)
        yield [*row, " ".join(disputed), last.author.by, device, recorded, text_id(last.entry)]


def view_headings(shape: type[Struct]) -> list[str]:
    """The headings of a table of answers, with the unit a name ends in."""
    return [_with_unit(name) for name in shape.__struct_fields__]


def view_rows(lines: Iterable[Struct]) -> Iterator[Row]:
    """One row an answer; lists are joined, what holds parts is written as JSON."""
    for line in lines:
        yield [_cell(value) for value in msgspec.structs.astuple(line)]


def record_line(record: Record, answer: Callable[[str, str, Any], Any]) -> dict[str, Any]:
    """A record as an object for JSON: what counts of each field, and whether it is disputed."""
    fields = {
        name: {"value": answer(record.kind, name, value), "disputed": record.disputed(name)}
        for name in record.field_names()
        if (value := record.value(name)) is not None
    }
    return {
        "record": text_id(record.id),
        "ids": [text_id(one) for one in record.ids],
        "kind": record.kind,
        "stands": record.stands,
        "vouched": record.vouched,
        "disputed": [
            name for name, register in sorted(record.registers.items())
            if register.disputed and name != STANDS
        ],
        "fields": fields,
    }  # fmt: skip


def _headings(name: str, field: Field) -> list[str]:
    if isinstance(field.form, Ref) and not field.many:
        return [name, f"{name} id"]
    if isinstance(field.form, Quantity) and not field.many:
        return [f"{name} ({field.form.unit})", f"{name} {AS_WRITTEN}"]
    return [name]


def _cells(field: Field, value: Any, look: Look) -> Row:
    pair = isinstance(field.form, Ref | Quantity) and not field.many
    if value is None:
        return [None, None] if pair else [None]
    if isinstance(field.form, Ref) and not field.many and isinstance(value, bytes):
        return [look.names(value), text_id(look.records.canonical(value))]
    shown = field.show(value, look.names)
    if pair:
        figure = field.answer(value)
        return [figure if isinstance(figure, int | float) else None, shown]
    plain = isinstance(value, bool | int)
    return [value if plain else shown]


def _with_unit(name: str) -> str:
    unit = _UNITS.get(name.rsplit("_", 1)[-1]) if "_" in name else None
    return f"{name} ({unit})" if unit else name


def _cell(value: Any) -> Cell:
    if value is None or isinstance(value, str | int | float | bool):
        return value
    if isinstance(value, Sequence) and all(isinstance(one, str | int | float) for one in value):
        return "; ".join(str(one) for one in value)
    return json.dumps(msgspec.to_builtins(value), sort_keys=True, ensure_ascii=False)
