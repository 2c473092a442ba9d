"""HPKE (RFC 9180) and the bundle's layout once more, from primitives, sharing no code with the program."""

from __future__ import annotations

import hashlib
import hmac
from typing import Any

import msgspec
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

from herdsync.log.signing import SigningKey

KEM_SUITE = b"KEM\x00\x20"
HPKE_SUITE = b"HPKE\x00\x20\x00\x01\x00\x03"


def _extract(suite: bytes, salt: bytes, label: bytes, secret: bytes) -> bytes:
    """LabeledExtract, RFC 9180 section 4; HKDF-Extract, RFC 5869 section 2.2."""
    return hmac.digest(salt or bytes(32), b"HPKE-v1" + suite + label + secret, "sha256")


def _expand(suite: bytes, prk: bytes, label: bytes, info: bytes, length: int) -> bytes:
    """LabeledExpand, RFC 9180 section 4; HKDF-Expand, RFC 5869 section 2.3 (one block)."""
    assert length <= 32
    labeled = length.to_bytes(2, "big") + b"HPKE-v1" + suite + label + info
    return hmac.digest(prk, labeled + b"\x01", "sha256")[:length]


def _shared(dh: bytes, ephemeral: bytes, recipient: bytes) -> bytes:
    """ExtractAndExpand, RFC 9180 section 4.1."""
    prk = _extract(KEM_SUITE, b"", b"eae_prk", dh)
    return _expand(KEM_SUITE, prk, b"shared_secret", ephemeral + recipient, 32)


def schedule(shared: bytes, info: bytes) -> tuple[bytes, bytes]:
    """Key and base nonce of base mode, RFC 9180 section 5.1."""
    context = (
        b"\x00"
        + _extract(HPKE_SUITE, b"", b"psk_id_hash", b"")
        + _extract(HPKE_SUITE, b"", b"info_hash", info)
    )
    secret = _extract(HPKE_SUITE, shared, b"secret", b"")
    key = _expand(HPKE_SUITE, secret, b"key", context, 32)
    return key, _expand(HPKE_SUITE, secret, b"base_nonce", context, 12)


def hpke_open(sealed: bytes, private: X25519PrivateKey, info: bytes, aad: bytes = b"") -> bytes:
    """Base mode decryption of one message."""
    ephemeral, ciphertext = sealed[:32], sealed[32:]
    dh = private.exchange(X25519PublicKey.from_public_bytes(ephemeral))
    shared = _shared(dh, ephemeral, private.public_key().public_bytes_raw())
    key, nonce = schedule(shared, info)
    return ChaCha20Poly1305(key).decrypt(nonce, ciphertext, aad)


def hpke_seal(plain: bytes, public: bytes, info: bytes, ephemeral: bytes) -> bytes:
    """Base mode encryption of one message under a given ephemeral private key."""
    private = X25519PrivateKey.from_private_bytes(ephemeral)
    dh = private.exchange(X25519PublicKey.from_public_bytes(public))
    enc = private.public_key().public_bytes_raw()
    key, nonce = schedule(_shared(dh, enc, public), info)
    return enc + ChaCha20Poly1305(key).encrypt(nonce, plain, b"")


def packed(value: Any) -> bytes:
    """MessagePack of plain values."""
    return msgspec.msgpack.encode(value)


def tag(domain: bytes, *parts: bytes, size: int) -> bytes:
    """The first bytes of a domain-tagged SHA-256."""
    return hashlib.sha256(b"herdsync/1/" + domain + b"\0" + b"".join(parts)).digest()[:size]


def front(farm: bytes, writer: bytes, stanzas: list[list[bytes]], version: int = 1) -> bytes:
    """Everything before the sealed message."""
    lid = packed(
        [tag(b"farm-tag", farm, size=16), tag(b"writer-tag", farm, writer, size=5), stanzas]
    )
    open_part = b"HERDSYNC-BUNDLE" + bytes([version]) + len(lid).to_bytes(4, "big") + lid
    return open_part + hashlib.sha256(open_part).digest()[:16]


def stanza(
    farm: bytes, writer: bytes, reader: bytes, secret: bytes, version: int = 1
) -> list[bytes]:
    """The bundle's key sealed to one reader."""
    mark = tag(b"recipient-tag", farm, reader, size=8)
    info = b"herdsync/1/bundle-key\0" + packed(
        [version, farm, tag(b"writer-tag", farm, writer, size=5), mark]
    )
    return [mark, hpke_seal(secret, reader, info, hashlib.sha256(b"e" + reader).digest())]


def frontier_record(its_farm: bytes, key: SigningKey, **told: Any) -> bytes:
    """The first record: a signed statement."""
    said = packed(
        [
            told.get("farm", its_farm),
            key.public,
            told.get("counter", 7),
            told.get("program", 1),
            told.get("frontier", []),
            told.get("clock", 0),
        ]
    )
    return packed([said, key.sign(b"herdsync/1/frontier\0" + said)])


def bundle(
    farm: bytes,
    key: SigningKey,
    readers: list[bytes],
    records: list[bytes],
    *,
    ending: bytes | None = None,
    inside: bytes | None = None,
    version: int = 1,
) -> bytes:
    """A whole bundle of these records by this writer, signed and sealed as the layout says."""
    secret = hashlib.sha256(b"secret").digest()
    stanzas = sorted(stanza(farm, key.public, reader, secret, version) for reader in readers)
    begin = front(farm, key.public, stanzas, version)
    if inside is None:
        inside = b"".join(len(record).to_bytes(4, "big") + record for record in records)
        if ending is None:
            whole = hashlib.sha256(begin + inside).digest()
            ending = key.sign(b"herdsync/1/bundle\0" + whole)
        inside += len(ending).to_bytes(4, "big") + ending
    return begin + ChaCha20Poly1305(secret).encrypt(bytes(12), inside, begin)
