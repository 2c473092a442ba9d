"""A proof is checked with openssl and a shell alone, by the very commands it prints."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from herdsync.log.entry import Entry
from herdsync.log.proof import proof_text
from tests.log import golden

needs_openssl = pytest.mark.skipif(
    shutil.which("openssl") is None or shutil.which("bash") is None, reason="needs openssl and bash"
)


def commands(text: str, part: int) -> str:
    """The commands as the proof prints them, for one part."""
    lines = [line[2:] for line in text.splitlines() if line.startswith("  ")]
    return "\n".join(lines).replace("N=1", f"N={part}")


def checked(folder: Path, text: str, part: int) -> str:
    (folder / "proof.txt").write_text(text)
    done = subprocess.run(
        ["bash", "-c", commands(text, part)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout + done.stderr


@needs_openssl
def test_openssl_confirms_a_proof(tmp_path: Path) -> None:
    entries: list[Entry] = golden.entries()[2:4]
    text = proof_text("a dose", [("the dose", entries[0]), ("its amendment", entries[1])])
    for part, entry in enumerate(entries, 1):
        said = checked(tmp_path, text, part)
        assert entry.id.hex() in said
        assert entry.header.body_hash.hex() in said
        assert "Signature Verified Successfully" in said


@needs_openssl
def test_openssl_refuses_a_proof_that_was_changed(tmp_path: Path) -> None:
    entry = golden.entries()[2]
    text = proof_text("a dose", [("the dose", entry)])
    head = "-----BEGIN HEADER 1-----\n"
    at = text.index(head) + len(head) + 40
    turned = "A" if text[at] != "A" else "B"
    said = checked(tmp_path, text[:at] + turned + text[at + 1 :], 1)
    assert entry.id.hex() not in said.splitlines()[0]
    assert "Verified Successfully" not in said
