"""One entry of a device's log: header, body, signature, and their exact bytes.

The header's bytes are what is hashed and signed; they are kept as they came. What an entry's place in
its chain determines (farm, device, sequence, previous id, body hash) is left out when packed and put
back exactly before anything is checked.
"""

from __future__ import annotations

import hashlib
import itertools
import re
from collections.abc import Callable
from typing import Any

import msgspec
from msgspec import Struct

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
_FLAGS = CRITICAL | BY_HAND | AUTHORITY

NO_ID = bytes(32)
SALT_BYTES = 16
RECORD_BYTES = 16

_WORD = re.compile(r"[a-z0-9-]{3,64}\Z")
# No RecursionError: the depth is bounded, so it would speak of the caller's stack, not of the bytes.
_decode_error = (msgspec.MsgspecError, ValueError, OverflowError)


class Header(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, gc=False):
    """What is hashed and signed. ``clock`` (ms since 1970 UTC) is the device's claim, never an order."""

    version: int
    farm: bytes
    device: bytes
    sequence: int
    previous: bytes
    parents: list[bytes]
    height: int
    clock: int
    verb: str
    kind: str
    kind_version: int
    flags: int
    subjects: list[bytes]
    body_hash: bytes
    body_length: int


class Body(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, gc=False):
    """A salt, the person at the keyboard (a claim), the batch the act belongs to, the act itself."""

    salt: bytes
    by: str
    batch: bytes | None
    payload: dict[str, Any]


class Packed(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, gc=False):
    """An entry without what its place determines."""

    version: int
    parents: list[bytes]
    height: int
    clock: int
    verb: str
    kind: str
    kind_version: int
    flags: int
    subjects: list[bytes]
    signature: bytes
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
    check_header(header)
    if header.body_length != len(body_bytes) or header.body_hash != body_hash(body_bytes):
        raise BadBytes("An entry's body is not the one that was signed.")
    _check_body(body)
    return Entry(entry_id(header_bytes), header, body, header_bytes, body_bytes, signature)


def _plainly(header_bytes: bytes, body_bytes: bytes) -> tuple[Header, Body] | None:
    """Header and body of an entry that is plainly in its one form; None says nothing.

    What decodes to a header and encodes to the same bytes has no part that is not allowed but numbers
    too large, which `check_header` finds.
    """
    try:
        header, body = _header.decode(header_bytes), _body.decode(body_bytes)
        sound = (
            header.version in READ_VERSIONS
            and canonical.few(body_bytes)
            and "\0" not in body.by
            # The body itself is the first level.
            and canonical.allowed(body.payload, DEPTH - 1)
            and canonical.encode(header) == header_bytes
            and canonical.encode(body) == body_bytes
        )
    except canonical.UNSOUND:
        return None
    return (header, body) if sound else None


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
    _refuse_other_version(packed)
    try:
        p = _packed.decode(packed)
    except _decode_error as fault:
        raise BadBytes(f"A packed entry does not have the form of one ({fault}).") from fault
    if canonical.encode(p) != packed:
        raise BadBytes("A packed entry is not in its one canonical form.")
    header = Header(
        p.version,
        place.farm,
        place.device,
        place.sequence,
        place.previous,
        p.parents,
        p.height,
        p.clock,
        p.verb,
        p.kind,
        p.kind_version,
        p.flags,
        p.subjects,
        body_hash(p.body),
        len(p.body),
    )
    return read(canonical.encode(header), p.body, p.signature)


def trusted_unpack(packed: bytes, place: Place, id: bytes) -> Entry:
    """The entry this program stored itself, without checking its form again."""
    p = _packed.decode(packed)
    body = _body.decode(p.body)
    header = Header(
        p.version, place.farm, place.device, place.sequence, place.previous, p.parents, p.height,
        p.clock, p.verb, p.kind, p.kind_version, p.flags, p.subjects, b"", len(p.body),
    )  # fmt: skip
    return Entry(id, header, body, b"", p.body, p.signature)


def glance(packed: bytes) -> tuple[Packed, Body]:
    """What an entry that this program stored itself says of itself, wherever it stands."""
    p = _packed.decode(packed)
    return p, _body.decode(p.body)


def check_header(header: Header) -> None:
    """Ranges and forms of a header's parts. Raises BadBytes."""
    for name, part in (("farm", header.farm), ("device", header.device)):
        if len(part) != 32:
            raise BadBytes(f"An entry's {name} id is not 32 bytes long.")
    if len(header.previous) != 32 or len(header.body_hash) != 32:
        raise BadBytes("An entry's link is not 32 bytes long.")
    _check_numbers(header)
    if not _WORD.match(header.kind) or not _WORD.match(header.verb):
        raise BadBytes("An entry's verb or kind is not a plain word.")
    _check_ids(header.parents, 32, PARENTS, "parents")
    _check_ids(header.subjects, RECORD_BYTES, SUBJECTS, "subjects")
    first = header.sequence == 0
    if first != (header.previous == NO_ID):
        raise BadBytes("Only a device's first entry has nothing before it.")


def _check_numbers(header: Header) -> None:
    wrong = ""
    if not 0 <= header.sequence <= SEQUENCE:
        wrong = "sequence"
    elif not 0 <= header.height <= HEIGHT:
        wrong = "height"
    elif not -CLOCK_MS <= header.clock <= CLOCK_MS:
        wrong = "clock"
    elif not 1 <= header.kind_version <= 65_535:
        wrong = "kind version"
    elif header.flags & ~_FLAGS or header.flags < 0:
        wrong = "flags"
    elif not 0 < header.body_length <= BODY_BYTES:
        wrong = "body length"
    if wrong:
        raise BadBytes(f"An entry's {wrong} is out of range.")


def _check_ids(ids: list[bytes], size: int, most: int, name: str) -> None:
    if not ids:
        return
    if len(ids) > most or any(len(one) != size for one in ids):
        raise BadBytes(f"An entry's {name} are too many or of the wrong length.")
    if any(a >= b for a, b in itertools.pairwise(ids)):
        raise BadBytes(f"An entry's {name} are doubled or out of order.")


def _check_body(body: Body) -> None:
    if len(body.salt) != SALT_BYTES:
        raise BadBytes("An entry's salt is not 16 bytes long.")
    if body.batch is not None and len(body.batch) != RECORD_BYTES:
        raise BadBytes("An entry's batch is not 16 bytes long.")


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
