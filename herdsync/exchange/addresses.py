"""What a keeper types to name a carrier: another laptop's address, a depot, or else a folder.

Must not open anything.
"""

from __future__ import annotations

import re

from msgspec import Struct

from herdsync.faults import Refused
from herdsync.safe_text import safe_text

PORTS = 65_535
_SIX = re.compile(r"\[([0-9A-Fa-f:.]+(?:%[\w.-]+)?)\](?::([0-9]{1,5}))?\Z")
# A single letter before the colon is a drive, not a laptop.
_NAMED = re.compile(r"([A-Za-z0-9][A-Za-z0-9._-]+):([0-9]{1,5})\Z")
_DEPOT = re.compile(r"(sftp|s3)://", re.IGNORECASE)


class Address(Struct, frozen=True):
    """Where another laptop listens; an address of IPv6 is written in brackets."""

    host: str
    port: int

    def __str__(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"


def address_in(text: str) -> Address | None:
    """The address that a text is, or None where it is no address. Raises Refused for a port there is not."""
    found = _SIX.match(text) or _NAMED.match(text)
    if found is None:
        return None
    host, port = found.groups()
    if port is None or not 1 <= int(port) <= PORTS:
        raise Refused(
            f"{safe_text(text)} names no port from 1 to {PORTS}.",
            "Write the port the other laptop told, as 192.0.2.7:7070 or [2001:db8::7]:7070.",
        )
    return Address(host, int(port))


def is_depot(text: str) -> bool:
    """Whether a text names a depot rather than a folder."""
    return _DEPOT.match(text) is not None
