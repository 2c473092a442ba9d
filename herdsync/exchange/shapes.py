"""Bytes from elsewhere in the one canonical form of a fixed shape, whatever the shape bounds itself."""

from __future__ import annotations

from typing import TypeVar

import msgspec

from herdsync.faults import BadBytes
from herdsync.log import canonical

T = TypeVar("T")


def typed(decoder: msgspec.msgpack.Decoder[T], raw: bytes) -> T:
    """The value of canonical bytes in the decoder's shape. Raises BadBytes."""
    try:
        value = decoder.decode(raw)
        same = canonical.encode(value) == raw
    except (msgspec.MsgspecError, ValueError, RecursionError, OverflowError) as fault:
        raise BadBytes(f"A part of it does not have the form it should ({fault}).") from fault
    if not same:
        raise BadBytes("A part of it is not in its one canonical form.")
    return value
