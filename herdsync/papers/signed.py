"""The proof that goes with papers: anyone checks it with a shell and ``openssl`` alone.

A signature is over a word of its own and the paper's exact bytes, under the key of the laptop that
printed it; the entries that let that laptop into the farm follow, each with a proof of its own.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from herdsync.log.signing import public_pem
from herdsync.safe_text import safe_text

TAG = b"herdsync/1/paper\0"

_HOW = """\
How to check a paper, with nothing but a shell and openssl (3.0 or newer). Set P to the paper's file and
F to this one; N is the number the paper has below:

  F=proof.txt P=paper.txt N=1
  part() { sed -n "/^-----BEGIN PAPER $1-----/,/^-----END PAPER $1-----/p" "$F" | sed '1d;$d'; }
  part KEY > key.pem
  part "SIGNATURE $N" | openssl base64 -d > signature.bin
  { printf 'herdsync/1/paper\\0'; cat "$P"; } > signed.bin
  openssl pkeyutl -verify -pubin -inkey key.pem -rawin -in signed.bin -sigfile signature.bin

The last command must say: Signature Verified Successfully. Change one letter of the paper, and it will
not. Whose key it is, the second part of this file proves: the entry that let that laptop into the farm
names the same key.
"""


@dataclass(frozen=True, slots=True)
class Printed:
    """A paper as a file: its name and exact bytes."""

    name: str
    content: bytes


def proof_of(
    papers: Sequence[Printed], public: bytes, sign: Callable[[bytes], bytes], whose: str, entries: str
) -> str:  # fmt: skip
    """The proof file's text; ``whose``: whose laptop signs, ``entries``: the proof that it may."""
    lines = [f"Proof of {len(papers)} papers, signed by {safe_text(whose)}", "", _HOW]
    lines += ["-----BEGIN PAPER KEY-----", public_pem(public).strip(), "-----END PAPER KEY-----"]
    for number, paper in enumerate(papers, 1):
        signature = base64.b64encode(sign(TAG + paper.content)).decode()
        lines += [
            "",
            f"Paper {number}: {safe_text(paper.name)}",
            f"SHA-256 of the file: {hashlib.sha256(paper.content).hexdigest()}",
            f"-----BEGIN PAPER SIGNATURE {number}-----",
            signature[:64],
            signature[64:],
            f"-----END PAPER SIGNATURE {number}-----",
        ]
    return "\n".join([*lines, "", "=" * 72, "", entries])
