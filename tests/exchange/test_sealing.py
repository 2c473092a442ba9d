"""HPKE against RFC 9180, in both directions, and the keys that keep no secret."""

from __future__ import annotations

import pytest
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

from herdsync.exchange.sealing import (
    recipient_tag,
    refuse_weak_seal_key,
    seal,
    sound_seal_keys,
    tag_text,
    unseal,
    writer_tag,
)
from herdsync.faults import BadBytes
from tests.exchange import by_hand
from tests.exchange.laptops import key_of

# RFC 9180, appendix A.2.1: DHKEM(X25519, HKDF-SHA256), HKDF-SHA256, ChaCha20Poly1305, base mode
# (digits from memory; the message opens only if every one of them is right).
INFO = bytes.fromhex("4f6465206f6e2061204772656369616e2055726e")
RECIPIENT = bytes.fromhex("8057991eef8f1f1af18f4a9491d16a1ce333f695d4db8e38da75975c4478e0fb")
RECIPIENT_PUBLIC = bytes.fromhex("4310ee97d88cc1f088a5576c77ab0cf5c3ac797f3d95139c6c84b5429c59662a")
EPHEMERAL = bytes.fromhex("f4ec9b33b792c372c1d2c2063507b684ef925b8c75a42dbcbf57d63ccd381600")
ENCAPSULATED = bytes.fromhex("1afa08d3dec047a643885163f1180476fa7ddb54c6a8029ea33f95796bf2ac4a")
SHARED = bytes.fromhex("0bbe78490412b4bbea4812666f7916932b828bba79942424abb65244930d69a7")
KEY = bytes.fromhex("ad2744de8e17f4ebba575b3f5f5a8fa1f69c2a07f6e7500bc60ca6e3e3ec1c91")
NONCE = bytes.fromhex("5c4d98150661b848853b547f")
PLAIN = bytes.fromhex("4265617574792069732074727574682c20747275746820626561757479")
AAD = bytes.fromhex("436f756e742d30")
CIPHERTEXT = bytes.fromhex(
    "1c5250d8034ec2b784ba2cfd69dbdb8af406cfe3ff938e131f0def8c8b60b4db21993c62ce81883d2dd1b51a28"
)


def test_the_primitives_by_hand_meet_the_published_vector() -> None:
    private = X25519PrivateKey.from_private_bytes(RECIPIENT)
    assert private.public_key().public_bytes_raw() == RECIPIENT_PUBLIC
    assert by_hand.schedule(SHARED, INFO) == (KEY, NONCE)
    assert by_hand.hpke_open(ENCAPSULATED + CIPHERTEXT, private, INFO, AAD) == PLAIN
    assert by_hand.hpke_seal(PLAIN, RECIPIENT_PUBLIC, INFO, EPHEMERAL)[:32] == ENCAPSULATED


def test_what_the_program_seals_opens_by_hand_and_the_other_way_round() -> None:
    private = X25519PrivateKey.from_private_bytes(RECIPIENT)
    sealed = seal(b"a secret", RECIPIENT_PUBLIC, INFO)
    assert by_hand.hpke_open(sealed, private, INFO) == b"a secret"
    made = by_hand.hpke_seal(b"a secret", RECIPIENT_PUBLIC, INFO, EPHEMERAL)
    assert unseal(made, private, INFO) == b"a secret"


def test_another_key_another_info_or_an_altered_byte_does_not_open() -> None:
    private = X25519PrivateKey.from_private_bytes(RECIPIENT)
    sealed = seal(b"a secret", RECIPIENT_PUBLIC, INFO)
    wrong = [
        (sealed, key_of("barn").seal, INFO),
        (sealed, private, INFO + b"x"),
        (sealed[:-1], private, INFO),
        (bytes(32) + sealed[32:], private, INFO),
        (b"", private, INFO),
    ]
    for bytes_, key, info in wrong:
        with pytest.raises(BadBytes):
            unseal(bytes_, key, info)


# Points of small order on Curve25519 (RFC 7748, section 6.1 tells to refuse the zero they give;
# values from memory, each checked here by the exchange itself).
SMALL_ORDER = [
    bytes(32),
    b"\x01" + bytes(31),
    bytes.fromhex("e0eb7a7c3b41b8ae1656e3faf19fc46ada098deb9c32b1fd866205165f49b800"),
    bytes.fromhex("5f9c95bca3508c24b1d0b1559c83ef5b04445cc4581c8e86d8224eddd09f1157"),
    bytes.fromhex("ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"),
    bytes.fromhex("edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"),
    bytes.fromhex("eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"),
]


@pytest.mark.parametrize("public", SMALL_ORDER)
def test_a_key_of_small_order_is_refused_and_never_sealed_to(public: bytes) -> None:
    with pytest.raises(BadBytes):
        refuse_weak_seal_key(public)
    sound = key_of("house").seal_public
    assert sound_seal_keys([public, sound, sound, b"short"]) == [sound]


def test_tags_tell_farms_and_devices_apart_and_name_files() -> None:
    house, barn = key_of("house").public, key_of("barn").public
    assert writer_tag(bytes(32), house) != writer_tag(bytes(32), barn)
    assert recipient_tag(bytes(32), house) != recipient_tag(b"\x01" * 32, house)
    text = tag_text(writer_tag(bytes(32), house))
    assert len(text) == 8 and text == text.lower() and text.isalnum()
