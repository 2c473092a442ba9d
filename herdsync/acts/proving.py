"""Checking a proof file that came with papers: needs no farm, so that a buyer can do it too."""

from __future__ import annotations

from pathlib import Path

from herdsync.faults import BadBytes, Refused
from herdsync.papers.outcomes import ProofChecked
from herdsync.papers.proving import PROOF_BYTES, checked, papers_named
from herdsync.papers.signed import proof_name

PAPER_BYTES = 64 * 1024 * 1024


def check_proof(file: Path) -> ProofChecked:
    """What a proof file, or the proof beside a paper, comes to; its papers are read beside it.

    Raises Refused where it cannot be read or is no proof.
    """
    beside = file.with_name(proof_name(file.stem))
    if file.suffix == ".pdf" or (beside.exists() and beside != file):
        file = beside
    raw = _read(file, PROOF_BYTES)
    if raw is None:
        raise Refused(
            f"{file} is not there.",
            "Put the proof file beside its papers and name it; a paper that may not be handed over "
            "has none.",
        )
    text = raw.decode("utf-8", "replace")
    papers = {number: _paper(file, name) for number, name in papers_named(text).items()}
    try:
        return checked(str(file), text, papers)
    except BadBytes as fault:
        raise Refused(fault.what, fault.mend) from fault


def _paper(proof: Path, name: str) -> bytes | None:
    """The bytes of a paper beside its proof; a name that leads elsewhere names no paper."""
    if Path(name).name != name or name in (".", ".."):
        return None
    return _read(proof.with_name(name), PAPER_BYTES)


def _read(file: Path, most: int) -> bytes | None:
    try:
        with file.open("rb") as opened:
            content = opened.read(most + 1)
    except FileNotFoundError:
        return None
    except OSError as fault:
        raise Refused(f"{file} could not be read ({fault.strerror}).", "Name another.") from fault
    if len(content) > most:
        raise Refused(f"{file} is larger than {most // 1024**2} MiB.", "Name a proof or paper.")
    return content
