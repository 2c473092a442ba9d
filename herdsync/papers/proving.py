"""Reads a proof file back: does it hold, of which papers, under whose key, and who let that key in.

A proof file comes from a stranger: it is bounded, and nothing in it is believed but what its signatures
carry. Bytes in, values out; must not know disk or farm.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress

from herdsync.faults import BadBytes
from herdsync.kinds.ids import text_id
from herdsync.log.entry import TAG_BODY, TAG_ENTRY, Entry, read
from herdsync.log.signing import entry_verifies, public_pem, refuse_weak_key, verifies
from herdsync.log.trust import ADMIT, FOUND, Admitting, Founding, admitting_of, founding_of
from herdsync.papers.outcomes import PaperChecked, ProofChecked
from herdsync.papers.signed import TAG
from herdsync.safe_text import safe_text

PROOF_BYTES = 8 * 1024 * 1024
BLOCKS_MOST = 2_000
# What stands before the 32 bytes of an Ed25519 key in the form public tools read (RFC 8410, section 4).
_KEY_LEAD = bytes.fromhex("302a300506032b6570032100")
_BEGIN = re.compile(r"-----BEGIN ([A-Z]+(?: [A-Z]+)*(?: \d{1,6})?)-----")
_PAPER = re.compile(r"Paper (\d{1,6}): (.+)")

Blocks = dict[str, str]


def papers_named(text: str) -> dict[int, str]:
    """The files a proof speaks of, by their number in it."""
    found = {}
    for line in text.split("\n"):
        told = _PAPER.fullmatch(line)
        if told is not None:
            found[int(told[1])] = told[2]
    return found


def checked(file: str, text: str, papers: Mapping[int, bytes | None]) -> ProofChecked:
    """What a proof file comes to. ``papers``: the bytes of each file it names, None for one not there.

    Raises BadBytes where it is no proof file at all.
    """
    blocks = _blocks(text)
    names = papers_named(text) if "PAPER KEY" in blocks else {}
    entries, faults = _entries(blocks)
    if not entries and not names:
        raise BadBytes(f"{file} is no proof file of this program.", "Name one that is.")
    key: bytes | None = None
    if names:
        try:
            key = _key(blocks["PAPER KEY"])
        except (ValueError, BadBytes) as fault:
            faults.append(f"the key of the papers cannot be used ({fault})")
    elif entries:
        key = entries[0].header.device
    told = [_paper(number, name, blocks, key, papers.get(number))
            for number, name in sorted(names.items())]  # fmt: skip
    lines, signed_by, chained = _who(key, entries) if key is not None else ([], "", False)
    if not chained and not faults:
        faults.append("nothing in the file shows who that key was given to")
    farm, founder = _founding(entries)
    return ProofChecked(
        file,
        holds=not faults and all(one.holds for one in told),
        signed_by=signed_by,
        key="" if key is None else key.hex(),
        farm="" if founder is None else safe_text(founder.farm),
        farm_id="" if farm is None else text_id(farm.id),
        papers=told,
        entries=[f"{text_id(one.id)} ({one.header.verb} {one.header.kind})" for one in entries],
        says=lines,
        faults=faults,
    )


def _blocks(text: str) -> Blocks:
    """What stands between marks of beginning and end, each on a line of its own."""
    found: Blocks = {}
    name, held = "", list[str]()
    for line in text.split("\n"):
        line = line.rstrip("\r")
        begins = _BEGIN.fullmatch(line)
        if name and line == f"-----END {name}-----":
            if name in found or len(found) >= BLOCKS_MOST:
                raise BadBytes(
                    "A proof file tells one part twice, or has too many.", "Ask for it anew."
                )
            found[name] = "\n".join(held)
            name = ""
        elif begins is not None and not name:
            name, held = begins[1], []
        elif name:
            held.append(line)
    return found


def _entries(blocks: Blocks) -> tuple[list[Entry], list[str]]:
    """The entries that stand whole and signed, and what is wrong with the others."""
    sound, faults = [], []
    numbers = sorted(int(name[7:]) for name in blocks if re.fullmatch(r"HEADER \d+", name))
    for number in numbers:
        try:
            sound.append(_entry(blocks, number))
        except KeyError as fault:
            faults.append(f"part {number} lacks its {fault.args[0].rsplit(' ', 1)[0].lower()}")
        except (ValueError, BadBytes) as fault:
            faults.append(f"part {number} is not as it was signed ({safe_text(str(fault))[:160]})")
    return sound, faults


def _entry(blocks: Blocks, number: int) -> Entry:
    header, body = _raw(blocks[f"HEADER {number}"]), _raw(blocks[f"BODY {number}"])
    if not header.startswith(TAG_ENTRY) or not body.startswith(TAG_BODY):
        raise BadBytes("It does not begin as an entry does.")
    signature = _raw(blocks[f"SIGNATURE {number}"])
    entry = read(header[len(TAG_ENTRY) :], body[len(TAG_BODY) :], signature)
    if blocks[f"KEY {number}"].strip() != public_pem(entry.header.device).strip():
        raise BadBytes("The key shown is not the one the entry names.")
    if not entry_verifies(entry):
        raise BadBytes("Its signature is not by the key it names.")
    return entry


def _paper(
    number: int, name: str, blocks: Blocks, key: bytes | None, content: bytes | None
) -> PaperChecked:
    """Whether the bytes of one paper are those that were signed."""
    if content is None:
        return PaperChecked(name, False, "the file is not beside its proof")
    digest = hashlib.sha256(content).hexdigest()
    try:
        signature = _raw(blocks[f"PAPER SIGNATURE {number}"])
    except (KeyError, ValueError):
        return PaperChecked(name, False, "the proof holds no signature of it", digest)
    if key is None or not verifies(key, signature, TAG + content):
        return PaperChecked(name, False, "it is not the paper that was signed", digest)
    return PaperChecked(name, True, "not one letter was changed", digest)


def _who(key: bytes, entries: Iterable[Entry]) -> tuple[list[str], str, bool]:
    """Who a key was given to, link by link, back to the farm's founding; and whether it gets there."""
    lines: list[str] = []
    every = list(entries)
    farm, founder = _founding(every)
    let_in = _let_in(every, farm)
    signed_by = ""
    while farm is not None and founder is not None:
        if key == farm.header.device:
            whose = safe_text(f"{founder.keeper}'s laptop '{founder.device}'")
            lines.append(f"{whose} founded the farm {safe_text(founder.farm)}.")
            return lines, signed_by or whose, True
        if lines and key == founder.recovery:
            lines.append(f"The recovery words of the farm {safe_text(founder.farm)} let it in.")
            return lines, signed_by, True
        if (found := let_in.pop(key, None)) is None:
            break
        by, admitted = found
        whose = safe_text(f"{admitted.keeper}'s laptop '{admitted.device}'")
        signed_by = signed_by or whose
        lines.append(f"{whose} was let into the farm as {admitted.role}.")
        key = by
    return lines, signed_by, False


