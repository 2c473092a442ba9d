"""Sealing to devices: HPKE (RFC 9180, base mode) and the short tags that name farm, writer and reader.

Suite: DHKEM(X25519, HKDF-SHA256), HKDF-SHA256, ChaCha20-Poly1305. Base mode does not say who sealed;
whatever is sealed carries its writer's signature inside.
"""

from __future__ import annotations

import base64
import hashlib

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hpke
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey

from herdsync.faults import BadBytes

TAG_FARM = b"herdsync/1/farm-tag\0"
TAG_WRITER = b"herdsync/1/writer-tag\0"
TAG_RECIPIENT = b"herdsync/1/recipient-tag\0"

FARM_TAG_BYTES = 16
WRITER_TAG_BYTES = 5
RECIPIENT_TAG_BYTES = 8
KEY_BYTES = 32
# The encapsulated key and the authentication tag come on top of what is sealed.
SEALING_BYTES = 32 + 16

_SUITE = hpke.Suite(hpke.KEM.X25519, hpke.KDF.HKDF_SHA256, hpke.AEAD.CHACHA20_POLY1305)
# Any private key shows a public key of small order: the exchange gives zero and is refused.
_PROBE = X25519PrivateKey.from_private_bytes(hashlib.sha256(b"herdsync/1/probe\0").digest())


def farm_tag(farm: bytes) -> bytes:
    """16 bytes by which a farm's own bundles are told from another's."""
    return hashlib.sha256(TAG_FARM + farm).digest()[:FARM_TAG_BYTES]


def writer_tag(farm: bytes, device: bytes) -> bytes:
    """5 bytes naming the device that wrote a bundle, within one farm."""
    return hashlib.sha256(TAG_WRITER + farm + device).digest()[:WRITER_TAG_BYTES]


def recipient_tag(farm: bytes, seal_public: bytes) -> bytes:
    """8 bytes naming a sealing key, within one farm."""
    return hashlib.sha256(TAG_RECIPIENT + farm + seal_public).digest()[:RECIPIENT_TAG_BYTES]


def tag_text(tag: bytes) -> str:
    """A 5-byte tag as 8 lower-case letters and digits, for file names."""
    assert len(tag) == WRITER_TAG_BYTES
    return base64.b32encode(tag).decode("ascii").lower()


def refuse_weak_seal_key(seal_public: bytes) -> None:
    """Pass a sound X25519 key; raise BadBytes for one that keeps no secret (RFC 7748, section 6.1)."""
    if len(seal_public) != KEY_BYTES:
        raise BadBytes("A sealing key is not 32 bytes long.")
    try:
        _PROBE.exchange(X25519PublicKey.from_public_bytes(seal_public))
    except ValueError as fault:
        raise BadBytes(
            "A sealing key is of small order: anyone could open what it seals."
        ) from fault


def sound_seal_keys(keys: list[bytes]) -> list[bytes]:
    """The keys that can keep a secret, doubles left out, in the order given."""
    sound: dict[bytes, None] = {}
    for key in keys:
        try:
            refuse_weak_seal_key(key)
        except BadBytes:
            continue
        sound[key] = None
    return list(sound)


def seal(secret: bytes, seal_public: bytes, info: bytes) -> bytes:
    """``secret`` sealed to a key, 48 bytes longer. The key must have passed ``refuse_weak_seal_key``."""
    return _SUITE.encrypt(secret, X25519PublicKey.from_public_bytes(seal_public), info=info)


def unseal(sealed: bytes, seal_private: X25519PrivateKey, info: bytes) -> bytes:
    """What was sealed to this key under the same ``info``. Raises BadBytes."""
    try:
        return _SUITE.decrypt(sealed, seal_private, info=info)
    except (InvalidTag, ValueError) as fault:
        raise BadBytes("What was sealed to this laptop does not open: it was altered.") from fault
