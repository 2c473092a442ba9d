"""Which column of a keeper's own table is which field: by its heading, or as the keeper says.

A heading may tell the unit of its numbers: ``weight (lb)``. Must not know what stands in a cell.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from herdsync.faults import Refused
from herdsync.kinds.field import Field
from herdsync.kinds.kind import Kind
from herdsync.kinds.quantities import Quantity
from herdsync.kinds.texts import nearest
from herdsync.kinds.units import unit_spelled

ID_HEADING = "record"
AS_WRITTEN = "as written"
_UNIT = re.compile(r"^(.*?)\s*[(\[]([^()\[\]]{1,12})[)\]]$")
_NO_WORDS = re.compile(r"[^a-z0-9]+")

# How keepers head the columns of their notebooks: common practice, no published source.
_WORDS: Mapping[str, str] = {
    "goat": "animal", "goat name": "animal", "goat id": "animal", "id": "animal", "ear tag": "tag",
    "doe name": "doe", "mother": "dam", "father": "sire", "dob": "born", "birth date": "born",
    "date of birth": "born", "birthdate": "born", "birthday": "born", "gender": "sex",
    "color": "colour", "right ear": "tattoo_right", "left ear": "tattoo_left",
    "right tattoo": "tattoo_right", "left tattoo": "tattoo_left", "registration": "registry_no",
    "reg no": "registry_no", "registered name": "registry_name", "microchip": "chip",
    "eid": "chip", "date": "on", "day": "on", "when": "on", "date given": "on", "weight": "weight_kg",
    "wt": "weight_kg", "method": "how", "medicine": "product", "drug": "product", "med": "product",
    "dose": "amount_ml", "amount": "amount_ml", "volume": "amount_ml", "reason": "because",
    "lot number": "lot", "batch": "lot", "notes": "note", "remarks": "note", "comment": "note",
    "comments": "note", "milk": "milk_kg", "yield": "milk_kg", "kids alive": "born_alive",
    "live kids": "born_alive", "alive": "born_alive", "kids dead": "born_dead", "dead": "born_dead",
    "stillborn": "born_dead", "notebook": "note", "horned": "horns_born", "horns": "horns_born",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its place and heading, the field it fills ("" for none), the unit of bare numbers."""

    place: int
    heading: str
    field: str
    unit: str = ""


def matched(
    kind: Kind, headings: Sequence[str], told: Mapping[str, str], units: Mapping[str, str]
) -> list[Column]:
    """Every column with the field it fills. ``told``: fields by heading; ``units``: by field.

    Raises Refused where what was told fits no heading, field or unit, or where nothing is matched.
    """
    _check_told(kind, headings, told, units)
    said = {_plain(heading): field for heading, field in told.items()}
    columns = []
    for place, heading in enumerate(headings):
        bare, unit = _unit_of(heading)
        name = said.get(_plain(heading), said.get(_plain(bare)))
        if name is None:
            name = _field_of(kind, bare)
        field = kind.fields.get(name)
        columns.append(Column(place, heading, name, _fitting(field, units.get(name, unit))))
    if not any(column.field for column in columns):
        raise Refused(
            f"No column of the file is a field of a {kind.title}.",
            f"Say which is which with --match HEADING=FIELD; fields: {', '.join(kind.fields)}.",
        )
    return columns


def key_column(headings: Sequence[str]) -> int | None:
    """The place of the column that holds ids of records, as this program exports them."""
    plain = [heading.strip().lower() for heading in headings]
    return plain.index(ID_HEADING) if ID_HEADING in plain else None


def _check_told(
    kind: Kind, headings: Sequence[str], told: Mapping[str, str], units: Mapping[str, str]
) -> None:
    there = {_plain(heading) for heading in headings}
    there |= {_plain(_unit_of(heading)[0]) for heading in headings}
    for heading, field in told.items():
        if _plain(heading) not in there:
            raise Refused(f"The file has no column {heading[:60]!r}.", f"It has {_list(headings)}.")
        if field and field not in kind.fields:
            like = nearest(field, tuple(kind.fields))
            hint = f"Did you mean {like}?" if like else f"Its fields: {', '.join(kind.fields)}."
            raise Refused(f"A {kind.title} has no field {field[:60]!r}.", hint)
    for field, unit in units.items():
        if not _fitting(kind.fields.get(field), unit):
            raise Refused(
                f"{field[:60]!r} is not measured in {unit[:20]!r}.", "Name field and unit."
            )


def _field_of(kind: Kind, heading: str) -> str:
    """The field a heading means by its own name, by a keeper's word for it, or by being near it."""
    plain = _plain(heading)
    own = plain.removesuffix(f" {_plain(AS_WRITTEN)}").removesuffix(" id")
    for word in (plain, own):
        name = word.replace(" ", "_")
        if name in kind.fields:
            return name
    for name in kind.fields:
        if name.rsplit("_", 1)[0] == own.replace(" ", "_") and _is_amount(kind.fields[name]):
            return name
    meant = _WORDS.get(plain, "")
    if meant == "animal" and meant not in kind.fields:
        meant = kind.subject or ("name" if plain.startswith("goat") else "")
    if meant in kind.fields:
        return meant
    like = nearest(own.replace(" ", "_"), tuple(kind.fields))
    return like if len(own) > 3 and _close(own.replace(" ", "_"), like) else ""


def _close(word: str, field: str) -> bool:
    """Whether a heading is a field's name but for a slip of one or two letters."""
    return bool(field) and abs(len(word) - len(field)) <= 1 and word[:2] == field[:2]


def _is_amount(field: Field) -> bool:
    return isinstance(field.form, Quantity)


def _unit_of(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit as this program names it."""
    found = _UNIT.match(heading.strip())
    if found and (unit := unit_spelled(found[2])):
        return found[1], unit.name
    words = heading.strip().split()
    if len(words) > 1 and (unit := unit_spelled(words[-1])):
        return " ".join(words[:-1]), unit.name
    return heading, ""


def _fitting(field: Field | None, unit: str) -> str:
    """The unit as this program names it, where the field can be measured in it; else empty."""
    known = unit_spelled(unit) if unit else None
    if known is None or field is None or not isinstance(field.form, Quantity):
        return ""
    return known.name if known.dimension == field.form.dimension else ""


def _plain(heading: str) -> str:
    return " ".join(_NO_WORDS.sub(" ", heading.lower()).split())


def _list(headings: Sequence[str]) -> str:
    return ", ".join(repr(heading[:40]) for heading in headings[:20])
