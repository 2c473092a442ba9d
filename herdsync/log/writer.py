"""Writing the next entry of a chain: its links, height and signature follow from what is here."""

from __future__ import annotations

from typing import Any

from msgspec import Struct, field

from herdsync.log.chain import Chain, Chains
from herdsync.log.entry import (
    BY_HAND,
    NO_ID,
    Entry,
    Header,
    body_hash,
    build,
    encode_body,
)
from herdsync.log.limits import FORMAT_VERSION
from herdsync.log.signing import SigningKey


class Act(Struct, frozen=True):
    """What is to be written: verb, kind, payload, the records it names."""

    verb: str
    kind: str
    payload: dict[str, Any]
    kind_version: int = 1
    flags: int = 0
    subjects: frozenset[bytes] = field(default_factory=frozenset)


class Pen(Struct, frozen=True):
    """Who writes: farm, device key, the person at the keyboard, and the device's clock (ms UTC)."""

    farm: bytes
    key: SigningKey
    by: str
    clock: int
    by_hand: bool = False


def next_entry(
    chains: Chains, chain: Chain | None, pen: Pen, act: Act, salt: bytes, batch: bytes | None
) -> Entry:
    """The signed entry that continues a device's chain (or begins it where ``chain`` is None)."""
    parents = chains.tips_unseen_by(chain.number if chain else None)
    heights = [chains.height_of(one) for one in parents]
    if chain is not None:
        heights.append(chain.tip_height)
    body = encode_body(salt, pen.by, batch, act.payload)
    header = Header(
        version=FORMAT_VERSION,
        farm=pen.farm,
        device=pen.key.public,
        sequence=chain.tip_sequence + 1 if chain else 0,
        previous=chain.tip if chain else NO_ID,
        parents=parents,
        height=1 + max(heights, default=-1),
        clock=pen.clock,
        verb=act.verb,
        kind=act.kind,
        kind_version=act.kind_version,
        flags=act.flags | (BY_HAND if pen.by_hand else 0),
        subjects=sorted(act.subjects),
        body_hash=body_hash(body),
        body_length=len(body),
    )
    return build(header, body, pen.key.sign)