def _founding(entries: Iterable[Entry]) -> tuple[Entry | None, Founding | None]:
    for entry in entries:
        if entry.header.verb == FOUND:
            with suppress(BadBytes):
                return entry, founding_of(entry)
    return None, None


def _let_in(entries: Iterable[Entry], farm: Entry | None) -> dict[bytes, tuple[bytes, Admitting]]:
    """By each key given a place in the farm: who gave it, and what it was given."""
    found = {}
    for entry in entries:
        if entry.header.verb == ADMIT and farm is not None and entry.header.farm == farm.id:
            with suppress(BadBytes):
                admitting = admitting_of(entry)
                found[admitting.key] = (entry.header.device, admitting)
    return found


def _key(pem: str) -> bytes:
    """The bytes of a key in the form public tools read. Raises ValueError or BadBytes."""
    inner = [line for line in pem.split("\n") if line and not line.startswith("-----")]
    raw = _raw("\n".join(inner))
    if not raw.startswith(_KEY_LEAD):
        raise BadBytes("it is no Ed25519 key")
    key = raw[len(_KEY_LEAD) :]
    refuse_weak_key(key)
    return key


def _raw(block: str) -> bytes:
    told = "".join(block.split())
    try:
        raw = base64.b64decode(told, validate=True)
    except binascii.Error as fault:
        raise ValueError("it is no base64") from fault
    # The last letter may hold bits that no byte has.
    if base64.b64encode(raw).decode() != told:
        raise ValueError("it is not in its one form")
    return raw
