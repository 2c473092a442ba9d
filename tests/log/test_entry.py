"""Entries: bytes that never change, that no one else can have written, and that nothing alters unseen."""

from __future__ import annotations

import hashlib
import itertools
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.faults import BadBytes
from herdsync.log import canonical
from herdsync.log import entry as entry_of_bytes
from herdsync.log.entry import (
    AUTHORITY,
    CRITICAL,
    TAG_SIGN,
    Entry,
    Header,
    Place,
    body_hash,
    encode_body,
    entry_id,
    glance,
    keyed_record_id,
    pack,
    read,
    trusted_unpack,
    unpack,
)
from herdsync.log.limits import BODY_BYTES, CLOCK_MS, HEIGHT, PARENTS, SEQUENCE, SUBJECTS
from herdsync.log.signing import entry_verifies, verifies
from herdsync.log.trust import HandingOver, Judging, Ranking, Removing, payload_of
from tests.log import golden
from tests.log.plain import FARM, device_of, written


def kept(version: int) -> list[list[str]]:
    """What golden.py wrote in a version, line by line."""
    text = (Path(__file__).parent / f"golden_{version}.txt").read_text()
    return [line.split() for line in text.splitlines()]


GOLDEN = kept(1)
BEFORE = kept(0)
EVERY = [*GOLDEN, *BEFORE]
VERBS_WRITTEN = {
    "found", "admit", "record", "amend", "retract", "resolve", "same", "different",
    "role", "remove", "adopt", "set-aside", "hand-over",
}  # fmt: skip


def rebuilt(raw: list[bytes]) -> Entry:
    return read(raw[1], raw[2], raw[3])


def bytes_of(line: list[str]) -> list[bytes]:
    return [bytes.fromhex(part) for part in line[1:]]


def test_the_golden_bytes_cover_every_verb() -> None:
    assert {line[0] for line in GOLDEN} == VERBS_WRITTEN


@pytest.mark.parametrize("line", EVERY, ids=[f"{n}-{line[0]}" for n, line in enumerate(EVERY)])
def test_golden_bytes_read_as_they_always_did(line: list[str]) -> None:
    id, header, body, signature, packed = bytes_of(line)
    entry = read(header, body, signature)
    assert entry.id == id == hashlib.sha256(b"herdsync/1/entry\x00" + header).digest()
    assert entry.header.verb == line[0]
    assert verifies(entry.header.device, signature, TAG_SIGN + id)
    assert canonical.encode(entry.header) == header
    assert canonical.encode(entry.body) == body
    assert pack(entry) == packed
    assert unpack(packed, entry.place) == entry


def test_golden_bytes_are_written_as_they_always_were() -> None:
    assert golden.lines() == [" ".join(line) for line in GOLDEN]


def test_the_version_before_differs_in_nothing_but_its_number_and_what_follows_from_it() -> None:
    for line, before in zip(GOLDEN, BEFORE, strict=True):
        now, then = rebuilt(bytes_of(line)), rebuilt(bytes_of(before))
        follows = ("version", "farm", "previous", "parents", "subjects", "body_hash")
        same = {name for name in Header.__struct_fields__ if name not in follows}
        assert {n: getattr(now.header, n) for n in same} == {
            n: getattr(then.header, n) for n in same
        }
        assert (now.header.version, then.header.version) == (1, 0)
        assert now.id != then.id


def test_golden_values() -> None:
    rows = [rebuilt(bytes_of(line)) for line in GOLDEN]
    founding, admission, dose = rows[:3]
    barn = next(one for one in rows if one.header.device == golden.BARN.public)
    assert (founding.header.farm, founding.header.sequence, founding.header.flags) == (
        bytes(32),
        0,
        5,
    )
    assert admission.header.previous == founding.id == admission.header.farm
    assert (dose.body.by, dose.body.batch, dose.header.subjects) == ("Jun", golden.B, [golden.A])
    assert dose.body.payload["fields"]["milk_h"] == [96, 0, "h"]
    assert barn.header.height == 9
    assert len(barn.header.parents) == 1
    assert (barn.header.clock, barn.header.kind_version) == (-1, 65_535)
    assert dose.record_id == dose.id[:16]


