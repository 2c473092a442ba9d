"""The one form of a value in bytes: a small, strict part of MessagePack.

Allowed: nil, bool, int in [-2**63, 2**63-1], bin, str (UTF-8 without NUL), array, map with str keys
in ascending code-point order. Everything in its shortest encoding; no float, no extension.
The scan's verdict depends on the bytes alone and never on the caller's stack: it is iterative.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from herdsync.faults import BadBytes
from herdsync.log.limits import DEPTH, NODES

# The canonical bytes of a value made of the allowed types.
encode: Callable[[Any], bytes] = msgspec.msgpack.Encoder(order="deterministic").encode
_decode = msgspec.msgpack.Decoder().decode

# How bytes that are no value, or no canonical one, end decoding and encoding.
UNSOUND = (msgspec.MsgspecError, ValueError, TypeError, OverflowError, RecursionError)

_UINT = {0xCC: (1, 0x80), 0xCD: (2, 0x100), 0xCE: (4, 0x1_0000), 0xCF: (8, 0x1_0000_0000)}
_INT = {0xD0: (1, -0x20), 0xD1: (2, -0x80), 0xD2: (4, -0x8000), 0xD3: (8, -0x8000_0000)}
_BIN = {0xC4: (1, 0), 0xC5: (2, 0x100), 0xC6: (4, 0x1_0000)}
_STR = {0xD9: (1, 0x20), 0xDA: (2, 0x100), 0xDB: (4, 0x1_0000)}
_ARRAY = {0xDC: (2, 0x10), 0xDD: (4, 0x1_0000)}
_MAP = {0xDE: (2, 0x10), 0xDF: (4, 0x1_0000)}


def decode(raw: bytes) -> Any:
    """The value of canonical bytes. Raises BadBytes where the bytes are not in the one form."""
    scan(raw)
    # A RecursionError goes through: the scan bounds the depth, so it speaks of the caller's stack and
    # must not become a verdict on the bytes.
    try:
        return _decode(raw)
    except (msgspec.MsgspecError, ValueError) as fault:
        raise BadBytes(f"The bytes are not a readable value ({fault}).") from fault


def scan(raw: bytes) -> None:
    """Pass canonical bytes; raise BadBytes for any other form, whatever the value's type."""
    # What is sound is seen to be so quickly; anything else is walked byte by byte for its verdict.
    if not _plainly_sound(raw):
        _Scan(raw).run()


def _plainly_sound(raw: bytes) -> bool:
    """Whether few bytes are a value of allowed parts and the very bytes it is written in.

    False says nothing: deep values end the decoder at a depth that depends on the caller's stack.
    """
    try:
        value = _decode(raw)
        return few(raw) and allowed(value, DEPTH) and encode(value) == raw
    except UNSOUND:
        return False


def few(raw: bytes) -> bool:
    """Whether bytes are too few to hold too many parts, none of which is smaller than a byte."""
    return len(raw) <= NODES


def allowed(value: Any, depth: int) -> bool:
    """Whether a decoded value has only allowed parts, nested at most so deep."""
    # A value is looked at as a part of what holds it.
    waiting: list[tuple[Any, int]] = [([value], depth)]
    while waiting:
        one, left = waiting.pop()
        if type(one) is dict:
            for key in one:
                if type(key) is not str or "\0" in key:
                    return False
            one = one.values()
        for part in one:
            kind = type(part)
            if kind is str:
                if "\0" in part:
                    return False
            elif kind is list or kind is dict:
                if not left:
                    return False
                waiting.append((part, left - 1))
            elif kind is int:
                if not -(2**63) <= part < 2**63:
                    return False
            elif kind is not bytes and kind is not bool and part is not None:
                return False
    return True


class _Scan:
    """One walk over the bytes with a stack of its own."""

    def __init__(self, raw: bytes) -> None:
        self.raw = raw
        self.at = 0
        # One frame an open container: [items left, is a map, next is a key, last key].
        self.open: list[list[Any]] = []

    def run(self) -> None:
        nodes = 0
        while True:
            nodes += 1
            if nodes > NODES:
                raise BadBytes(f"A value has more than {NODES} parts.")
            self._item()
            while self.open and self.open[-1][0] == 0:
                self.open.pop()
            if not self.open:
                break
        if self.at != len(self.raw):
            raise BadBytes("There are bytes after the end of a value.")

    def _item(self) -> None:
        key = self._expects_key()
        tag = self._take(1)[0]
        text = self._text_length(tag)
        if text is not None:
            self._text(text, key)
        elif key:
            raise BadBytes("A map has a key that is not text.")
        elif tag in _BIN:
            self._take(self._sized(tag, _BIN))
        elif 0x90 <= tag <= 0x9F or tag in _ARRAY:
            self._enter(tag & 0x0F if tag <= 0x9F else self._sized(tag, _ARRAY), False)
        elif 0x80 <= tag <= 0x8F or tag in _MAP:
            self._enter(tag & 0x0F if tag <= 0x8F else self._sized(tag, _MAP), True)
        else:
            self._scalar(tag)

    def _expects_key(self) -> bool:
        if not self.open:
            return False
        frame = self.open[-1]
        if not frame[1]:
            frame[0] -= 1
            return False
        key = bool(frame[2])
        frame[2] = not key
        if not key:
            frame[0] -= 1
        return key

    def _text_length(self, tag: int) -> int | None:
        if 0xA0 <= tag <= 0xBF:
            return tag & 0x1F
        return self._sized(tag, _STR) if tag in _STR else None

    def _text(self, length: int, key: bool) -> None:
        piece = self._take(length)
        if b"\0" in piece:
            raise BadBytes("A text holds a NUL character.")
        try:
            piece.decode()
        except UnicodeDecodeError as fault:
            raise BadBytes("A text is not UTF-8.") from fault
        if key:
            frame = self.open[-1]
            if frame[3] is not None and piece <= frame[3]:
                raise BadBytes("The keys of a map are doubled or out of order.")
            frame[3] = piece

    def _enter(self, count: int, is_map: bool) -> None:
        if len(self.open) >= DEPTH:
            raise BadBytes(f"A value is nested more than {DEPTH} deep.")
        if count > len(self.raw) - self.at:
            raise BadBytes("A value claims more parts than there are bytes.")
        self.open.append([count, is_map, is_map, None])

    def _scalar(self, tag: int) -> None:
        if tag <= 0x7F or tag >= 0xE0 or tag in (0xC0, 0xC2, 0xC3):
            return
        if tag in _UINT:
            size, least = _UINT[tag]
            number = int.from_bytes(self._take(size), "big")
            if number < least or number >= 2**63:
                raise BadBytes("A number is not in its shortest form or too large.")
        elif tag in _INT:
            size, below = _INT[tag]
            if int.from_bytes(self._take(size), "big", signed=True) >= below:
                raise BadBytes("A number is not in its shortest form.")
        else:
            raise BadBytes(
                "A value has a part of a kind that entries do not use (float or extension)."
            )

    def _sized(self, tag: int, table: dict[int, tuple[int, int]]) -> int:
        size, least = table[tag]
        length = int.from_bytes(self._take(size), "big")
        if length < least:
            raise BadBytes("A length is not in its shortest form.")
        return length

    def _take(self, count: int) -> bytes:
        end = self.at + count
        if end > len(self.raw):
            raise BadBytes("A value ends too early.")
        piece = self.raw[self.at : end]
        self.at = end
        return piece
