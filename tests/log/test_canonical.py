"""The one form of a value in bytes: everything else is refused, whoever reads it and from where."""

from __future__ import annotations

import math
import struct
import sys
from collections.abc import Callable
from typing import Any

import msgspec
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from herdsync.faults import BadBytes
from herdsync.log import canonical
from herdsync.log.limits import DEPTH, NODES

TEXTS = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=40)
SCALARS = (
    st.none() | st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.binary(max_size=300) | TEXTS
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(TEXTS, inner, max_size=5),
    max_leaves=20,
)


def depth_of(value: Any) -> int:
    inner = value.values() if isinstance(value, dict) else value
    return 1 + max(map(depth_of, inner), default=0) if isinstance(value, dict | list) else 0


@given(VALUES.filter(lambda value: depth_of(value) <= DEPTH))
@example({"\uffff": 1, "\U00010000": 2, "": 3, "a": 4})
@example([2**63 - 1, -(2**63), 127, 128, 255, 256, 65535, 65536, -32, -33, -128, -129, -32769])
@example(["x" * 31, "x" * 32, "x" * 255, "x" * 256, "x" * 65535, "x" * 65536])
@example([b"x" * 255, b"x" * 256, b"x" * 65536, [0] * 15, [0] * 16])
def test_there_and_back(value: Any) -> None:
    raw = canonical.encode(value)
    assert canonical.decode(raw) == value
    assert canonical.encode(canonical.decode(raw)) == raw


@given(VALUES.filter(lambda value: depth_of(value) <= DEPTH), st.data())
def test_no_part_and_no_more_than_the_whole_passes(value: Any, data: st.DataObject) -> None:
    raw = canonical.encode(value)
    for cut in range(len(raw)) if len(raw) < 200 else [data.draw(st.integers(0, len(raw) - 1))]:
        with pytest.raises(BadBytes):
            canonical.scan(raw[:cut])
    with pytest.raises(BadBytes, match="after the end"):
        canonical.scan(raw + data.draw(st.binary(min_size=1, max_size=3)))


@given(st.binary(max_size=60))
def test_what_passes_has_one_form(raw: bytes) -> None:
    try:
        value = canonical.decode(raw)
    except BadBytes:
        return
    assert canonical.encode(value) == raw


@given(VALUES.filter(lambda value: depth_of(value) <= DEPTH), st.data())
def test_a_changed_byte_gives_another_value_or_none(value: Any, data: st.DataObject) -> None:
    raw = bytearray(canonical.encode(value))
    at = data.draw(st.integers(0, len(raw) - 1))
    raw[at] ^= data.draw(st.integers(1, 255))
    try:
        other = canonical.decode(bytes(raw))
    except BadBytes:
        return
    assert canonical.encode(other) == bytes(raw) != canonical.encode(value)


# MessagePack specification (msgpack/msgpack, spec.md): the longer encodings of what fits a shorter one,
# and the formats that entries do not use.
SECOND_FORMS = {
    "uint8 of 127": "cc7f",
    "uint16 of 255": "cd00ff",
    "uint32 of 65535": "ce0000ffff",
    "uint64 of 2**32-1": "cf00000000ffffffff",
    "int8 of -32": "d0e0",
    "int8 of 5": "d005",
    "int16 of -128": "d1ff80",
    "int16 of 200": "d100c8",
    "int32 of -32768": "d2ffff8000",
    "int64 of -2**31": "d3ffffffff80000000",
    "int64 of 1": "d30000000000000001",
    "str8 of 31": "d91f" + "61" * 31,
    "str16 of 255": "da00ff" + "61" * 255,
    "str32 of 1": "db0000000161",
    "bin16 of 1": "c5000161",
    "bin32 of 1": "c60000000161",
    "array16 of 1": "dc000101",
    "array32 of 1": "dd0000000101",
    "map16 of 1": "de0001a16101",
    "map32 of 1": "df00000001a16101",
    "too large": "cf8000000000000000",
}
NOT_USED = {
    "float32": "ca3f800000",
    "float64": "cb3ff0000000000000",
    "NaN": "cb7ff8000000000000",
    "infinity": "cb7ff0000000000000",
    "fixext1": "d40100",
    "fixext4, a timestamp": "d6ff00000000",
    "ext8": "c7010100",
    "ext16": "c800010100",
    "ext32": "c9000000010100",
    "never used": "c1",
}
BROKEN_MAPS = {
    "doubled key": "82a16101a16102",
    "keys out of order": "82a16201a16101",
    "number as key": "810101",
    "bytes as key": "81c4016101",
    "nil as key": "81c001",
    "array as key": "819001",
    "map as key": "818001",
}
BROKEN_TEXTS = {
    "NUL": "a100",
    "NUL in a key": "81a10001",
    "half a letter": "a1c3",
    "overlong": "a2c0af",
    "surrogate": "a3eda080",
    "beyond U+10FFFF": "a4f4908080",
}