@pytest.mark.parametrize(
    ("verb", "shape", "told"),
    [
        ("role", Ranking, Ranking(golden.BARN.public, "helper", "summer only")),
        ("remove", Removing, Removing(golden.BARN.public, [golden.A, golden.B])),
        ("hand-over", HandingOver, HandingOver(golden.RECOVERY.public, "Oda moves away 🐐")),
        ("adopt", Judging, Judging([golden.A], "she did trim them")),
    ],
)
def test_golden_decisions_say_what_they_said(verb: str, shape: type, told: object) -> None:
    (entry,) = (rebuilt(bytes_of(line)) for line in GOLDEN if line[0] == verb)
    assert payload_of(entry, shape) == told
    assert entry.header.flags == AUTHORITY | CRITICAL


@pytest.mark.parametrize("line", GOLDEN[:4], ids=[line[0] for line in GOLDEN[:4]])
def test_every_single_byte_mutation_is_refused(line: list[str]) -> None:
    _, header, body, signature, _ = bytes_of(line)
    id = rebuilt(bytes_of(line)).id
    parts = (header, body, signature)
    for part, turn in itertools.product(range(3), (1, 0x80, 0xFF)):
        for at in range(len(parts[part])):
            mutated = bytearray(parts[part])
            mutated[at] ^= turn
            told = [*parts[:part], bytes(mutated), *parts[part + 1 :]]
            try:
                entry = read(*told)
            except BadBytes:
                continue
            assert entry.id != id or part == 2, (part, at)
            assert not entry_verifies(entry), (part, at, turn)


@pytest.mark.parametrize("line", GOLDEN[2:5], ids=[line[0] for line in GOLDEN[2:5]])
def test_cut_short_or_made_longer(line: list[str]) -> None:
    _, header, body, signature, packed = bytes_of(line)
    place = rebuilt(bytes_of(line)).place
    for part in (header, body, signature):
        for cut in range(len(part)):
            with pytest.raises(BadBytes):
                read(*(part[:cut] if one is part else one for one in (header, body, signature)))
        with pytest.raises(BadBytes):
            read(*(part + b"\0" if one is part else one for one in (header, body, signature)))
    for cut in range(len(packed)):
        with pytest.raises(BadBytes):
            unpack(packed[:cut], place)
    with pytest.raises(BadBytes):
        unpack(packed + b"\0", place)


def test_a_packed_entry_belongs_to_its_place_alone() -> None:
    _, dose, after = (rebuilt(bytes_of(line)) for line in GOLDEN[1:4])
    place = dose.place
    wrong = [
        msgspec.structs.replace(place, farm=bytes(32)),
        msgspec.structs.replace(place, device=golden.BARN.public),
        msgspec.structs.replace(place, sequence=place.sequence + 1),
        msgspec.structs.replace(place, previous=after.id),
        after.place,
    ]
    for other in wrong:
        moved = unpack(pack(dose), other)
        assert moved.id != dose.id
        assert not entry_verifies(moved)
    for nowhere in (
        msgspec.structs.replace(place, sequence=0),
        msgspec.structs.replace(place, farm=b""),
    ):
        with pytest.raises(BadBytes):
            unpack(pack(dose), nowhere)


def test_a_mutated_packed_entry_does_not_verify() -> None:
    entry = rebuilt(bytes_of(GOLDEN[2]))
    packed = pack(entry)
    for at in range(len(packed)):
        mutated = bytearray(packed)
        mutated[at] ^= 1
        try:
            other = unpack(bytes(mutated), entry.place)
        except BadBytes:
            continue
        assert not entry_verifies(other), at


def test_what_the_store_reads_without_checking_says_the_same() -> None:
    for line in GOLDEN:
        entry = rebuilt(bytes_of(line))
        at = entry.header
        quick = trusted_unpack(pack(entry), at.farm, at.device, at.sequence, entry.id)
        assert (quick.id, quick.body, quick.order) == (entry.id, entry.body, entry.order)
        without = msgspec.structs.replace(at, previous=bytes(32), body_hash=b"")
        assert quick.header == without
        packed, body = glance(pack(entry))
        assert (packed.verb, packed.signature, body) == (line[0], entry.signature, entry.body)


def walked(entry: Entry) -> Entry:
    """An entry's bytes once more, every one of them walked over."""
    header, body = entry_of_bytes._walked(entry.header_bytes, entry.body_bytes)
    assert header.body_hash == body_hash(entry.body_bytes)
    return Entry(
        entry_id(entry.header_bytes), header, body, entry.header_bytes, entry.body_bytes,
        entry.signature,
    )  # fmt: skip


