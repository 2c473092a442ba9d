"""A kind of record: read off the Struct that declares it; its fields checked or read as a whole.

A family file declares each kind as a msgspec Struct whose annotations carry ``Says``; ``kind_of``
turns one into a ``Kind``. Must not know any particular kind.
"""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType, NoneType, UnionType
from typing import get_args, get_origin

import msgspec
from msgspec import Struct

from herdsync.faults import BadBytes, Refused
from herdsync.kinds.field import Field, Says
from herdsync.kinds.forms import Reading, Ref, Value
from herdsync.kinds.ids import RECORD_ID_BYTES
from herdsync.kinds.on import moment_text
from herdsync.kinds.texts import foreign, nearest

# So many values of one field are known to be sound before they are forgotten.
KNOWN_MOST = 4_096
KNOWN_LENGTH = 64
_ENCODED = frozenset({int, bool, list})

_encode = msgspec.msgpack.encode

__all__ = ["Field", "Kind", "PairRule", "Says", "check_fields", "kind_of", "parse_fields"]


class PairRule(Struct, frozen=True):
    """When two records of one kind may be one act written twice.

    They agree in every field of ``same_fields`` (set in both), or in all fields of one of
    ``any_of``; their times lie within ``within_hours`` of each other, or (``or_same_date``) on one
    local date; with neither, time does not matter. Unless ``even_if_seen``, only where neither
    writer had seen the other's record.
    """

    same_fields: tuple[str, ...] = ()
    within_hours: int | None = None
    or_same_date: bool = False
    even_if_seen: bool = False
    any_of: tuple[tuple[str, ...], ...] = ()


class Kind(Struct, frozen=True, dict=True):
    """One thing a keeper can write down.

    ``subject``: the field naming the animal (or whatever a keeper names) it is about. ``on``: the
    field of its time. ``keyed``:
    the field whose text is the key of the one record. ``critical``: an entry of it that cannot be
    read makes the all-clear of its subjects unknown. ``caution``: shown where the keeper acts.
    ``names``: fields that name the record, best first. ``marks``: fields it can be read off by.
    """

    name: str
    version: int
    title: str
    help: str
    fields: Mapping[str, Field]
    subject: str | None = None
    on: str | None = None
    pair: PairRule | None = None
    caution: str = ""
    keyed: str | None = None
    critical: bool = False
    names: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()

    @cached_property
    def registers(self) -> Mapping[str, tuple[str, ...]]:
        """Each register with its fields, in the order declared."""
        found: dict[str, tuple[str, ...]] = {}
        for name, field in self.fields.items():
            found[field.register] = (*found.get(field.register, ()), name)
        return MappingProxyType(found)

    @cached_property
    def ids(self) -> frozenset[str]:
        """The fields that hold the id of one other record."""
        fields = self.fields.items()
        return frozenset(name for name, one in fields if type(one.form) is Ref and not one.many)

    @cached_property
    def needed(self) -> frozenset[str]:
        """The fields that a record must have."""
        return frozenset(name for name, field in self.fields.items() if field.required)

    @cached_property
    def known(self) -> Mapping[str, set[object]]:
        """Per field values found sound before: few are told on a farm, each again and again."""
        return {name: set() for name in self.fields}

    @property
    def refs(self) -> tuple[str, ...]:
        """The fields that name another record."""
        return tuple(name for name, field in self.fields.items() if isinstance(field.form, Ref))


def kind_of(
    shape: type[Struct],
    name: str,
    title: str,
    *,
    version: int = 1,
    subject: str | None = None,
    pair: PairRule | None = None,
    caution: str = "",
    keyed: str | None = None,
    critical: bool = False,
    names: tuple[str, ...] = (),
    marks: tuple[str, ...] = (),
) -> Kind:
    """The kind a Struct declares: its docstring is the help, a field that cannot be None required.

    The Struct's module must not postpone its annotations: they are read here as they stand, since
    evaluating hundreds of them from text doubles the start of every command.
    """
    fields: dict[str, Field] = {}
    for declared in shape.__struct_fields__:
        says, required = _said(shape.__annotations__[declared])
        fields[declared] = Field(
            name=declared,
            form=says.form,
            help=says.help,
            required=required,
            register=says.bond or declared,
            many=says.many,
            strict=says.strict,
            default_now=says.default_now,
        )
    return Kind(
        name=name,
        version=version,
        title=title,
        help=inspect.getdoc(shape) or "",
        fields=MappingProxyType(fields),
        subject=subject,
        on=next((field.name for field in fields.values() if field.default_now), None),
        pair=pair,
        caution=caution,
        keyed=keyed,
        critical=critical,
        names=names,
        marks=marks,
    )


