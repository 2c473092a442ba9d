"""Entries built by hand for the proofs of the log: real bytes, the signature as cheap as asked for."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from typing import Any

from herdsync.log.entry import NO_ID, Entry, Header, body_hash, build, encode_body
from herdsync.log.limits import FORMAT_VERSION
from herdsync.log.signing import SigningKey

FARM = hashlib.sha256(b"a farm").digest()


def key_of(name: str) -> SigningKey:
    """A key that follows from a name, so that runs repeat."""
    seed = hashlib.sha256(name.encode()).digest()
    return SigningKey(seed, hashlib.sha256(seed).digest())


def device_of(name: str) -> bytes:
    """32 bytes that stand for a device where no signature is asked."""
    return hashlib.sha256(b"device " + name.encode()).digest()


def unsigned(message: bytes) -> bytes:
    """64 bytes in a signature's place."""
    return hashlib.sha512(message).digest()


def written(
    device: bytes,
    previous: Entry | None = None,
    parents: Sequence[Entry] = (),
    *,
    verb: str = "record",
    kind: str = "note",
    payload: dict[str, Any] | None = None,
    salt: bytes = bytes(16),
    by: str = "",
    batch: bytes | None = None,
    farm: bytes = FARM,
    sign: Callable[[bytes], bytes] = unsigned,
    **changed: Any,
) -> Entry:
    """The entry that continues ``previous`` and cites ``parents``; ``changed`` overrides header fields."""
    body = encode_body(salt, by, batch, payload if payload is not None else {"fields": {}})
    before = [previous] if previous is not None else []
    fields: dict[str, Any] = {
        "version": FORMAT_VERSION,
        "farm": farm,
        "device": device,
        "sequence": previous.header.sequence + 1 if previous else 0,
        "previous": previous.id if previous else NO_ID,
        "parents": sorted({parent.id for parent in parents}),
        "height": 1 + max((one.header.height for one in (*before, *parents)), default=-1),
        "clock": 1_767_250_800_000,
        "verb": verb,
        "kind": kind,
        "kind_version": 1,
        "flags": 0,
        "subjects": [],
        "body_hash": body_hash(body),
        "body_length": len(body),
    }
    return build(Header(**(fields | changed)), body, sign)
