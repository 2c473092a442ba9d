"""A bundle's lid: all that anyone can read of it, and the bundle's key for each reader in turn.

    magic, version (1), length of the lid (4, big-endian), lid, first 16 bytes of the SHA-256 of all before

The digest tells damage from "not for this laptop"; it proves nothing against a forger. The writer signs
the lid inside the bundle.
Must not know what the bundle holds.
"""

from __future__ import annotations

import hashlib
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from herdsync.exchange.sealing import (
    FARM_TAG_BYTES,
    KEY_BYTES,
    RECIPIENT_TAG_BYTES,
    SEALING_BYTES,
    WRITER_TAG_BYTES,
    farm_tag,
    recipient_tag,
    seal,
    unseal,
    writer_tag,
)
from herdsync.exchange.shapes import typed
from herdsync.faults import BadBytes
from herdsync.log import canonical
from herdsync.log.signing import SigningKey

MAGIC = b"HERDSYNC-BUNDLE"
# What is written; a bundle of version 0 differs in nothing but the number.
VERSION = 1
READ_VERSIONS = frozenset((0, 1))
TAG_SEALED = b"herdsync/1/bundle-key\0"

STANZAS = 64
STANZA_BYTES = RECIPIENT_TAG_BYTES + KEY_BYTES + SEALING_BYTES + 8
LID_BYTES = 8_192
DIGEST_BYTES = 16
PREFIX_BYTES = len(MAGIC) + 1 + 4
# Enough of a file to read its lid.
HEAD_BYTES = PREFIX_BYTES + LID_BYTES + DIGEST_BYTES

ALTERED = "It does not authenticate: it is cut short, damaged or altered."

Sealed = Annotated[
    bytes, Meta(min_length=KEY_BYTES + SEALING_BYTES, max_length=KEY_BYTES + SEALING_BYTES)
]


class Stanza(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """The bundle's key, sealed to the reader a tag names."""

    recipient: Annotated[
        bytes, Meta(min_length=RECIPIENT_TAG_BYTES, max_length=RECIPIENT_TAG_BYTES)
    ]
    sealed: Sealed


class Lid(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """What anyone can read of a bundle: tags of its farm, writer and readers."""

    farm: Annotated[bytes, Meta(min_length=FARM_TAG_BYTES, max_length=FARM_TAG_BYTES)]
    writer: Annotated[bytes, Meta(min_length=WRITER_TAG_BYTES, max_length=WRITER_TAG_BYTES)]
    stanzas: Annotated[list[Stanza], Meta(min_length=1, max_length=STANZAS)]

    @property
    def recipients(self) -> list[bytes]:
        """The readers' tags, ascending."""
        return [stanza.recipient for stanza in self.stanzas]


_lid = msgspec.msgpack.Decoder(Lid)


def front_for(farm: bytes, device: bytes, recipients: list[bytes], secret: bytes) -> bytes:
    """All bytes before the sealed message: the bundle's key ``secret`` sealed to ``recipients``."""
    writer = writer_tag(farm, device)
    by_tag = {recipient_tag(farm, one): one for one in recipients}
    stanzas = [
        Stanza(tag, seal(secret, one, _info(VERSION, farm, writer, tag)))
        for tag, one in sorted(by_tag.items())
    ]
    lid = canonical.encode(Lid(farm_tag(farm), writer, stanzas))
    assert len(lid) <= LID_BYTES and len(stanzas) <= STANZAS, "the readers were counted before"
    front = MAGIC + bytes([VERSION]) + len(lid).to_bytes(4, "big") + lid
    return front + _digest(front)


def peek(head: bytes) -> Lid | None:
    """The lid of a file that begins with ``head`` (at least its first 8 KiB); None for no bundle at all.

    Raises BadBytes for a bundle whose lid is damaged or of another version.
    """
    if not head.startswith(MAGIC):
        return None
    return split(head)[0]


def split(raw: bytes) -> tuple[Lid, bytes]:
    """The lid of bytes that begin with the magic, and all bytes before the sealed message.

    Raises BadBytes.
    """
    if len(raw) < PREFIX_BYTES:
        raise BadBytes("It is cut short.")
    version = raw[len(MAGIC)]
    if version not in READ_VERSIONS:
        raise BadBytes(
            f"It is written in bundle format {version}; this program reads formats up to {VERSION}.",
            "Update this program on this laptop; the file is tried again at each exchange.",
        )
    length = int.from_bytes(raw[PREFIX_BYTES - 4 : PREFIX_BYTES], "big")
    end = PREFIX_BYTES + length
    if length > LID_BYTES:
        raise BadBytes(ALTERED)
    if len(raw) < end + DIGEST_BYTES:
        raise BadBytes("It is cut short.")
    front = raw[: end + DIGEST_BYTES]
    if front[end:] != _digest(front[:end]):
        raise BadBytes(ALTERED)
    lid = typed(_lid, front[PREFIX_BYTES:end])
    tags = lid.recipients
    if tags != sorted(set(tags)):
        raise BadBytes("Its readers are doubled or out of order.")
    return lid, front


def secret_of(front: bytes, lid: Lid, farm: bytes, key: SigningKey) -> bytes:
    """The bundle's key, for one of its readers; ``front`` as `split` answers it. Raises BadBytes."""
    own = recipient_tag(farm, key.seal_public)
    for stanza in lid.stanzas:
        if stanza.recipient == own:
            info = _info(front[len(MAGIC)], farm, lid.writer, own)
            return unseal(stanza.sealed, key.seal, info)
    raise BadBytes("It is not sealed to this laptop.")


def _digest(front: bytes) -> bytes:
    return hashlib.sha256(front).digest()[:DIGEST_BYTES]


def _info(version: int, farm: bytes, writer: bytes, recipient: bytes) -> bytes:
    return TAG_SEALED + canonical.encode([version, farm, writer, recipient])
