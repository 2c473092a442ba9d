"""One entry of a device's log: header, body, signature, and their exact bytes.

The header's bytes are what is hashed and signed; they are kept as they came. What an entry's place in
its chain determines (farm, device, sequence, previous id, body hash) is left out when packed and put
back exactly before anything is checked.
"""

from __future__ import annotations

import functools
import hashlib
import itertools
import re
from collections.abc import Callable
from typing import Annotated, Any

import msgspec
from msgspec import Meta, Struct

from herdsync.faults import BadBytes
from herdsync.log import canonical
from herdsync.log.limits import (
    BODY_BYTES,
    CLOCK_MS,
    DEPTH,
    FORMAT_VERSION,
    HEADER_BYTES,
    HEIGHT,
    PARENTS,
    READ_VERSIONS,
    SEQUENCE,
    SUBJECTS,
)

TAG_ENTRY = b"herdsync/1/entry\0"
TAG_SIGN = b"herdsync/1/sign\0"
TAG_BODY = b"herdsync/1/body\0"
TAG_KEYED = b"herdsync/1/keyed\0"

CRITICAL = 1
BY_HAND = 2
AUTHORITY = 4

NO_ID = bytes(32)
SALT_BYTES = 16
RECORD_BYTES = 16

_WORD = re.compile(r"[a-z0-9-]{3,64}\Z")
# No RecursionError: the depth is bounded, so it would speak of the caller's stack, not of the bytes.
_decode_error = (msgspec.MsgspecError, ValueError, OverflowError)

# Lengths and ranges stand with the parts they bound: the decoder holds them.
Id = Annotated[bytes, Meta(min_length=32, max_length=32)]
RecordId = Annotated[bytes, Meta(min_length=RECORD_BYTES, max_length=RECORD_BYTES)]
Parents = Annotated[list[Id], Meta(max_length=PARENTS)]
Subjects = Annotated[list[RecordId], Meta(max_length=SUBJECTS)]
Height = Annotated[int, Meta(ge=0, le=HEIGHT)]
Clock = Annotated[int, Meta(ge=-CLOCK_MS, le=CLOCK_MS)]
KindVersion = Annotated[int, Meta(ge=1, le=65_535)]
Flags = Annotated[int, Meta(ge=0, le=CRITICAL | BY_HAND | AUTHORITY)]


class Header(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, gc=False):
    """What is hashed and signed. ``clock`` (ms since 1970 UTC) is the device's claim, never an order."""

    version: int
    farm: Id
    device: Id
    sequence: Annotated[int, Meta(ge=0, le=SEQUENCE)]
    previous: Id
    parents: Parents
    height: Height
    clock: Clock
    verb: str
    kind: str
    kind_version: KindVersion
    flags: Flags
    subjects: Subjects
    body_hash: Id
    body_length: Annotated[int, Meta(gt=0, le=BODY_BYTES)]


class Body(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, gc=False):
    """A salt, the person at the keyboard (a claim), the batch the act belongs to, the act itself."""

    salt: Annotated[bytes, Meta(min_length=SALT_BYTES, max_length=SALT_BYTES)]
    by: str
    batch: RecordId | None
    payload: dict[str, Any]


class Packed(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, gc=False):
    """An entry without what its place determines."""

    version: int
    parents: Parents
    height: Height
    clock: Clock
    verb: str
    kind: str
    kind_version: KindVersion
    flags: Flags
    subjects: Subjects
    signature: Annotated[bytes, Meta(min_length=64, max_length=64)]
    body: bytes


_header = msgspec.msgpack.Decoder(Header)
_body = msgspec.msgpack.Decoder(Body)
_packed = msgspec.msgpack.Decoder(Packed)


class Place(Struct, frozen=True, gc=False):
    """Where an entry stands: its farm, its device's key, its sequence and the entry before it."""

    farm: bytes
    device: bytes
    sequence: int
    previous: bytes


