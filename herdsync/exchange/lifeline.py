"""The farm's lifeline on a carrier: its founding entry, sealed to the recovery words alone.

Whoever holds the words can begin again from a stick and nothing else: the founding entry tells which
farm it is, and every bundle is sealed to the words too.
"""

from __future__ import annotations

from pathlib import Path

import msgspec
from msgspec import Struct

from herdsync.exchange.carrier import Carrier
from herdsync.exchange.sealing import farm_tag, seal, tag_text, unseal
from herdsync.exchange.shapes import typed
from herdsync.faults import BadBytes, Refused
from herdsync.log import canonical
from herdsync.log.entry import NO_ID, Entry, Place, pack, unpack
from herdsync.log.signing import SigningKey, entry_verifies
from herdsync.log.trust import founding_of

MAGIC = b"HSL0"
SUFFIX = ".farm"
LIFELINE_BYTES = 16_384
TAG_LIFELINE = b"herdsync/1/lifeline\0"


class _Told(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    founder: bytes
    packed: bytes


_decoder = msgspec.msgpack.Decoder(_Told)


def name_of(farm: bytes) -> str:
    """The file's name on a carrier."""
    return tag_text(farm_tag(farm)[:5]) + SUFFIX


def write(founding: Entry) -> bytes:
    """The file's bytes: readable with the recovery words alone."""
    told = canonical.encode(_Told(founding.header.device, pack(founding)))
    return MAGIC + seal(told, founding_of(founding).recovery_seal, TAG_LIFELINE)


def read(raw: bytes, recovery: SigningKey) -> Entry:
    """The founding entry in a lifeline these words open. Raises BadBytes."""
    if len(raw) > LIFELINE_BYTES or not raw.startswith(MAGIC):
        raise BadBytes("It is not a farm's lifeline.")
    told = typed(_decoder, unseal(raw[len(MAGIC) :], recovery.seal, TAG_LIFELINE))
    founding = unpack(told.packed, Place(NO_ID, told.founder, 0, NO_ID))
    if founding_of(founding).recovery != recovery.public or not entry_verifies(founding):
        raise BadBytes("It holds the founding of a farm that these words do not rule.")
    return founding


def leave(carrier: Carrier, founding: Entry) -> None:
    """See that a carrier holds the farm's lifeline."""
    name = name_of(founding.id)
    if carrier.tail(name) is None:
        carrier.create(name, write(founding))


def find(carrier: Carrier, recovery: SigningKey, where: Path) -> Entry:
    """The founding entry of the farm these words rule. Raises Refused where no lifeline opens."""
    for name in carrier.names().names:
        if not name.lower().endswith(SUFFIX):
            continue
        try:
            raw = carrier.read(name, LIFELINE_BYTES)
            if raw is not None:
                return read(raw, recovery)
        except BadBytes:
            continue
    raise Refused(
        f"Nothing in {where} can be opened with these words.",
        "Use a stick or folder this farm was exchanged over, or restore a backup first.",
    )
