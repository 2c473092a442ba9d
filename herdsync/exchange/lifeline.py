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

MAGIC = b"HSL"
# Its digit follows the magic.
VERSION = b"1"
READ_VERSIONS = (b"0", b"1")
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
    return MAGIC + VERSION + seal(told, founding_of(founding).recovery_seal, _info(VERSION))


def read(raw: bytes, recovery: SigningKey) -> Entry:
    """The founding entry in a lifeline these words open. Raises BadBytes."""
    begin = len(MAGIC) + len(VERSION)
    if not begin < len(raw) <= LIFELINE_BYTES or not raw.startswith(MAGIC):
        raise BadBytes("It is not a farm's lifeline.")
    if is_newer(raw):
        raise BadBytes(
            f"It is a lifeline of a later format; this program reads formats up to {VERSION.decode()}.",
            "Update this program on this laptop.",
        )
    info = _info(raw[len(MAGIC) : begin])
    told = typed(_decoder, unseal(raw[begin:], recovery.seal, info))
    founding = unpack(told.packed, Place(NO_ID, told.founder, 0, NO_ID))
    if founding_of(founding).recovery != recovery.public or not entry_verifies(founding):
        raise BadBytes("It holds the founding of a farm that these words do not rule.")
    return founding


def is_newer(raw: bytes) -> bool:
    """Whether bytes begin as a lifeline of a format that this program does not read yet."""
    version = raw[len(MAGIC) : len(MAGIC) + len(VERSION)]
    return raw.startswith(MAGIC) and version.isdigit() and version not in READ_VERSIONS


def _info(version: bytes) -> bytes:
    """What a lifeline is sealed under; version 0 was sealed under the tag alone."""
    return TAG_LIFELINE if version == b"0" else TAG_LIFELINE + version


def leave(carrier: Carrier, founding: Entry) -> None:
    """See that a carrier holds the farm's lifeline."""
    name = name_of(founding.id)
    if carrier.tail(name) is None:
        carrier.create(name, write(founding))


def find(carrier: Carrier, recovery: SigningKey, where: Path) -> Entry:
    """The founding entry of the farm these words rule. Raises Refused where no lifeline opens."""
    newer = ""
    for name in carrier.names().names:
        if not name.lower().endswith(SUFFIX):
            continue
        raw: bytes | None = None
        try:
            raw = carrier.read(name, LIFELINE_BYTES)
            if raw is not None:
                return read(raw, recovery)
        except BadBytes as fault:
            newer = str(fault) if is_newer(raw or b"") else newer
    raise Refused(
        f"Nothing in {where} can be opened with these words. {newer}".strip(),
        "Use a stick or folder this farm was exchanged over, or restore a backup first.",
    )