class Entry(Struct, frozen=True, gc=False):
    """A structurally sound entry. Whether its signature holds is another question (`signing`)."""

    id: bytes
    header: Header
    body: Body
    header_bytes: bytes
    body_bytes: bytes
    signature: bytes

    @property
    def record_id(self) -> bytes:
        """The id of the record this entry would begin: the first 16 bytes of its own id."""
        return self.id[:RECORD_BYTES]

    @property
    def order(self) -> tuple[int, bytes, bytes]:
        """Display order: a linear extension of causality, equal on all replicas."""
        return (self.header.height, self.header.device, self.id)

    @property
    def place(self) -> Place:
        """Where it stands in its chain."""
        h = self.header
        return Place(h.farm, h.device, h.sequence, h.previous)


def entry_id(header_bytes: bytes) -> bytes:
    """SHA-256 (FIPS 180-4) over the domain tag and the header's bytes."""
    return hashlib.sha256(TAG_ENTRY + header_bytes).digest()


def body_hash(body_bytes: bytes) -> bytes:
    """SHA-256 over the domain tag and the body's bytes."""
    return hashlib.sha256(TAG_BODY + body_bytes).digest()


def signed_bytes(entry_id: bytes) -> bytes:
    """What the device's key signs."""
    return TAG_SIGN + entry_id


def keyed_record_id(farm: bytes, kind: str, key: str) -> bytes:
    """The record id that every entry with this key shares, on every laptop."""
    parts = canonical.encode([farm, kind, key])
    return hashlib.sha256(TAG_KEYED + parts).digest()[:RECORD_BYTES]


def read(header_bytes: bytes, body_bytes: bytes, signature: bytes) -> Entry:
    """The entry that these bytes are. Raises BadBytes naming the first thing that is wrong."""
    if len(header_bytes) > HEADER_BYTES or len(body_bytes) > BODY_BYTES:
        raise BadBytes("An entry is larger than any this program writes.")
    if len(signature) != 64:
        raise BadBytes("A signature is not 64 bytes long.")
    header, body = _plainly(header_bytes, body_bytes) or _walked(header_bytes, body_bytes)
    if header.body_length != len(body_bytes) or header.body_hash != body_hash(body_bytes):
        raise BadBytes("An entry's body is not the one that was signed.")
    return Entry(entry_id(header_bytes), header, body, header_bytes, body_bytes, signature)


def _plainly(header_bytes: bytes, body_bytes: bytes) -> tuple[Header, Body] | None:
    """Header and body of an entry that is plainly in its one form; None says nothing.

    What decodes to a header and encodes to the same bytes has no part that is not allowed.
    """
    try:
        header = _header.decode(header_bytes)
        sound = (
            header.version in READ_VERSIONS
            and not _amiss(header)
            and not _misplaced(header.sequence, header.previous)
            and canonical.encode(header) == header_bytes
        )
        body = _plain_body(body_bytes) if sound else None
    except canonical.UNSOUND:
        return None
    return (header, body) if body is not None else None


def _plain_body(raw: bytes) -> Body | None:
    """A body that is plainly in its one form; None says nothing. Raises one of UNSOUND as it may."""
    body = _body.decode(raw)
    sound = (
        canonical.few(raw)
        and "\0" not in body.by
        # The body itself is the first level.
        and canonical.allowed(body.payload, DEPTH - 1)
        and canonical.encode(body) == raw
    )
    return body if sound else None


def _walked(header_bytes: bytes, body_bytes: bytes) -> tuple[Header, Body]:
    """Header and body, every byte walked over for what is wrong with it. Raises BadBytes."""
    canonical.scan(header_bytes)
    canonical.scan(body_bytes)
    _refuse_other_version(header_bytes)
    try:
        header = _header.decode(header_bytes)
        body = _body.decode(body_bytes)
    except _decode_error as fault:
        raise BadBytes(f"An entry does not have the form of one ({fault}).") from fault
    if canonical.encode(header) != header_bytes:
        raise BadBytes("A header is not in its one canonical form.")
    if amiss := _amiss(header) or _misplaced(header.sequence, header.previous):
        raise BadBytes(amiss)
    return header, body


def build(header: Header, body_bytes: bytes, sign: Callable[[bytes], bytes]) -> Entry:
    """A new entry: ``sign`` is called with the bytes to sign and answers 64 bytes."""
    header_bytes = canonical.encode(header)
    signature = sign(signed_bytes(entry_id(header_bytes)))
    return read(header_bytes, body_bytes, signature)


def encode_body(salt: bytes, by: str, batch: bytes | None, payload: dict[str, Any]) -> bytes:
    """The bytes of a body."""
    return canonical.encode(Body(salt, by, batch, payload))


