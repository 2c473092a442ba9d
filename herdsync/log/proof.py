"""A proof that anyone can check without this program: plain text, checked with ``openssl`` alone.

It holds the exact bytes that were hashed and signed, and the commands that check them.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable

from herdsync.log.entry import TAG_BODY, TAG_ENTRY, Entry
from herdsync.log.signing import public_pem

_HOW = """\
How to check it, with nothing but a shell and openssl (3.0 or newer). Set F to this file's name, and N
to the number of the part you want to check:

  F=proof.txt N=1
  part() { sed -n "/^-----BEGIN $1 $N-----/,/^-----END $1 $N-----/p" "$F" | sed '1d;$d'; }
  part KEY > key.pem
  part HEADER | openssl base64 -d > header.bin
  part BODY | openssl base64 -d > body.bin
  part SIGNATURE | openssl base64 -d > signature.bin
  openssl dgst -sha256 header.bin
  openssl dgst -sha256 body.bin
  { printf 'herdsync/1/sign\\0'; openssl dgst -sha256 -binary header.bin; } > signed.bin
  openssl pkeyutl -verify -pubin -inkey key.pem -rawin -in signed.bin -sigfile signature.bin

The first hash must be the entry id below and the second the body hash below; the header holds the body
hash, so neither can be changed. The last command must say: Signature Verified Successfully.
"""


def proof_text(title: str, parts: Iterable[tuple[str, Entry]]) -> str:
    """The proof file for entries, each with a sentence saying what it is (already safe to print)."""
    sections = [
        f"Proof of {title}",
        "",
        _HOW,
        "What a clock read and who was at the keyboard are what the entry claims; that this device's",
        "key signed exactly these bytes is what is proved.",
    ]
    for number, (says, entry) in enumerate(parts, 1):
        sections += ["", _section(number, says, entry)]
    return "\n".join(sections) + "\n"


def _section(number: int, says: str, entry: Entry) -> str:
    body_bytes = TAG_BODY + entry.body_bytes
    lines = [
        f"Part {number}: {says}",
        f"entry id:  {entry.id.hex()}",
        f"body hash: {entry.header.body_hash.hex()}",
        f"-----BEGIN KEY {number}-----",
        public_pem(entry.header.device).strip(),
        f"-----END KEY {number}-----",
        _block("HEADER", number, TAG_ENTRY + entry.header_bytes),
        _block("BODY", number, body_bytes),
        _block("SIGNATURE", number, entry.signature),
    ]
    return "\n".join(lines)


def _block(word: str, number: int, data: bytes) -> str:
    text = base64.b64encode(data).decode()
    lines = [text[at : at + 64] for at in range(0, len(text), 64)]
    return "\n".join([f"-----BEGIN {word} {number}-----", *lines, f"-----END {word} {number}-----"])
