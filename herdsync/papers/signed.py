"""The proof that goes with papers: anyone checks it with a shell and ``openssl`` alone, or with Python.

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
Three ways to check a paper; keep it in one folder with this file. Change one letter of it, and it fails.

1. With this program, which reads all of this file:  herdsync proof --check {own}

2. With a shell and openssl (3.0 or newer). N is the number the paper has below:

  F={own} P={first} N=1
  part() {{ sed -n "/^-----BEGIN PAPER $1-----/,/^-----END PAPER $1-----/p" "$F" | sed '1d;$d'; }}
  part KEY > key.pem
  part "SIGNATURE $N" | openssl base64 -d > signature.bin
  {{ printf 'herdsync/1/paper\\0'; cat "$P"; }} > signed.bin
  openssl pkeyutl -verify -pubin -inkey key.pem -rawin -in signed.bin -sigfile signature.bin

The last command must say: Signature Verified Successfully.

3. With Python and its library cryptography (also on Windows): put these lines into check.py and run
'python check.py {own} {first} 1'
It says nothing where the paper is sound, and InvalidSignature where it is not.

    import base64, sys
    from cryptography.hazmat.primitives.serialization import load_pem_public_key
    proof, paper, number = sys.argv[1:]
    text = open(proof, encoding="utf-8").read()
    part = lambda name: text.split(f"-----BEGIN PAPER {{name}}-----\\n")[1].split("\\n-----END PAPER")[0]
    key = load_pem_public_key(part("KEY").encode())
    signed = b"herdsync/1/paper\\0" + open(paper, "rb").read()
    key.verify(base64.b64decode(part("SIGNATURE " + number)), signed)

Whose key it is, the second part of this file proves: the entries that let that laptop into the farm name
the same key. Whether it is the seller's own farm, ask the seller: anyone can found one of the same name,
but not with the same id, which is that of its founding entry.
"""


@dataclass(frozen=True, slots=True)
class Printed:
    """A paper as a file: its name and exact bytes."""

    name: str
    content: bytes


def proof_name(stem: str) -> str:
    """What the proof of a paper is called, by the paper's name without its ending."""
    return f"{stem}-proof.txt"


def proof_of(
    own: str, papers: Sequence[Printed], public: bytes, sign: Callable[[bytes], bytes], whose: str,
    entries: str,
) -> str:  # fmt: skip
    """The proof file's text. ``own``: its name; ``whose``: whose laptop signs; ``entries``: the proof
    that it may.
    """
    how = _HOW.format(own=own, first=papers[0].name)
    title = "1 paper" if len(papers) == 1 else f"{len(papers)} papers"
    lines = [f"Proof of {title}, signed by {safe_text(whose)}", "", how]
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
