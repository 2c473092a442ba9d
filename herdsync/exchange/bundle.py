"""One bundle: an immutable, sealed file of entries by one writer. Bytes in, values out.

    the lid (see `lid`), then one ChaCha20-Poly1305 message (RFC 8439) under a fresh random key, with all
    bytes before it as its associated data

The message is a row of records (length, 4 bytes big-endian, then the record): the writer's signed
frontier, the runs, the entries in causal order, and the writer's signature over the hash of everything
before, lid included.
Must not know files, folders or the log's store.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

import msgspec
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from msgspec import Meta, Struct

from herdsync.exchange.frontier import TIPS, Id, Tip
from herdsync.exchange.lid import (
    ALTERED,
    DIGEST_BYTES,
    MAGIC,
    PREFIX_BYTES,
    STANZA_BYTES,
    STANZAS,
    Lid,
    front_for,
    secret_of,
    split,
)
from herdsync.exchange.load import ENTRIES, RUNS, Load, RunHead
from herdsync.exchange.sealing import KEY_BYTES, farm_tag, writer_tag
from herdsync.exchange.shapes import typed
from herdsync.exchange.unload import unload
from herdsync.faults import BadBytes, Refused
from herdsync.log import canonical
from herdsync.log.entry import Entry
from herdsync.log.limits import CLOCK_MS
from herdsync.log.signing import SigningKey, verifies

TAG_FRONTIER = b"herdsync/1/frontier\0"
TAG_BUNDLE = b"herdsync/1/bundle\0"

BUNDLE_BYTES = 4 * 1024 * 1024
COUNTER = 99_999_999
# The key is random and used once, so the nonce need not change.
_NONCE = bytes(12)
_AEAD_BYTES = 16
_SIGNATURE_BYTES = 64
_STATEMENT_BYTES = 1_024
_TIP_BYTES = 96


class Statement(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """What the writer had when it wrote: its frontier, its clock (ms UTC, a claim), its bundle's number.

    ``program`` is the newest entry format the writer reads.
    """

    farm: Id
    device: Id
    counter: Annotated[int, Meta(ge=0, le=COUNTER)]
    program: Annotated[int, Meta(ge=0, le=65_535)]
    frontier: Annotated[list[Tip], Meta(max_length=TIPS)]
    clock: Annotated[int, Meta(ge=-CLOCK_MS, le=CLOCK_MS)]


class _Signed(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """A statement's bytes and the writer's signature over them."""

    statement: bytes
    signature: Annotated[bytes, Meta(min_length=_SIGNATURE_BYTES, max_length=_SIGNATURE_BYTES)]


_signed = msgspec.msgpack.Decoder(_Signed)
_statement = msgspec.msgpack.Decoder(Statement)
_runs = msgspec.msgpack.Decoder(Annotated[list[RunHead], Meta(max_length=RUNS)])


@dataclass(frozen=True, slots=True)
class Contents:
    """An authentic bundle, opened.

    ``ids`` has the last entry's id and the count per run; ``unread`` a sentence for each run that ended
    early because this program cannot read an entry of it. Entry signatures are not checked here.
    """

    statement: Statement
    recipients: list[bytes]
    entries: list[Entry]
    ids: list[tuple[bytes, int]]
    unread: list[str]


def room(readers: int, tips: int) -> int:
    """How many bytes of entries and runs fit into a bundle sealed to so many, with so long a frontier."""
    fixed = PREFIX_BYTES + DIGEST_BYTES + _AEAD_BYTES + _STATEMENT_BYTES + _SIGNATURE_BYTES
    return BUNDLE_BYTES - fixed - readers * STANZA_BYTES - tips * _TIP_BYTES


def write(
    load: Load,
    statement: Statement,
    recipients: list[bytes],
    key: SigningKey,
    entropy: Callable[[int], bytes],
) -> bytes:
    """The bytes of a bundle of ``load``, sealed to the sealing keys ``recipients``.

    ``entropy`` answers so many random bytes. Raises Refused for more readers than a bundle can have.
    """
    if len(recipients) > STANZAS:
        raise Refused(
            f"The farm has {len(recipients)} readers; a bundle can be sealed to {STANZAS}.",
            "Remove laptops that are no longer used.",
        )
    secret = entropy(KEY_BYTES)
    front = front_for(statement.farm, statement.device, recipients, secret)
    said = canonical.encode(statement)
    signed = _Signed(said, key.sign(TAG_FRONTIER + said))
    records = [canonical.encode(signed), canonical.encode(load.runs), *load.pieces]
    inside = b"".join(len(record).to_bytes(4, "big") + record for record in records)
    ending = key.sign(TAG_BUNDLE + hashlib.sha256(front + inside).digest())
    inside += len(ending).to_bytes(4, "big") + ending
    raw = front + ChaCha20Poly1305(secret).encrypt(_NONCE, inside, front)
    assert len(raw) <= BUNDLE_BYTES, "a load was cut to the room there is"
    return raw


def read(raw: bytes, farm: bytes, key: SigningKey) -> Contents:
    """The contents of a bundle of ``farm`` sealed to ``key``. Raises BadBytes and nothing else.

    Every size and count in the open is checked before anything is decrypted, every one inside before any
    signature is tried. That the writer belongs to the farm is for the caller to see.
    """
    if len(raw) > BUNDLE_BYTES:
        raise BadBytes(f"It is larger than {BUNDLE_BYTES // 2**20} MiB, the most a bundle can be.")
    if not raw.startswith(MAGIC):
        raise BadBytes("It is not a bundle, or its beginning is missing.")
    lid, front = split(raw)
    if lid.farm != farm_tag(farm):
        raise BadBytes("It belongs to another farm.")
    secret = secret_of(front, lid, farm, key)
    try:
        inside = ChaCha20Poly1305(secret).decrypt(_NONCE, raw[len(front) :], front)
    except (InvalidTag, ValueError) as fault:
        raise BadBytes(ALTERED) from fault
    records = _records(inside)
    statement = _stated(records, lid, farm)
    before = len(inside) - 4 - _SIGNATURE_BYTES
    whole = hashlib.sha256(front + inside[:before]).digest()
    if not verifies(statement.device, records[-1], TAG_BUNDLE + whole):
        raise BadBytes("Its writer did not sign it as it is here.")
    heads = typed(_runs, records[1])
    told = unload(heads, records[2:-1], farm)
    return Contents(statement, lid.recipients, told.entries, told.ids, told.unread)


def _records(inside: bytes) -> list[bytes]:
    """The records of an opened message; at least three, the last a signature."""
    records: list[bytes] = []
    at = 0
    while at < len(inside):
        length = int.from_bytes(inside[at : at + 4], "big")
        at += 4 + length
        if at > len(inside) or len(records) > ENTRIES + 2:
            raise BadBytes("Its records do not add up.")
        records.append(inside[at - length : at])
    if len(records) < 3 or len(records[-1]) != _SIGNATURE_BYTES:
        raise BadBytes("Its records do not add up.")
    return records


def _stated(records: list[bytes], lid: Lid, farm: bytes) -> Statement:
    signed = typed(_signed, records[0])
    statement = typed(_statement, signed.statement)
    if statement.farm != farm or lid.writer != writer_tag(farm, statement.device):
        raise BadBytes("Its lid and its contents name different writers or farms.")
    if statement.frontier != sorted(set(statement.frontier)):
        raise BadBytes("Its frontier is doubled or out of order.")
    if not verifies(statement.device, signed.signature, TAG_FRONTIER + signed.statement):
        raise BadBytes("Its writer did not sign its frontier.")
    return statement
