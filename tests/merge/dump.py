"""Everything a shelf answers, as bytes: two shelves are equal when nobody could tell them apart."""

from __future__ import annotations

import hashlib

import msgspec

from herdsync.merge.records import Record
from herdsync.merge.shelf import Shelf

_encode = msgspec.msgpack.Encoder(order="deterministic").encode


def dump(shelf: Shelf) -> dict[str, bytes]:
    """The answers of a shelf, part by part, so that a difference says where it is."""
    records = sorted(shelf.every_record(), key=lambda record: record.id)
    kinds = sorted({record.kind for record in records})
    ids = sorted({id for record in records for id in record.ids})
    unread = shelf.every_unread()
    return {
        "records": _encode([record.parts for record in records]),
        "canonical": _encode([(id, shelf.canonical(id)) for id in ids]),
        "got": _encode([(id, _id(shelf.get(id))) for id in ids]),
        "of_kind": _encode([(kind, _ids(shelf.of_kind(kind))) for kind in kinds]),
        "naming": _encode([(id, _ids(shelf.naming(id))) for id in ids]),
        "naming kind": _encode(
            [
                (id, kind, _ids(shelf.naming(id, kind)))
                for id in ids
                for kind in ("dose", "pen-move")
            ]
        ),
        "safety_only": _encode([(id, _ids(shelf.safety_only(id, "dose"))) for id in ids]),
        "unreadable": _encode(sorted(shelf.unreadable())),
        "conflicts": _encode(shelf.every_conflict()),
        "unread": _encode([(u.entry, u.why, u.critical, u.subjects) for u in unread]),
        "answers": _encode([_answers(record) for record in records]),
    }


def digest(shelf: Shelf) -> str:
    """The dump in one short word."""
    parts = dump(shelf)
    return hashlib.sha256(b"".join(parts[name] for name in sorted(parts))).hexdigest()


def _answers(record: Record) -> list[object]:
    fields = record.field_names()
    return [
        record.stands,
        record.vouched,
        record.counts_for_safety_alone,
        record.any_disputed,
        record.first,
        record.last,
        [(f, record.value(f), record.values(f), record.safety_values(f)) for f in fields],
        [record.disputed(f) for f in fields],
    ]


def _id(record: Record | None) -> bytes | None:
    return record.id if record is not None else None


def _ids(records: list[Record]) -> list[bytes]:
    return [record.id for record in records]
