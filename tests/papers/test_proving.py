"""A stranger checks papers and proofs: by the commands a proof prints, by the verb, by cryptography."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import load_pem_public_key

from herdsync.acts.proving import check_proof
from herdsync.farm import Farm
from herdsync.faults import Refused
from tests.cli.laptops import Laptops
from tests.papers.test_printing import fill

GOOD = "Signature Verified Successfully"
PROOF = "sale-sheet-agate-proof.txt"
PAPERS = ("sale-sheet-agate.txt", "sale-sheet-agate.pdf")
needs_openssl = pytest.mark.skipif(
    shutil.which("openssl") is None or shutil.which("sed") is None, reason="needs openssl and sed"
)


@pytest.fixture
def sheet(farm: Farm, tmp_path: Path) -> Path:
    """A folder with a signed sale sheet."""
    fill(farm)
    farm.papers("sale-sheet", ["Agate"], out=tmp_path / "out")
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == sorted((*PAPERS, PROOF))
    return tmp_path / "out"


@needs_openssl
def test_openssl_alone_checks_text_and_pdf(sheet: Path) -> None:
    for number, name in enumerate(PAPERS, 1):
        assert GOOD in _by_openssl(sheet, name, number)
    spoil(sheet / PAPERS[0])
    assert GOOD not in _by_openssl(sheet, PAPERS[0], 1)


def _by_openssl(folder: Path, name: str, number: int) -> str:
    """What the commands written in the proof itself say, word for word."""
    lines = [line[2:] for line in (folder / PROOF).read_text().splitlines()]
    start = next(at for at, line in enumerate(lines) if line.startswith(f"F={PROOF} P="))
    end = next(at for at, line in enumerate(lines) if line.startswith("openssl pkeyutl"))
    script = [*lines[start : end + 1]]
    script[0] = f"F={PROOF} P={name} N={number}"
    done = subprocess.run(
        ["sh", "-c", "\n".join(script)], cwd=folder, capture_output=True, text=True, check=False
    )
    return done.stdout + done.stderr


def test_the_python_the_proof_prints_checks_it_too(sheet: Path) -> None:
    lines = (sheet / PROOF).read_text().splitlines()
    start = next(at for at, line in enumerate(lines) if line == "    import base64, sys")
    end = next(at for at, line in enumerate(lines) if line.startswith("    key.verify("))
    (sheet / "check.py").write_text("\n".join(line[4:] for line in lines[start : end + 1]))

    def says(name: str, number: int) -> str:
        told = [sys.executable, "check.py", PROOF, name, str(number)]
        done = subprocess.run(told, cwd=sheet, capture_output=True, text=True, check=False)
        return done.stdout + done.stderr

    assert [says(name, number) for number, name in enumerate(PAPERS, 1)] == ["", ""]
    spoil(sheet / PAPERS[1])
    assert "InvalidSignature" in says(PAPERS[1], 2)


def test_cryptography_alone_follows_the_key_to_the_farm(sheet: Path) -> None:
    """No line of this program: RFC 8032 signatures over the bytes the proof carries."""
    text = (sheet / PROOF).read_text()

    def part(name: str) -> bytes:
        found = re.search(rf"(?ms)^-----BEGIN {name}-----\n(.*?)\n-----END {name}-----$", text)
        assert found is not None
        return found[1].encode()

    paper_key = load_pem_public_key(part("PAPER KEY"))
    assert isinstance(paper_key, Ed25519PublicKey)
    for number, name in enumerate(PAPERS, 1):
        signature = base64.b64decode(part(f"PAPER SIGNATURE {number}"))
        paper_key.verify(signature, b"herdsync/1/paper\0" + (sheet / name).read_bytes())
    # The founding entry is signed under the same key, and its header holds the hash of its body.
    header, body = (base64.b64decode(part(f"{word} 1")) for word in ("HEADER", "BODY"))
    paper_key.verify(
        base64.b64decode(part("SIGNATURE 1")),
        b"herdsync/1/sign\0" + hashlib.sha256(header).digest(),
    )
    assert hashlib.sha256(body).digest() in header
    assert b"Quillmoor Dairy" in body


def test_the_verb_reads_a_proof_without_any_farm(sheet: Path) -> None:
    found = check_proof(sheet / PROOF)
    assert found.holds
    assert [one.paper for one in found.papers] == list(PAPERS)
    assert (found.signed_by, found.farm) == ("Oda's laptop 'house'", "Quillmoor Dairy")
    assert all(check_proof(sheet / name).holds for name in PAPERS)


def test_what_was_changed_is_named(sheet: Path) -> None:
    spoil(sheet / PAPERS[1])
    told = {one.paper: one.holds for one in check_proof(sheet / PROOF).papers}
    assert told == {PAPERS[0]: True, PAPERS[1]: False}
    (sheet / PAPERS[1]).unlink()
    found = check_proof(sheet / PROOF)
    assert not found.holds
    assert "not beside its proof" in found.papers[1].says


def test_no_single_letter_of_a_signature_key_or_entry_can_be_changed(sheet: Path) -> None:
    """Every line between marks, one letter each turned: never a traceback, never accepted."""
    text = (sheet / PROOF).read_text()
    inside, tried = False, 0
    lines = text.splitlines(keepends=True)
    for at, line in enumerate(lines):
        if line.startswith("-----"):
            inside = line.startswith("-----BEGIN")
        elif inside:
            turned = ("B" if line[5] != "B" else "C").join((line[:5], line[6:]))
            (sheet / PROOF).write_text("".join([*lines[:at], turned, *lines[at + 1 :]]))
            tried += 1
            try:
                assert not check_proof(sheet / PROOF).holds, line
            except Refused as fault:
                assert str(fault).endswith(".")
    assert tried > 10


def test_a_key_nobody_let_in_is_told(sheet: Path, tmp_path: Path) -> None:
    """A stranger signs a changed paper with a key of their own and keeps the farm's entries."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from herdsync.papers.signed import Printed, proof_of

    stranger = Ed25519PrivateKey.generate()
    entries = (sheet / PROOF).read_text().split("=" * 72 + "\n\n")[1]
    printed = [Printed(name, (sheet / name).read_bytes()) for name in PAPERS]
    public = stranger.public_key().public_bytes_raw()
    forged = proof_of(PROOF, printed, public, stranger.sign, "Oda's laptop 'house'", entries)
    (sheet / PROOF).write_text(forged)
    found = check_proof(sheet / PROOF)
    assert all(one.holds for one in found.papers)
    assert not found.holds
    assert (found.signed_by, found.faults) == (
        "", ["nothing in the file shows who that key was given to"]
    )  # fmt: skip


