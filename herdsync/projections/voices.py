"""Who said what, for answers: claims with their author, device and the clock they read.

Names of devices, what a writer had seen, and whether a signature holds are asked of whoever knows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from msgspec import Struct

from herdsync.answers import ClaimLine
from herdsync.kinds import CATALOGUE, Field
from herdsync.kinds.forms import On
from herdsync.kinds.ids import text_id
from herdsync.kinds.quantities import Quantity
from herdsync.merge.payloads import STANDS
from herdsync.merge.records import Claim
from herdsync.projections import moments
from herdsync.projections.look import Look

GOOD = "good"

_UNIT = re.compile(r"(?:_(?:mg|ml)_per_(?:ml|kg)|_[a-z]+)$")


def _short(device: bytes) -> str:
    return text_id(device)[:8]


def _nothing(entry: bytes) -> list[bytes]:
    del entry
    return []


def _good(entry: bytes) -> str:
    del entry
    return GOOD


def _sure(entry: bytes) -> bool:
    del entry
    return False


class Voices(Struct, frozen=True):
    """What answers ask about authors; entries by the first 16 bytes of their ids.

    ``device_name``: the name of a device key. ``saw``: the claims among a conflict's that a writer
    had seen. ``signature``: ``good`` or ``bad``. ``doubtful``: whether the writing clock is.
    """

    device_name: Callable[[bytes], str] = _short
    saw: Callable[[bytes], list[bytes]] = _nothing
    signature: Callable[[bytes], str] = _good
    doubtful: Callable[[bytes], bool] = _sure


def claim_line(
    claim: Claim, field: str, kind: str, look: Look, voices: Voices, *, stands: bool = True
) -> ClaimLine:
    """One claim on a field, or on a whole bond where ``field`` names a register of several."""
    value = claim_value(claim, field)
    return ClaimLine(
        id=text_id(claim.entry),
        value=answered(kind, field, value),
        keeper=claim.author.keeper,
        by=claim.author.by,
        device=voices.device_name(claim.author.device),
        recorded=moments.clock_text(claim.author.clock, look.zone),
        saw=[text_id(one) for one in voices.saw(claim.entry)],
        shown=shown(kind, field, value, look),
        stands=stands,
        vouched=claim.vouched,
    )


def claim_value(claim: Claim, field: str) -> Any:
    """What a claim says of a field; the whole bond where the field is none of its own."""
    return claim.values.get(field, claim.values)


def answered(kind: str, field: str, value: Any) -> Any:
    """A stored value for JSON: the field's own answer; bonds and set changes field by field."""
    if isinstance(value, dict):
        if set(value) == {"add", "drop"}:
            return _set_change(kind, field, value)
        return {name: answered(kind, name, one) for name, one in sorted(value.items())}
    spec = _field(kind, field)
    if spec is not None and _reads(spec, value):
        return spec.answer(value)
    return _plain(value)


def shown(kind: str, field: str, value: Any, look: Look) -> str:
    """A stored value in the keeper's words."""
    if isinstance(value, dict):
        if set(value) == {"add", "drop"}:
            added = [f"+{_one(kind, field, one, look)}" for one in value["add"]]
            return ", ".join(
                added + [f"-{_one(kind, field, one[0], look)}" for one in value["drop"]]
            )
        return fields_shown(kind, value, look)
    if field == STANDS:
        return "stands" if value else "taken back"
    spec = _field(kind, field)
    if spec is not None and _reads(spec, value):
        told = spec.show(value, look.names)
        return moments.words(told, look.zone) if isinstance(spec.form, On) else told
    return str(_plain(value))


def fields_shown(kind: str, values: Mapping[str, Any], look: Look) -> str:
    """Several fields in the keeper's words, in the order the kind declares them."""
    spec = CATALOGUE.get(kind)
    known = [name for name in spec.fields if name in values] if spec is not None else []
    names = known + sorted(set(values) - set(known))
    return ", ".join(
        f"{label(kind, name)} {shown(kind, name, values[name], look)}" for name in names
    )


def label(kind: str, field: str) -> str:
    """A field's name as words; the unit in the name of an amount is left to the value."""
    spec = _field(kind, field)
    amount = spec is not None and isinstance(spec.form, Quantity)
    return (_UNIT.sub("", field) if amount else field).replace("_", " ")


def _one(kind: str, field: str, member: Any, look: Look) -> str:
    spec = _field(kind, field)
    return spec.form.show(member, look.names) if spec is not None else str(_plain(member))


def _set_change(kind: str, field: str, value: dict[str, Any]) -> dict[str, Any]:
    spec = _field(kind, field)
    answer = spec.form.answer if spec is not None else _plain
    return {
        "add": [answer(one) for one in value["add"]],
        "drop": [answer(one[0]) for one in value["drop"]],
    }


def _field(kind: str, field: str) -> Field | None:
    spec = CATALOGUE.get(kind)
    return spec.fields.get(field) if spec is not None else None


def _reads(spec: Field, value: Any) -> bool:
    """Whether a value is one this program's field can answer for: a newer one may write others."""
    return value is not None and (not spec.many or isinstance(value, list))


def _plain(value: Any) -> Any:
    """A value of a field this program does not know, as JSON can hold it."""
    if isinstance(value, bytes):
        return text_id(value) if len(value) in (16, 32) else value.hex()
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {str(name): _plain(one) for name, one in sorted(value.items())}
    return value
