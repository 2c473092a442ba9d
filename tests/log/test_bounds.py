"""The numbers of format version 1, as they were when the first entry was written: they never change."""

from __future__ import annotations

from typing import Any

import pytest

from herdsync.faults import BadBytes
from herdsync.log import canonical, limits
from herdsync.log.entry import AUTHORITY, BY_HAND, CRITICAL, encode_body, pack, read, unpack
from herdsync.log.trust import Admitting, Judging, Removing, payload_of
from herdsync.log.writer import Act, Pen, next_entry
from tests.log.plain import FARM, device_of, key_of, written
from tests.log.test_chains import Held
from tests.log.test_entry import parts_of

BEFORE = b"\x01" * 32


def ids(count: int, size: int) -> list[bytes]:
    return [number.to_bytes(size, "big") for number in range(count)]


# The last that is taken, the first that is not.
EDGES: dict[str, tuple[Any, Any]] = {
    "sequence": (281_474_976_710_655, 281_474_976_710_656),
    "height": (9_007_199_254_740_991, 9_007_199_254_740_992),
    "clock": (9_007_199_254_740_991, 9_007_199_254_740_992),
    "parents": (ids(32, 32), ids(33, 32)),
    "subjects": (ids(256, 16), ids(257, 16)),
    "kind_version": (65_535, 65_536),
    "flags": (7, 8),
}


@pytest.mark.parametrize("name", EDGES)
def test_what_a_header_may_tell_ends_where_it_always_did(name: str) -> None:
    entry = written(device_of("a"))
    last, beyond = (
        canonical.encode(
            parts_of(entry.header, {"sequence": 1, "previous": BEFORE} | {name: value})
        )
        for value in EDGES[name]
    )
    read_back = read(last, entry.body_bytes, entry.signature)
    assert unpack(pack(read_back), read_back.place) == read_back
    with pytest.raises(BadBytes):
        read(beyond, entry.body_bytes, entry.signature)


def test_the_marks_of_an_entry_are_bits_of_their_own() -> None:
    assert (CRITICAL, BY_HAND, AUTHORITY) == (1, 2, 4)


def test_sizes_are_what_they_always_were() -> None:
    entry = written(device_of("a"))
    # Beyond its bound a part is not even looked at; within it is read, and found to be nothing.
    for header, body, larger in (
        (bytes(16_384), entry.body_bytes, False),
        (bytes(16_385), entry.body_bytes, True),
        (entry.header_bytes, bytes(65_536), False),
        (entry.header_bytes, bytes(65_537), True),
    ):
        with pytest.raises(BadBytes) as refused:
            read(header, body, entry.signature)
        assert ("larger" in str(refused.value)) is larger
    empty = len(encode_body(bytes(16), "", None, {"t": "x" * 60_000})) - 60_000
    whole = written(device_of("a"), payload={"t": "x" * (65_536 - empty)})
    assert unpack(pack(whole), whole.place) == whole
    # How long a record may be that comes from a carrier or another laptop.
    assert limits.ENTRY_BYTES == 16_384 + 65_536 + 256


def test_values_are_as_deep_and_as_many_as_they_always_were() -> None:
    nested: Any = 1
    for _ in range(10):
        nested = [nested]
    canonical.scan(canonical.encode(nested))
    canonical.scan(canonical.encode([0] * 4_095))
    for beyond in ([nested], [0] * 4_096):
        with pytest.raises(BadBytes):
            canonical.scan(canonical.encode(beyond))


KEY, CLAIM = bytes(32), bytes(16)
ADMITTED = {
    "key": KEY, "seal": KEY, "keeper": "O", "device": "h" * 80, "role": "keeper", "request": b"",
    "proof": bytes(64),
}  # fmt: skip


@pytest.mark.parametrize(
    ("shape", "told", "beyond"),
    [
        (Admitting, ADMITTED, {"key": bytes(33)}),
        (Admitting, ADMITTED, {"seal": bytes(31)}),
        (Admitting, ADMITTED, {"keeper": ""}),
        (Admitting, ADMITTED, {"device": "h" * 81}),
        (Admitting, ADMITTED, {"proof": bytes(65)}),
        (Removing, {"key": KEY, "last": [CLAIM]}, {"last": [bytes(17)]}),
        (Judging, {"entries": [CLAIM]}, {"entries": [bytes(15)]}),
        (Judging, {"entries": [CLAIM]}, {"entries": [bytes(17)]}),
    ],
)
def test_who_may_write_is_told_in_the_lengths_it_always_was(
    shape: type, told: dict[str, Any], beyond: dict[str, Any]
) -> None:
    payload_of(written(device_of("a"), payload=told), shape)
    with pytest.raises(BadBytes):
        payload_of(written(device_of("a"), payload=told | beyond), shape)


def test_an_act_of_which_nothing_more_is_said_is_of_version_one_and_bears_no_mark() -> None:
    pen = Pen(FARM, key_of("a"), "", 0)
    entry = next_entry(Held().chains, None, pen, Act("record", "note", {}), bytes(16), None)
    assert (entry.header.kind_version, entry.header.flags, entry.header.subjects) == (1, 0, [])
