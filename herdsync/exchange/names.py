"""What bundles are called on a carrier, and how one is known again. A name is a hint, never trusted.

Must not open or write anything.
"""

from __future__ import annotations

import hashlib
import re

from herdsync.exchange.bundle import Statement
from herdsync.exchange.carrier import TAIL_BYTES
from herdsync.exchange.sealing import tag_text, writer_tag
from herdsync.safe_text import safe_text
from herdsync.store.carried import Sighting

SUFFIX = ".bundle"

_NUMBER = re.compile(r"-([0-9]{8})")


def bundle_name(farm: bytes, device: bytes, number: int) -> str:
    """The name a device gives its bundle: short, lower case, ASCII, for every file system."""
    return f"{tag_text(writer_tag(farm, device))}-{number:08d}{SUFFIX}"


def note_name(what: str, known_as: str) -> str:
    """What a note about a carrier is kept under, of any length and whatever signs it is known by."""
    return f"{what}-{hashlib.sha256(known_as.encode('utf-8', 'replace')).hexdigest()[:32]}"


def named_as_bundle(name: str) -> bool:
    """Whether a file's name claims a bundle, be it a conflict copy or a renamed double of one."""
    return SUFFIX in name.lower()


def suggested_order(name: str) -> tuple[int, str]:
    """The order in which files best follow one another, as their names suggest it."""
    found = _NUMBER.search(name)
    return (int(found[1]) if found else 0, name)


def stored_name(name: str) -> str:
    """A file's name as text that any store can hold."""
    return name.encode("utf-8", "backslashreplace").decode()


def shown_name(name: str) -> str:
    """A file as sentences name it."""
    return f"file {safe_text(name)}"


def sighting_of(
    name: str, raw: bytes, said: Statement, recipients: list[bytes], ids: list[tuple[bytes, int]]
) -> Sighting:
    """What to remember of a sound bundle."""
    tail = raw[-TAIL_BYTES:]
    return Sighting(stored_name(name), len(raw), tail, said.device, said.counter, recipients, ids)
