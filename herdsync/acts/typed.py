"""What a keeper typed, read against a view of the farm: whom a word means, what fields change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from herdsync.acts import finding
from herdsync.acts.composing import Changes
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE, Value, kind_named, parse_fields
from herdsync.kinds.kind import Kind
from herdsync.merge.records import Record, Records
from herdsync.store.view import View


class Index:
    """What finding a record by a keeper's word asks of a view."""

    def __init__(self, view: View) -> None:
        self.records: Records = view.shelf
        self.record_ids: finding.Between = view.shelf.record_ids
        self.entry_ids: finding.Between = view.log.ids_between
        self.conflicts = view.shelf.every_conflict


class Typed:
    """What reading a keeper's text may ask: the moment, the zone, and whom a word means."""

    def __init__(self, view: View, moment: datetime, zone: ZoneInfo) -> None:
        self._index = Index(view)
        self._moment = moment
        self._zone = zone

    def now(self) -> datetime:
        """See `kinds.Reading`."""
        return self._moment

    def zone(self) -> ZoneInfo:
        """See `kinds.Reading`."""
        return self._zone

    def find(self, kind: str, text: str) -> bytes:
        """See `kinds.Reading`."""
        return finding.find(self._index, kind, text)


def read_changes(record: Record, changes: Sequence[str], typed: Typed) -> Changes:
    """What ``field=text`` arguments change in a record. Raises Refused."""
    kind = kind_named(record.kind)
    told: dict[str, str] = {}
    added: dict[str, list[Value]] = {}
    taken_out: dict[str, list[Value]] = {}
    cleared = []
    for change in changes:
        name, equals, text = change.partition("=")
        sign = name[-1:] if name[-1:] in "+-" else ""
        name = name.rstrip("+-") if sign else name
        if not equals or not name:
            raise Refused(f"'{change}' is not of the form field=value.", "Write field=value.")
        if sign:
            field = kind.fields.get(name)
            if field is None or not field.many:
                raise Refused(f"'{name}' of a {kind.title} is not a set.", "Write field=value.")
            elements = parse_fields(kind, {name: text}, typed, partial=True)[name]
            assert isinstance(elements, list), "a set parses to a list"
            (added if sign == "+" else taken_out)[name] = elements
        elif text == "":
            cleared.append(_clearable(kind, name))
        else:
            told[name] = text
    values = parse_fields(kind, told, typed, partial=True) if told else {}
    return Changes(values, added, taken_out, cleared)


def read_values(record: Record, register: str, text: str, typed: Typed) -> Mapping[str, object]:
    """The values of a disputed register from ``text``: one value, or ``field=value`` for a bond's."""
    kind = CATALOGUE[record.kind]
    fields = kind.registers.get(register, (register,))
    if len(fields) == 1:
        return parse_fields(kind, {fields[0]: text}, typed, partial=True)
    pairs = {}
    for part in text.split(","):
        name, equals, value = part.strip().partition("=")
        if not equals or name not in fields:
            raise Refused(
                f"These belong together: {', '.join(fields)}.",
                "Give them as --value field=value,field=value, or --take an account.",
            )
        pairs[name] = value
    return parse_fields(kind, pairs, typed, partial=True)


def _clearable(kind: Kind, name: str) -> str:
    field = kind.fields.get(name)
    if field is None or field.required or name == kind.keyed:
        raise Refused(
            f"'{name}' of a {kind.title} cannot be cleared.", "Give it a value, or retract."
        )
    return name