def check_fields(kind: Kind, fields: Mapping[str, object], *, partial: bool) -> None:
    """Raise BadBytes unless stored ``fields`` hold as a record of ``kind``.

    ``partial``: some fields of a record, as an amendment has them; otherwise the required ones
    must be there. Names the kind does not know are a newer program's and are left alone.
    """
    if type(fields) is not dict and not isinstance(fields, Mapping):
        raise foreign(fields, "the fields of a record")
    every, ids = kind.known, kind.ids
    for name, value in fields.items():
        known = every.get(name)
        if known is None:
            if type(name) is not str:
                raise foreign(name, "the name of a field")
        elif type(value) is bytes and len(value) == RECORD_ID_BYTES and name in ids:
            continue
        elif (plain := value if type(value) is str else _plain(value)) not in known:
            _check_field(kind, kind.fields[name], value)
            _remember(known, plain)
    if not partial and (missing := _missing(kind, fields)):
        raise BadBytes(f"A record of {kind.title} needs {missing}.")


def parse_fields(
    kind: Kind, pairs: Mapping[str, str], reading: Reading, *, partial: bool
) -> dict[str, Value]:
    """What the keeper typed, as stored values, in the kind's order of fields.

    ``partial``: an amendment; otherwise required fields must be there and a time left out is now.
    Raises Refused naming the field, what was wrong and how to write it.
    """
    for name in pairs:
        if name not in kind.fields:
            raise Refused(f"{kind.title} has no field {name[:60]!r}.", _field_hint(kind, name))
    values: dict[str, Value] = {}
    for name, field in kind.fields.items():
        if name in pairs:
            values[name] = _parse_field(field, pairs[name], reading)
        elif field.default_now and not partial:
            values[name] = moment_text(reading.now(), reading.zone())
    if not values:
        raise Refused("Nothing was written down.", f"Write at least one of: {_names(kind)}.")
    if not partial and (missing := _missing(kind, values)):
        field = kind.fields[missing]
        mend = f"{missing}: {field.help} Write {missing}=... with {field.form.takes}."
        raise Refused(f"A record of {kind.title} needs {missing}.", mend)
    return values


def _said(hint: object) -> tuple[Says, bool]:
    """What a declared field says of itself, and whether it must be there."""
    declared, *notes = get_args(hint)
    found = [note for note in notes if isinstance(note, Says)]
    assert len(found) == 1, f"each declared field says one thing of itself: {hint}"
    says = found[0]
    one_of = get_args(declared) if get_origin(declared) is UnionType else (declared,)
    types = {get_origin(one) or one for one in one_of}
    assert (list if says.many else says.form.stored) in types, f"declared type and form: {hint}"
    return says, NoneType not in one_of


def _plain(value: object) -> object:
    """What stands for a value among those found sound: no two share it. None: there is nothing."""
    # True, 1 and 1.0 are equal and yet not the same: their bytes differ.
    try:
        return _encode(value) if type(value) in _ENCODED else None
    except (msgspec.MsgspecError, ValueError, TypeError, OverflowError, RecursionError):
        return None


def _remember(known: set[object], plain: object) -> None:
    if len(known) >= KNOWN_MOST:
        known.clear()
    # A long word seldom comes again.
    if isinstance(plain, str | bytes) and len(plain) <= KNOWN_LENGTH:
        known.add(plain)


def _check_field(kind: Kind, field: Field, value: object) -> None:
    try:
        field.check(value)
    except BadBytes as fault:
        raise BadBytes(f"{kind.title}, {field.name}: {fault.what}", fault.mend) from fault


def _parse_field(field: Field, text: str, reading: Reading) -> Value:
    try:
        value = field.parse(text, reading)
    except Refused as fault:
        raise Refused(f"{field.name}: {fault.what}", fault.mend) from fault
    field.check(value)
    return value


def _missing(kind: Kind, fields: Mapping[str, object]) -> str:
    if fields.keys() >= kind.needed:
        return ""
    return next(name for name in kind.fields if name in kind.needed and name not in fields)


def _names(kind: Kind) -> str:
    return ", ".join(kind.fields)


def _field_hint(kind: Kind, name: str) -> str:
    like = nearest(name, tuple(kind.fields))
    return f"Did you mean {like}?" if like else f"Its fields are: {_names(kind)}."