def pack(entry: Entry) -> bytes:
    """The entry's bytes without what its place determines."""
    h = entry.header
    return canonical.encode(
        Packed(
            h.version,
            h.parents,
            h.height,
            h.clock,
            h.verb,
            h.kind,
            h.kind_version,
            h.flags,
            h.subjects,
            entry.signature,
            entry.body_bytes,
        )
    )


def unpack(packed: bytes, place: Place) -> Entry:
    """The entry packed bytes stand for at a place. Raises BadBytes."""
    if len(packed) > HEADER_BYTES + BODY_BYTES:
        raise BadBytes("An entry is larger than any this program writes.")
    try:
        p = _packed.decode(packed)
    except _decode_error as fault:
        _refuse_other_version(packed)
        raise BadBytes(f"A packed entry does not have the form of one ({fault}).") from fault
    _refuse_other_version(packed)
    if canonical.encode(p) != packed:
        raise BadBytes("A packed entry is not in its one canonical form.")
    header = Header(
        p.version, place.farm, place.device, place.sequence, place.previous, p.parents, p.height,
        p.clock, p.verb, p.kind, p.kind_version, p.flags, p.subjects, body_hash(p.body),
        len(p.body),
    )  # fmt: skip
    header_bytes = canonical.encode(header)
    try:
        # What was just encoded of parts in range need not be decoded to know its form.
        whole = len(header_bytes) <= HEADER_BYTES and _sound_place(place) and not _amiss(p)
        body = _plain_body(p.body) if whole else None
    except canonical.UNSOUND:
        body = None
    if body is None:
        return read(header_bytes, p.body, p.signature)
    return Entry(entry_id(header_bytes), header, body, header_bytes, p.body, p.signature)


def trusted_unpack(packed: bytes, farm: bytes, device: bytes, sequence: int, id: bytes) -> Entry:
    """The entry this program stored itself, without links and without checking its form again."""
    p = _packed.decode(packed)
    header = Header(
        p.version, farm, device, sequence, NO_ID, p.parents, p.height, p.clock, p.verb, p.kind,
        p.kind_version, p.flags, p.subjects, b"", len(p.body),
    )  # fmt: skip
    return Entry(id, header, _body.decode(p.body), b"", p.body, p.signature)


def glance(packed: bytes) -> tuple[Packed, Body]:
    """What an entry that this program stored itself says of itself, wherever it stands."""
    p = _packed.decode(packed)
    return p, _body.decode(p.body)


def _amiss(parts: Header | Packed) -> str:
    """What is wrong with parts that are each in range, as a sentence; empty where nothing is."""
    if not _are_words(parts.kind, parts.verb):
        return "An entry's verb or kind is not a plain word."
    if not (_rising(parts.parents) and _rising(parts.subjects)):
        return "An entry's parents or subjects are doubled or out of order."
    return ""


# A farm's entries are of few kinds and verbs.
@functools.lru_cache(maxsize=1_024)
def _are_words(kind: str, verb: str) -> bool:
    return _WORD.match(kind) is not None and _WORD.match(verb) is not None


def _rising(ids: list[bytes]) -> bool:
    return len(ids) < 2 or all(a < b for a, b in itertools.pairwise(ids))


def _misplaced(sequence: int, previous: bytes) -> str:
    return (
        "Only a device's first entry has nothing before it."
        if (sequence == 0) != (previous == NO_ID)
        else ""
    )


def _sound_place(place: Place) -> bool:
    ids = len(place.farm) == len(place.device) == len(place.previous) == len(NO_ID)
    within = ids and 0 <= place.sequence <= SEQUENCE
    return within and not _misplaced(place.sequence, place.previous)


def _refuse_other_version(raw: bytes) -> None:
    # The first part of every header, packed or not, in every version, is its version as a small number.
    if len(raw) < 2 or raw[0] & 0xF0 != 0x90 or raw[1] > 0x7F:
        raise BadBytes("An entry has no readable version.")
    version = raw[1]
    if version not in READ_VERSIONS:
        raise BadBytes(
            f"An entry is written in format {version}; this program reads formats up to {FORMAT_VERSION}.",
            "Update this program on this laptop; the entry stays where it is until then.",
        )