@pytest.mark.parametrize("line", EVERY, ids=lambda line: line[0])
def test_what_is_seen_at_once_to_be_sound_is_sound_when_walked_over(line: list[str]) -> None:
    entry = rebuilt(bytes_of(line))
    packed, place = pack(entry), entry.place
    taken = 0
    for at, way in itertools.product(range(len(packed)), (1, 0x80, 0xFF)):
        other = bytearray(packed)
        other[at] ^= way
        try:
            found = unpack(bytes(other), place)
        except BadBytes:
            continue
        taken += 1
        assert found == walked(found)
        assert read(found.header_bytes, found.body_bytes, found.signature) == found
    # Salt, signature, ids and letters may be others and still be an entry of this form.
    assert taken > 64


VERSION_SENTENCE = (
    r"An entry is written in format {}; this program reads formats up to 1\. Update this program on this "
    r"laptop; the entry stays where it is until then\."
)


@pytest.mark.parametrize("version", [2, 3, 127])
def test_another_version_is_refused_in_one_sentence(version: int) -> None:
    entry = written(device_of("a"))
    header = entry.header_bytes[:1] + bytes([version]) + entry.header_bytes[2:]
    with pytest.raises(BadBytes, match=VERSION_SENTENCE.format(version)):
        read(header, entry.body_bytes, entry.signature)
    packed = pack(entry)
    with pytest.raises(BadBytes, match=VERSION_SENTENCE.format(version)):
        unpack(packed[:1] + bytes([version]) + packed[2:], entry.place)
    # A newer format may have other parts after its version, or none.
    for parts in (["something", {"else": b"entirely"}], []):
        newer = canonical.encode([version, *parts])
        with pytest.raises(BadBytes, match=VERSION_SENTENCE.format(version)):
            read(newer, entry.body_bytes, entry.signature)
        with pytest.raises(BadBytes, match=VERSION_SENTENCE.format(version)):
            unpack(newer, entry.place)


NO_VERSION = [
    b"",
    b"\x00",
    b"\x90",
    b"\x80",
    b"\x91\xcc\x80",
    b"\x91\xff",
    b"\x91\xc0",
    b"\xdc\x00\x10" + bytes(16),
]


@pytest.mark.parametrize("header", NO_VERSION, ids=bytes.hex)
def test_a_header_without_a_version(header: bytes) -> None:
    entry = written(device_of("a"))
    with pytest.raises(BadBytes):
        read(header, entry.body_bytes, entry.signature)
    with pytest.raises(BadBytes):
        unpack(header, entry.place)


ID = bytes(range(32))
BAD_HEADERS: dict[str, dict[str, Any]] = {
    "short farm": {"farm": bytes(31)},
    "long device": {"device": bytes(33)},
    "short previous": {"sequence": 1, "previous": bytes(31)},
    "short body hash": {"body_hash": bytes(31)},
    "negative sequence": {"sequence": -1, "previous": ID},
    "too long a log": {"sequence": SEQUENCE + 1, "previous": ID},
    "first with something before": {"previous": ID},
    "later with nothing before": {"sequence": 1},
    "negative height": {"height": -1},
    "too high": {"height": HEIGHT + 1},
    "clock too late": {"clock": CLOCK_MS + 1},
    "clock too early": {"clock": -CLOCK_MS - 1},
    "short verb": {"verb": "do"},
    "long kind": {"kind": "k" * 65},
    "capital in a kind": {"kind": "Note"},
    "line after a verb": {"verb": "record\n"},
    "foreign letter in a kind": {"kind": "nöte"},
    "foreign digit in a kind": {"kind": "note\u0661"},
    "kind version nought": {"kind_version": 0},
    "kind version too high": {"kind_version": 65_536},
    "unknown flag": {"flags": 8},
    "negative flags": {"flags": -1},
    "parents out of order": {"parents": [ID, bytes(32)]},
    "doubled parent": {"parents": [ID, ID]},
    "short parent": {"parents": [bytes(16)]},
    "too many parents": {"parents": [bytes([n]) * 32 for n in range(PARENTS + 1)]},
    "doubled subject": {"subjects": [bytes(16), bytes(16)]},
    "long subject": {"subjects": [bytes(32)]},
    "too many subjects": {"subjects": [n.to_bytes(16, "big") for n in range(SUBJECTS + 1)]},
    "another body's hash": {"body_hash": ID},
    "another body's length": {"body_length": 5},
    "float height": {"height": 1.0},
    "flag for a number": {"kind_version": True},
    "text for bytes": {"farm": "x" * 32},
    "nil verb": {"verb": None},
}


