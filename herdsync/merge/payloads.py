"""What an entry's payload says to the merge: a record begun, a change of one, a tie, an acceptance."""

from __future__ import annotations

import hashlib
import re
from typing import Annotated, Any, TypeVar

import msgspec
from msgspec import Meta, Struct

from herdsync.kinds.kind import Kind
from herdsync.log import canonical
from herdsync.log.entry import RECORD_BYTES, Entry, keyed_record_id
from herdsync.log.trust import AUTHORITY_VERBS

RECORD = "record"
AMEND = "amend"
RETRACT = "retract"
RESOLVE = "resolve"
SAME = "same"
DIFFERENT = "different"
VERBS = frozenset({RECORD, AMEND, RETRACT, RESOLVE, SAME, DIFFERENT})

# A line of a file that was imported: its key follows from the line, so that two laptops importing one
# file, or one laptop twice, write to one record.
TAG_LINE = b"herdsync/1/line\0"
_LINE_KEY = re.compile(r"line/[0-9a-f]{64}", re.ASCII)

STANDS = "stands"
VERDICT = "verdict"

T = TypeVar("T")
Id = Annotated[bytes, Meta(min_length=16, max_length=16)]
ConflictId = Annotated[bytes, Meta(min_length=32, max_length=32)]


class Begun(Struct, frozen=True):
    """The payload of `record`: the fields as told, and the key of a keyed record or imported line."""

    fields: dict[str, Any]
    key: str | None = None


class Told(Struct, frozen=True, array_like=True):
    """One register told anew: its values, and the claims its writer was shown and ends."""

    values: dict[str, Any]
    cites: list[Id]


class Change(Struct, frozen=True):
    """The payload of `amend`, `retract` and a `resolve` of claims.

    ``saw`` lists the claims standing anywhere in the record when its writer retracted or restored it.
    ``follows`` is the record because of which this one was told anew.
    """

    of: Id
    claims: dict[str, Told]
    saw: list[Id] = []
    because: str = ""
    undoes: Id | None = None
    conflict: ConflictId | None = None
    follows: Id | None = None


class Accept(Struct, frozen=True):
    """The payload of a `resolve` that lets a broken rule stand, with the reason."""

    conflict: ConflictId
    because: str


class Tie(Struct, frozen=True):
    """The payload of `same` and `different`: two records of one kind, and the verdicts it ends."""

    a: Id
    b: Id
    cites: list[Id]
    because: str = ""
    undoes: Id | None = None


def line_key(parts: list[str]) -> str:
    """The key of an imported line, from the words that make it what it is."""
    return f"line/{hashlib.sha256(TAG_LINE + canonical.encode(parts)).hexdigest()}"


def key_fits(kind: Kind, begun: Begun) -> bool:
    """Whether the key is the one a record of the kind may have: its own field's, or a line's."""
    if kind.keyed is not None:
        return begun.key == begun.fields.get(kind.keyed)
    return begun.key is None or _LINE_KEY.fullmatch(begun.key) is not None


class Unreadable(Exception):
    """An entry whose signature may hold but whose payload this program cannot read."""


def read_payload(entry: Entry, shape: type[T]) -> T:
    """The payload in its shape. Raises Unreadable."""
    try:
        # Bytes are bytes here: without naming them, base64 text would be taken for them.
        return msgspec.convert(entry.body.payload, shape, builtin_types=(bytes,))
    except (msgspec.MsgspecError, ValueError) as fault:
        raise Unreadable(f"its payload is not that of '{entry.header.verb}' ({fault})") from fault


def begun_in(entry: Entry) -> Begun:
    """The payload of `record`. Raises Unreadable."""
    payload = entry.body.payload
    # Nearly all say nothing but their fields, whose names the form of an entry makes text.
    if len(payload) == 1 and type(fields := payload.get("fields")) is dict:
        return Begun(fields)
    return read_payload(entry, Begun)


def target_of(entry: Entry) -> bytes | None:
    """The record (or tie) an entry speaks of; None for an acceptance. Raises Unreadable."""
    verb = entry.header.verb
    if verb == RECORD:
        return begun_id(entry, begun_in(entry))
    if verb in (SAME, DIFFERENT):
        tie = read_payload(entry, Tie)
        return tie_id(tie.a, tie.b)
    if verb == RESOLVE and "of" not in entry.body.payload:
        read_payload(entry, Accept)
        return None
    if verb in (AMEND, RETRACT, RESOLVE):
        return read_payload(entry, Change).of
    raise Unreadable(f"its verb '{verb}' is not known to this program")


def beginning_of(entry: Entry) -> tuple[bytes, Entry, Begun]:
    """What an entry of `record` begins, with the entry and its payload. Raises Unreadable."""
    told = begun_in(entry)
    return (entry.id[:RECORD_BYTES] if told.key is None else begun_id(entry, told), entry, told)


def begun_id(entry: Entry, begun: Begun) -> bytes:
    """The record that an entry begins, or begins once more where its key is known already."""
    if begun.key is not None:
        return keyed_record_id(entry.header.farm, entry.header.kind, begun.key)
    return entry.record_id


def tie_id(a: bytes, b: bytes) -> bytes:
    """The one id of a pair of records, whichever is named first."""
    return keyed_record_id(bytes(32), "tie", (min(a, b) + max(a, b)).hex())


def changed_by(entry: Entry) -> bytes | None:
    """The one record an entry changes, nothing for an acceptance; None where it may be others too."""
    verb = entry.header.verb
    if verb in AUTHORITY_VERBS or verb in (SAME, DIFFERENT):
        return None
    try:
        return target_of(entry) or b""
    except Unreadable:
        return None