@pytest.mark.parametrize(
    "content",
    [b"", b"\xff" * 100, b"-----BEGIN KEY 1-----\n" * 5000, b"Paper 1: ../../etc/passwd\n",
     b"-----BEGIN HEADER 1-----\nAAAA\n-----END HEADER 1-----\n" * 2],
)  # fmt: skip
def test_what_is_no_proof_is_refused_in_a_sentence(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x.txt").write_bytes(content)
    with pytest.raises(Refused):
        check_proof(tmp_path / "x.txt")
    with pytest.raises(Refused, match="not there"):
        check_proof(tmp_path / "none.txt")


def test_a_name_that_leads_elsewhere_is_not_opened(sheet: Path) -> None:
    text = (sheet / PROOF).read_text()
    (sheet / PROOF).write_text(text.replace(f"Paper 1: {PAPERS[0]}", "Paper 1: ../out/x.txt"))
    (sheet / "x.txt").write_bytes((sheet / PAPERS[0]).read_bytes())
    assert not check_proof(sheet / PROOF).holds


def test_a_partner_signs_too_and_an_entry_is_checked_the_same_way(
    pair: Laptops, tmp_path: Path
) -> None:
    doe = pair.ask("barn", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01")["id"]
    pair.ask("barn", "papers", "sale-sheet", "Agate", "--out", str(tmp_path / "out"), "--no-pdf")
    told = json.loads(
        pair.type("loft", "proof", "--check", str(tmp_path / "out" / PROOF), "--json").out
    )
    assert told["holds"]
    assert told["says"] == [
        "Ravi's laptop 'barn' was let into the farm as keeper.",
        "Oda's laptop 'house' founded the farm Quillmoor Dairy.",
    ]
    pair.ask("barn", "proof", doe, "--out", str(tmp_path / "doe.txt"))
    done = pair.type("loft", "proof", "--check", str(tmp_path / "doe.txt"))
    assert (done.code, "It holds" in done.out) == (0, True)
    spoil(tmp_path / "doe.txt", b"BODY 1-----\n")
    done = pair.type("loft", "proof", "--check", str(tmp_path / "doe.txt"))
    assert (done.code, "does NOT hold" in done.out) == (1, True)


def spoil(file: Path, after: bytes = b"") -> None:
    """Change one byte of a file, after a word in it or at the end."""
    raw = bytearray(file.read_bytes())
    at = raw.index(after) + len(after) + 9 if after else len(raw) - 2
    raw[at] = ord("B") if raw[at] != ord("B") else ord("C")
    file.write_bytes(raw)
