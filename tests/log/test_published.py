"""Signatures, hashes and recovery words against what their standards print."""

from __future__ import annotations

import hashlib
import random

import pytest
from mnemonic import Mnemonic

from herdsync.faults import BadBytes, Refused
from herdsync.log import entry as entries
from herdsync.log.recovery import entropy_of, recovery_key, words_of
from herdsync.log.signing import SigningKey, refuse_weak_key, verifies

P = 2**255 - 19
# Order of the base point, RFC 8032 section 5.1.
L = 2**252 + 27742317777372353535851937790883648493

# RFC 8032 (IETF, 2017) section 7.1: secret key, public key, message, signature.
RFC_8032 = {
    "TEST 1": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    "TEST 2": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    "TEST 3": (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
        "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
    "TEST SHA(abc)": (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b589"
        "09351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704",
    ),
}

# FIPS 180-4 examples as NIST publishes them for SHA-256: one block, two blocks, a million letters.
FIPS_180_4 = {
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
    b"a" * 1_000_000: "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
}

# The 24-word vectors published with BIP-39 (its reference vectors.json, English).
BIP_39 = {
    "00" * 32: "abandon " * 23 + "art",
    "7f" * 32: "legal winner thank year wave sausage worth useful " * 2
    + "legal winner thank year wave sausage worth title",
    "80" * 32: "letter advice cage absurd amount doctor acoustic avoid " * 2
    + "letter advice cage absurd amount doctor acoustic bless",
    "ff" * 32: "zoo " * 23 + "vote",
    "00ac97c48106f0aeb8ba061e0250a559b3251dc35854e694780ba51d53a50120": (
        "absent gorilla van acoustic humor firm title dolphin bulk barely citizen recall crane moment "
        "aspect appear track phrase actual enforce steel spoon afraid benefit"
    ),
    "3edc83b60740d77af3afa2fcb82c2f1bc541ee4e2518ddef4996d32453f54a3c": (
        "disagree tomato unique attend aspect runway solid violin witness scrap armed daring favorite "
        "warm decade perfect target kid grant play early wide cigar night"
    ),
    "89bb4bc5555992cdaf3444c5e7ca5a6e9f27efab894f1990bae41be8b2a26ea4": (
        "meadow surge vanish primary odor grocery rubber mass shine dinner notable tag venue water "
        "purchase clarify book magic ribbon daughter menu eye ritual orchard"
    ),
    "911fec0fbd88029f6fa99164896c18d898c9232af18bdcca3e42d53b86493104": (
        "much youth advance kitchen lens exile salt cram goose enter alert raise milk muscle profit "
        "cousin system faint mouse price reveal cause series long"
    ),
}

# The eight points of small order of edwards25519 (Chalkias et al., "Taming the many EdDSAs", 2020).
SMALL_ORDER = (
    "0100000000000000000000000000000000000000000000000000000000000000",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0000000000000000000000000000000000000000000000000000000000000080",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
)
# The same paper: encodings whose y is not reduced, or of x = 0 with the sign bit set.
NON_CANONICAL = (
    "0100000000000000000000000000000000000000000000000000000000000080",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
)


@pytest.mark.parametrize("name", RFC_8032)
def test_signatures_of_rfc_8032(name: str) -> None:
    secret, public, message, signature = (bytes.fromhex(part) for part in RFC_8032[name])
    key = SigningKey(secret, bytes(32))
    assert key.public == public
    assert key.sign(message) == signature
    assert verifies(public, signature, message)
    refuse_weak_key(public)


@pytest.mark.parametrize("name", RFC_8032)
def test_no_bit_of_a_signature_may_change(name: str) -> None:
    _, public, message, signature = (bytes.fromhex(part) for part in RFC_8032[name])
    for bit in range(512):
        turned = bytearray(signature)
        turned[bit // 8] ^= 1 << bit % 8
        assert not verifies(public, bytes(turned), message), bit
    assert not verifies(public, signature, message + b"\0")


def test_a_signature_has_one_form() -> None:
    # RFC 8032 section 5.1.7: S outside [0, L) is invalid; S + L would be a second form of one signature.
    _, public, message, signature = (bytes.fromhex(part) for part in RFC_8032["TEST 3"])
    scalar = int.from_bytes(signature[32:], "little") + L
    assert not verifies(public, signature[:32] + scalar.to_bytes(32, "little"), message)


@pytest.mark.parametrize("size", [0, 1, 31, 33, 63, 64])
def test_keys_and_signatures_of_other_lengths(size: int) -> None:
    _, public, message, signature = (bytes.fromhex(part) for part in RFC_8032["TEST 1"])
    assert not verifies(bytes(size), signature, message)
    if size != 64:
        assert not verifies(public, bytes(size), message)
    with pytest.raises(BadBytes):
        refuse_weak_key(bytes(size))


@pytest.mark.parametrize("told", SMALL_ORDER)
def test_keys_of_small_order_are_refused(told: str) -> None:
    with pytest.raises(BadBytes, match="small order"):
        refuse_weak_key(bytes.fromhex(told))


@pytest.mark.parametrize("told", NON_CANONICAL)
def test_keys_in_a_second_form_are_refused(told: str) -> None:
    with pytest.raises(BadBytes, match="canonical"):
        refuse_weak_key(bytes.fromhex(told))


def test_why_weak_keys_are_refused() -> None:
    # Under the identity as key, R = identity and S = 0 "verify" for any message: the verdict of the
    # library in use is pinned here, so that an upgrade which changes it is noticed.
    identity = bytes.fromhex(SMALL_ORDER[0])
    forged = identity + bytes(32)
    assert verifies(identity, forged, b"anything")
    assert verifies(identity, forged, b"anything else")


def test_a_number_that_is_no_point_is_refused() -> None:
    # Half of all y have no x on the curve (RFC 8032 section 5.1.3, step 3); 2 is the least of them.
    with pytest.raises(BadBytes, match="not a point"):
        refuse_weak_key((2).to_bytes(32, "little"))


@pytest.mark.parametrize("sizes", [(31, 32), (32, 31), (33, 32), (32, 33)])
def test_a_seed_of_another_length_is_no_key(sizes: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="32 bytes"):
        SigningKey(bytes(sizes[0]), bytes(sizes[1]))


def test_sound_keys_pass() -> None:
    chance = random.Random(8032)
    for _ in range(50):
        refuse_weak_key(SigningKey(chance.randbytes(32), chance.randbytes(32)).public)


@pytest.mark.parametrize("message", FIPS_180_4, ids=len)
def test_the_hash_is_sha_256(message: bytes) -> None:
    assert hashlib.sha256(message).hexdigest() == FIPS_180_4[message]


def test_ids_and_body_hashes_are_tagged_sha_256() -> None:
    tagged = hashlib.sha256(b"herdsync/1/entry\x00" + b"abc").digest()
    assert entries.entry_id(b"abc") == tagged
    assert entries.body_hash(b"abc") == hashlib.sha256(b"herdsync/1/body\x00" + b"abc").digest()
    assert entries.signed_bytes(tagged) == b"herdsync/1/sign\x00" + tagged


@pytest.mark.parametrize("entropy", BIP_39)
def test_recovery_words_of_bip_39(entropy: str) -> None:
    words = BIP_39[entropy]
    assert words_of(bytes.fromhex(entropy)) == words
    assert entropy_of(words) == bytes.fromhex(entropy)
    assert entropy_of("  " + words.upper().replace(" ", "\n\t ")) == bytes.fromhex(entropy)


def test_recovery_words_by_the_rule_of_bip_39() -> None:
    # BIP-39, "Generating the mnemonic": 256 bits, then the first 8 bits of their SHA-256, in groups
    # of 11 bits that count into the word list.
    book = Mnemonic("english").wordlist
    chance = random.Random(39)
    for _ in range(20):
        entropy = chance.randbytes(32)
        bits = int.from_bytes(entropy + hashlib.sha256(entropy).digest()[:1], "big")
        words = [book[bits >> 11 * place & 2047] for place in reversed(range(24))]
        assert words_of(entropy).split() == words


def test_recovery_words_that_are_wrong() -> None:
    words = words_of(bytes(range(32))).split()
    with pytest.raises(Refused, match="There are 23 words; the recovery sheet has 24"):
        entropy_of(" ".join(words[:-1]))
    with pytest.raises(Refused, match="Word 5 \\('goaat'\\) is not on the list"):
        entropy_of(" ".join([*words[:4], "goaat", *words[5:]]))
    with pytest.raises(Refused, match="swapped"):
        entropy_of(" ".join([words[1], words[0], *words[2:]]))
    with pytest.raises(Refused):
        entropy_of("")


def test_recovery_keys_follow_from_the_words_and_part_their_uses() -> None:
    one, again, other = (recovery_key(bytes([seed]) * 32) for seed in (1, 1, 2))
    assert (one.public, one.seal_public) == (again.public, again.seal_public)
    assert len({one.public, one.seal_public, other.public, other.seal_public}) == 4
    refuse_weak_key(one.public)
