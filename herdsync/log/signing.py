"""Device keys and signatures: Ed25519 (RFC 8032) through one verify routine.

Keys that are non-canonical or of small order are refused where a device is admitted: under such a key
a signature nobody made can pass, and libraries differ about it. The library is loaded with the first
signature: who only looks at a farm makes and checks none.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING

from herdsync.faults import BadBytes
from herdsync.log.entry import Entry, signed_bytes

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

SEED_BYTES = 32

_P = 2**255 - 19
_D = -121665 * pow(121666, -1, _P) % _P


class SigningKey:
    """A device's secret: signs entries and opens what is sealed to the device."""

    def __init__(self, seed: bytes, seal_seed: bytes) -> None:
        if len(seed) != SEED_BYTES or len(seal_seed) != SEED_BYTES:
            raise ValueError(f"a seed has {SEED_BYTES} bytes")
        self._seed = seed
        self._seal_seed = seal_seed

    @functools.cached_property
    def _sign(self) -> Ed25519PrivateKey:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return Ed25519PrivateKey.from_private_bytes(self._seed)

    @functools.cached_property
    def seal(self) -> X25519PrivateKey:
        """The secret that opens what is sealed to the device."""
        from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

        return X25519PrivateKey.from_private_bytes(self._seal_seed)

    @functools.cached_property
    def public(self) -> bytes:
        """The device's 32-byte key: its name in every entry."""
        return self._sign.public_key().public_bytes_raw()

    @property
    def seal_public(self) -> bytes:
        """The 32-byte X25519 key that bundles are sealed to."""
        return self.seal.public_key().public_bytes_raw()

    def sign(self, message: bytes) -> bytes:
        """64 bytes over the message."""
        return self._sign.sign(message)


def verifies(public: bytes, signature: bytes, message: bytes) -> bool:
    """Whether the signature was made under the key over the message."""
    holds = _holding(public)
    return holds is not None and holds(signature, message)


# Of the few keys of a farm each signed thousands of entries.
@functools.lru_cache(maxsize=256)
def _holding(public: bytes) -> Callable[[bytes, bytes], bool] | None:
    """What tells whether a signature over a message was made under a key; None where it is no key."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = Ed25519PublicKey.from_public_bytes(public)
    except ValueError:
        return None

    def holds(signature: bytes, message: bytes) -> bool:
        try:
            key.verify(signature, message)
        except (InvalidSignature, ValueError):
            return False
        return True

    return holds


def entry_verifies(entry: Entry) -> bool:
    """Whether an entry's own device signed it."""
    return verifies(entry.header.device, entry.signature, signed_bytes(entry.id))


def public_pem(public: bytes) -> str:
    """The key in the PEM form that public tools read."""
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    key = Ed25519PublicKey.from_public_bytes(public)
    return key.public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    ).decode()


# Members are weighed anew whenever authority changes, over the same few keys.
@functools.lru_cache(maxsize=256)
def refuse_weak_key(public: bytes) -> None:
    """Pass a sound Ed25519 public key; raise BadBytes for one of small order or doubtful form."""
    if len(public) != 32:
        raise BadBytes("A device key is not 32 bytes long.")
    y = int.from_bytes(public, "little") & (2**255 - 1)
    if y >= _P:
        raise BadBytes("A device key is not in its canonical form.")
    x = _x_of(y)
    if x is None:
        raise BadBytes("A device key is not a point of the curve.")
    if x == 0 and public[31] & 0x80:
        raise BadBytes("A device key is not in its canonical form.")
    point = (x, y)
    for _ in range(3):
        point = _double(point)
    if point == (0, 1):
        raise BadBytes("A device key is of small order: anyone could sign for it.")


def _x_of(y: int) -> int | None:
    """A square root x of the curve equation at y (either sign), or None (RFC 8032, 5.1.3)."""
    u, v = (y * y - 1) % _P, (_D * y * y + 1) % _P
    x = u * pow(v, 3, _P) * pow(u * pow(v, 7, _P), (_P - 5) // 8, _P) % _P
    if (v * x * x - u) % _P == 0:
        return x
    if (v * x * x + u) % _P == 0:
        return x * pow(2, (_P - 1) // 4, _P) % _P
    return None


def _double(point: tuple[int, int]) -> tuple[int, int]:
    """Twice a point of the curve (RFC 8032, 5.1: the complete affine addition law)."""
    x, y = point
    xx, yy, xy = x * x % _P, y * y % _P, x * y % _P
    bend = _D * xx * yy % _P
    return (
        2 * xy * pow(1 + bend, -1, _P) % _P,
        (yy + xx) * pow(1 - bend, -1, _P) % _P,
    )