@pytest.mark.parametrize(
    "told",
    [*SECOND_FORMS.values(), *NOT_USED.values(), *BROKEN_MAPS.values(), *BROKEN_TEXTS.values()],
)
def test_other_forms_are_refused_alone_and_inside(told: str) -> None:
    raw = bytes.fromhex(told)
    for wrapped in (raw, b"\x91" + raw, b"\x81\xa1k" + raw, b"\x93\x01" + raw + b"\x01"):
        with pytest.raises(BadBytes):
            canonical.scan(wrapped)
        with pytest.raises(BadBytes):
            canonical.decode(wrapped)


@pytest.mark.parametrize("number", [0.0, 1.5, math.nan, math.inf])
def test_a_float_cannot_be_written_for_reading(number: float) -> None:
    with pytest.raises(BadBytes, match="float"):
        canonical.scan(canonical.encode({"weight": number}))
    with pytest.raises(BadBytes, match="float"):
        canonical.scan(b"\xcb" + struct.pack(">d", number))


def test_keys_stand_in_code_point_order() -> None:
    # UTF-8 keeps code-point order where UTF-16 does not: U+FFFF comes before U+10000.
    first, second = canonical.encode("\uffff"), canonical.encode("\U00010000")
    canonical.scan(b"\x82" + first + b"\x01" + second + b"\x01")
    with pytest.raises(BadBytes):
        canonical.scan(b"\x82" + second + b"\x01" + first + b"\x01")


def test_depth_is_bounded() -> None:
    nested: Any = 1
    for _ in range(DEPTH):
        nested = [nested]
    canonical.scan(canonical.encode(nested))
    for deeper in ([nested], {"k": nested}):
        with pytest.raises(BadBytes, match="nested more than"):
            canonical.scan(canonical.encode(deeper))
    with pytest.raises(BadBytes, match="nested more than"):
        canonical.scan(b"\x91" * 60_000 + b"\x01")


def test_the_number_of_parts_is_bounded() -> None:
    canonical.scan(canonical.encode([0] * (NODES - 1)))
    with pytest.raises(BadBytes, match="parts"):
        canonical.scan(canonical.encode([0] * NODES))


@pytest.mark.parametrize(
    "raw",
    [b"\xdd\xff\xff\xff\xff", b"\xdf\xff\xff\xff\xff", b"\xdc\xff\xff", b"\xc6\xff\xff\xff\xff"],
)
def test_a_claimed_size_costs_nothing(raw: bytes) -> None:
    with pytest.raises(BadBytes):
        canonical.scan(raw + bytes(4))


def from_stack_depth(depth: int, call: Callable[[], str]) -> str:
    return call() if depth == 0 else from_stack_depth(depth - 1, call)


def verdict(raw: bytes) -> str:
    try:
        canonical.decode(raw)
    except BadBytes:
        return "refused"
    return "passed"


