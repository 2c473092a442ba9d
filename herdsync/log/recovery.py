"""The recovery key: 24 words on paper (BIP-39 word list and checksum), never kept on a disk."""

from __future__ import annotations

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from mnemonic import Mnemonic

from herdsync.faults import Refused
from herdsync.log.signing import SigningKey

ENTROPY_BYTES = 32
WORDS = 24


def words_of(entropy: bytes) -> str:
    """The 24 words for 32 bytes; the last carries 8 bits of checksum."""
    assert len(entropy) == ENTROPY_BYTES
    return str(Mnemonic("english").to_mnemonic(entropy))


def entropy_of(words: str) -> bytes:
    """The 32 bytes for the words. Raises Refused naming the word that is not on the list."""
    given = words.lower().split()
    book = Mnemonic("english")
    if len(given) != WORDS:
        raise Refused(
            f"There are {len(given)} words; the recovery sheet has {WORDS}.",
            "Type them all, in order.",
        )
    known = set(book.wordlist)
    for place, word in enumerate(given, 1):
        if word not in known:
            raise Refused(
                f"Word {place} ('{word}') is not on the list.", "Read it again from the sheet."
            )
    if not book.check(" ".join(given)):
        raise Refused(
            "The words do not fit together: one is wrong or two are swapped.",
            "Compare them with the sheet, one by one.",
        )
    return bytes(book.to_entropy(given))


def recovery_key(entropy: bytes) -> SigningKey:
    """The signing and sealing key that the words stand for."""
    return SigningKey(
        _derive(entropy, b"herdsync/1/recover-sign"), _derive(entropy, b"herdsync/1/recover-seal")
    )


def _derive(entropy: bytes, info: bytes) -> bytes:
    return HKDF(algorithm=SHA256(), length=32, salt=None, info=info).derive(entropy)