@pytest.mark.parametrize("name", BAD_HEADERS)
def test_headers_out_of_form(name: str) -> None:
    entry = written(device_of("a"))
    header = canonical.encode(parts_of(entry.header, BAD_HEADERS[name]))
    with pytest.raises(BadBytes):
        read(header, entry.body_bytes, entry.signature)


def parts_of(header: Header, changed: dict[str, Any]) -> list[Any]:
    return [changed.get(name, getattr(header, name)) for name in Header.__struct_fields__]


def test_headers_at_their_bounds() -> None:
    most = {
        "sequence": SEQUENCE, "previous": ID, "height": HEIGHT, "clock": -CLOCK_MS, "kind": "k" * 64,
        "verb": "a-1", "kind_version": 65_535, "flags": 7,
        "parents": [bytes([n]) * 32 for n in range(PARENTS)],
        "subjects": [n.to_bytes(16, "big") for n in range(SUBJECTS)],
    }  # fmt: skip
    plain = written(device_of("a"))
    header = canonical.encode(parts_of(plain.header, most))
    entry = read(header, plain.body_bytes, plain.signature)
    assert unpack(pack(entry), entry.place) == entry


BAD_BODIES = {
    "short salt": (b"", "", None, {}),
    "long salt": (bytes(17), "", None, {}),
    "short batch": (bytes(16), "", b"", {}),
    "payload no map": (bytes(16), "", None, []),
    "payload of a float": (bytes(16), "", None, {"fields": {"weight": 1.5}}),
    "payload too deep": (bytes(16), "", None, {"a": [[[[[[[[[1]]]]]]]]]}),
    "one part missing": (bytes(16), "", None),
    "one part more": (bytes(16), "", None, {}, 1),
}


@pytest.mark.parametrize("name", BAD_BODIES)
def test_bodies_out_of_form(name: str) -> None:
    entry = written(device_of("a"))
    body = canonical.encode(list(BAD_BODIES[name]))
    header = msgspec.structs.replace(entry.header, body_hash=body_hash(body), body_length=len(body))
    with pytest.raises(BadBytes):
        read(canonical.encode(header), body, entry.signature)


def test_sizes_are_bounded_before_anything_is_read() -> None:
    room = BODY_BYTES - len(encode_body(bytes(16), "", None, {"t": "x" * 60_000})) + 60_000
    assert len(written(device_of("a"), payload={"t": "x" * room}).body_bytes) == BODY_BYTES
    with pytest.raises(BadBytes, match="larger"):
        written(device_of("a"), payload={"t": "x" * (room + 1)})
    entry = written(device_of("a"))
    with pytest.raises(BadBytes, match="larger"):
        read(bytes(20_000), entry.body_bytes, entry.signature)
    with pytest.raises(BadBytes, match="larger"):
        unpack(bytes(100_000), entry.place)


@given(st.binary(max_size=200), st.binary(max_size=200), st.binary(min_size=64, max_size=64))
def test_garbage_is_refused_and_nothing_else_happens(
    header: bytes, body: bytes, signature: bytes
) -> None:
    with pytest.raises(BadBytes):
        read(header, body, signature)
    with pytest.raises(BadBytes):
        unpack(header + body, Place(FARM, device_of("a"), 0, bytes(32)))


def test_keyed_records_share_one_id() -> None:
    one = keyed_record_id(FARM, "setting", "zone")
    assert one == keyed_record_id(FARM, "setting", "zone")
    others = [
        keyed_record_id(bytes(32), "setting", "zone"),
        keyed_record_id(FARM, "plan-item", "zone"),
        keyed_record_id(FARM, "setting", "zones"),
        keyed_record_id(FARM, "settin", "gzone"),
    ]
    assert len({one, *others}) == 5
    # The tag, then the canonical bytes of farm, kind and key; by hand from the MessagePack formats.
    told = b"herdsync/1/keyed\0" + b"\x93\xc4\x20" + FARM + b"\xa7setting" + b"\xa4zone"
    assert one == hashlib.sha256(told).digest()[:16]


def test_a_header_has_fifteen_parts_in_a_fixed_order() -> None:
    assert Header.__struct_fields__ == (
        "version", "farm", "device", "sequence", "previous", "parents", "height", "clock", "verb",
        "kind", "kind_version", "flags", "subjects", "body_hash", "body_length",
    )  # fmt: skip