@pytest.mark.parametrize("deep", [DEPTH, DEPTH + 1, 200])
def test_the_verdict_is_the_same_from_any_stack_depth(deep: int) -> None:
    raw = b"\x91" * deep + b"\x01"
    told = verdict(raw)
    assert told == ("passed" if deep <= DEPTH else "refused")
    # To the brink of the interpreter's own limit, where the only other outcome is no verdict at all.
    limit = sys.getrecursionlimit()
    for depth in [*range(0, limit - 150, 50), *range(limit - 150, limit)]:
        try:
            found = from_stack_depth(depth, lambda: verdict(raw))
        except RecursionError:
            continue
        assert found == told, depth


@given(VALUES)
def test_a_looser_reader_reads_the_same(value: Any) -> None:
    # The bytes are MessagePack: a plain decoder of the format reads what was written.
    assert msgspec.msgpack.decode(canonical.encode(value)) == value


def walked(raw: bytes) -> str:
    try:
        canonical._Scan(raw).run()
    except BadBytes:
        return "refused"
    return "passed"


@given(VALUES, st.data())
def test_the_quick_look_and_the_walk_agree(value: Any, data: st.DataObject) -> None:
    raw = bytearray(canonical.encode(value))
    assert verdict(bytes(raw)) == walked(bytes(raw))
    for _ in range(8):
        raw[data.draw(st.integers(0, len(raw) - 1))] ^= 1 << data.draw(st.integers(0, 7))
        assert verdict(bytes(raw)) == walked(bytes(raw))


@given(st.binary(max_size=40))
def test_the_quick_look_and_the_walk_agree_on_any_bytes(raw: bytes) -> None:
    assert verdict(raw) == walked(raw)


# MessagePack specification (msgpack/msgpack, spec.md): where one format ends and the next begins.
EDGES: list[Any] = [
    *(2**bits - 1 for bits in (0, 7, 8, 16, 32, 63)),
    *(2**bits for bits in (7, 8, 16, 32)),
    *(-(2**bits) for bits in (0, 5, 7, 15, 31, 63)),
    *(-(2**bits) - 1 for bits in (5, 7, 15, 31)),
    *("x" * size for size in (0, 1, 31, 32, 255, 256, 65535, 65536)),
    *(b"x" * size for size in (0, 1, 255, 256, 65535, 65536)),
    *([0] * size for size in (0, 1, 15, 16, NODES - 1)),
    *({f"{n:04}": 0 for n in range(size)} for size in (0, 1, 15, 16, (NODES - 1) // 2)),
    *(None, True, False),
]


@pytest.mark.parametrize("value", EDGES, ids=lambda one: repr(one)[:12])
def test_the_walk_alone_passes_every_edge_of_a_format_and_nothing_cut_or_longer(value: Any) -> None:
    raw = canonical.encode(value)
    assert walked(raw) == "passed"
    assert walked(raw[:-1]) == walked(raw + b"\0") == "refused"
    if not isinstance(value, list | dict):
        assert walked(canonical.encode([value, {"k": value}, 1])) == "passed"


@pytest.mark.parametrize(
    "told",
    [*SECOND_FORMS.values(), *NOT_USED.values(), *BROKEN_MAPS.values(), *BROKEN_TEXTS.values()],
)
def test_the_walk_alone_refuses_other_forms(told: str) -> None:
    raw = bytes.fromhex(told)
    for wrapped in (raw, b"\x91" + raw, b"\x81\xa1k" + raw, b"\x93\x01" + raw + b"\x01"):
        assert walked(wrapped) == "refused"


def test_the_walk_and_a_plain_decoder_agree_on_every_beginning() -> None:
    """Of all one and two bytes those pass that a decoder of the format reads and writes the same."""
    for first in range(256):
        for raw in (bytes([first]), *(bytes([first, second]) for second in range(256))):
            try:
                value = msgspec.msgpack.decode(raw)
                sound = msgspec.msgpack.encode(value) == raw and value != "\0"
            except (msgspec.MsgspecError, TypeError, ValueError):
                sound = False
            assert (walked(raw) == "passed") is sound, raw.hex()
