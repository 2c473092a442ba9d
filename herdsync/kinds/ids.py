"""The text of ids: lower-case base32 (RFC 4648 section 6) without padding.

Record ids are 16 bytes (26 characters), entry and farm ids 32 bytes (52 characters).
Must not know what an id names.
"""

from __future__ import annotations

import base64
import binascii

RECORD_ID_BYTES = 16
ENTRY_ID_BYTES = 32


_LETTERS = "abcdefghijklmnopqrstuvwxyz234567"
_PAIRS = [one + other for one in _LETTERS for other in _LETTERS]
# The ten-bit groups of a record id, the highest first: 128 bits and two of padding.
_PLACES = range(120, -1, -10)


def text_id(raw: bytes) -> str:
    """The text of an id: 26 characters for 16 bytes, 52 for 32."""
    if len(raw) != RECORD_ID_BYTES:
        return base64.b32encode(raw).decode("ascii").rstrip("=").lower()
    number = int.from_bytes(raw, "big") << 2
    return "".join([_PAIRS[number >> place & 1023] for place in _PLACES])


def raw_id(text: str) -> bytes:
    """The bytes of an id's text. Only the exact text ``text_id`` gives is taken.

    Raises ValueError: two texts must never mean one id.
    """
    try:
        raw = base64.b32decode(text.upper() + "=" * (-len(text) % 8))
    except (binascii.Error, ValueError) as fault:
        raise ValueError("not an id: 26 or 52 of the characters a-z and 2-7") from fault
    if text_id(raw) != text or len(raw) not in (RECORD_ID_BYTES, ENTRY_ID_BYTES):
        raise ValueError("not an id as this program writes it: lower case, in full")
    return raw
