"""The bundle: what it holds comes back, what is altered is refused, hostile bytes end in a sentence."""

from __future__ import annotations

import hashlib
from typing import Any

import msgspec
import pytest
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.exchange import bundle, frontier, lid
from herdsync.exchange.load import Load, fill
from herdsync.exchange.sealing import recipient_tag
from herdsync.faults import BadBytes, Refused
from herdsync.log.entry import Entry, pack
from herdsync.log.signing import entry_verifies
from tests.exchange import by_hand
from tests.exchange.laptops import (
    MemoryLaptop,
    admission_of,
    entropy_of,
    founding_of,
    key_of,
    note,
)

HOUSE, BARN, RECOVERY = key_of("house"), key_of("barn"), key_of("recovery")
FOUNDING = founding_of("house")
FARM = FOUNDING.id
READERS = [HOUSE.seal_public, BARN.seal_public, RECOVERY.seal_public]


def some_entries(count: int = 3) -> list[Entry]:
    laptop = MemoryLaptop("house", FOUNDING)
    laptop.write(admission_of("barn"))
    for number in range(count):
        laptop.write(note(f"note {number}"))
    return sorted(laptop.memory.replica.entries.values(), key=lambda entry: entry.order)


def statement(**told: Any) -> bundle.Statement:
    said = bundle.Statement(FARM, HOUSE.public, 7, 0, [], 1_767_225_600_000)
    return bundle.Statement(**{**{f: getattr(said, f) for f in said.__struct_fields__}, **told})


def written(entries: list[Entry], readers: list[bytes] | None = None) -> bytes:
    (load,) = fill(entries, bundle.room(3, 0))
    return bundle.write(load, statement(), readers or READERS, HOUSE, entropy_of("bundle"))


ENTRIES = some_entries()
SMALL = written(ENTRIES)


def test_what_went_in_comes_out_for_every_reader() -> None:
    for key in (HOUSE, BARN, RECOVERY):
        contents = bundle.read(SMALL, FARM, key)
        assert contents.entries == ENTRIES
        assert contents.statement == statement()
        assert contents.ids == [(ENTRIES[-1].id, len(ENTRIES))]
        assert contents.unread == []
        assert set(contents.recipients) == {recipient_tag(FARM, one) for one in READERS}


def test_every_altered_byte_is_refused_in_a_sentence() -> None:
    for at in range(len(SMALL)):
        altered = bytearray(SMALL)
        altered[at] ^= 1 << at % 8
        with pytest.raises(BadBytes) as fault:
            bundle.read(bytes(altered), FARM, BARN)
        assert fault.value.what.endswith(".")


def test_a_damaged_lid_is_never_mistaken_for_another_farm_or_reader() -> None:
    lid_end = SMALL.index(hashlib.sha256(front_of(SMALL)[:-16]).digest()[:16]) + 16
    for at in range(len(lid.MAGIC), lid_end):
        altered = bytearray(SMALL)
        altered[at] ^= 0x10
        with pytest.raises(BadBytes):
            lid.peek(bytes(altered))


def front_of(raw: bytes) -> bytes:
    length = int.from_bytes(raw[16:20], "big")
    return raw[: 20 + length + 16]


def test_cut_at_every_length_it_is_refused() -> None:
    for length in range(len(SMALL)):
        with pytest.raises(BadBytes):
            bundle.read(SMALL[:length], FARM, BARN)
    with pytest.raises(BadBytes):
        bundle.read(SMALL + b"\0", FARM, BARN)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=600), st.booleans())
def test_any_bytes_end_in_bad_bytes(raw: bytes, begun: bool) -> None:
    raw = lid.MAGIC + bytes([lid.VERSION]) + raw if begun else raw
    with pytest.raises(BadBytes):
        bundle.read(raw, FARM, BARN)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.binary(max_size=200), max_size=6), st.booleans())
def test_any_records_of_a_hostile_member_end_in_bad_bytes(
    records: list[bytes], begun: bool
) -> None:
    first = [by_hand.frontier_record(FARM, HOUSE)] if begun else []
    raw = by_hand.bundle(FARM, HOUSE, READERS, first + records)
    with pytest.raises(BadBytes):
        bundle.read(raw, FARM, BARN)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
def test_any_inside_of_a_hostile_member_ends_in_bad_bytes(inside: bytes) -> None:
    with pytest.raises(BadBytes):
        bundle.read(by_hand.bundle(FARM, HOUSE, READERS, [], inside=inside), FARM, BARN)


def runs_record(*runs: tuple[bytes, int, bytes, int]) -> bytes:
    return by_hand.packed([list(run) for run in runs])


def by_hand_records(entries: list[Entry]) -> list[bytes]:
    run = (HOUSE.public, 0, bytes(32), len(entries))
    pieces = [by_hand.packed([0, pack(entry)]) for entry in entries]
    return [by_hand.frontier_record(FARM, HOUSE), runs_record(run), *pieces]


@pytest.mark.parametrize("version", [0, 1])
def test_a_bundle_made_by_hand_from_the_layout_is_read(version: int) -> None:
    raw = by_hand.bundle(FARM, HOUSE, READERS, by_hand_records(ENTRIES), version=version)
    assert raw[15] == version
    assert bundle.read(raw, FARM, BARN).entries == ENTRIES


def test_a_bundle_is_opened_by_hand_from_the_layout() -> None:
    front = front_of(SMALL)
    length = int.from_bytes(SMALL[16:20], "big")
    farm_mark, writer_mark, stanzas = msgspec.msgpack.decode(SMALL[20 : 20 + length])
    assert farm_mark == by_hand.tag(b"farm-tag", FARM, size=16)
    mark = by_hand.tag(b"recipient-tag", FARM, BARN.seal_public, size=8)
    sealed = dict(stanzas)[mark]
    info = b"herdsync/1/bundle-key\0" + by_hand.packed([1, FARM, writer_mark, mark])
    secret = by_hand.hpke_open(sealed, BARN.seal, info)
    inside = ChaCha20Poly1305(secret).decrypt(bytes(12), SMALL[len(front) :], front)
    assert pack(ENTRIES[0]) in inside and inside[-68:-64] == (64).to_bytes(4, "big")
    assert pack(ENTRIES[0]) not in SMALL


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ({"farm": bytes(32)}, "different writers or farms"),
        ({"counter": 10**8}, "form"),
        ({"frontier": [[bytes(32), 0, bytes(32)]] * 2}, "doubled"),
        ({"frontier": [[bytes(31), 0, bytes(32)]]}, "form"),
        ({"clock": 2**60}, "form"),
        ({"clock": 1.5}, "form"),
    ],
)
def test_a_statement_out_of_bounds_is_refused(told: dict[str, Any], why: str) -> None:
    records = [by_hand.frontier_record(FARM, HOUSE, **told), runs_record()]
    with pytest.raises(BadBytes, match=why):
        bundle.read(by_hand.bundle(FARM, HOUSE, READERS, records), FARM, BARN)


@pytest.mark.parametrize(
    "runs",
    [
        [(HOUSE.public, 0, bytes(32), 4)],
        [(HOUSE.public, 0, bytes(32), 5), (HOUSE.public, 9, bytes(32), 1)],
        [(HOUSE.public, 0, bytes(32), 0), (HOUSE.public, 0, bytes(32), 5)],
        [(HOUSE.public, -1, bytes(32), 5)],
        [(HOUSE.public, 0, bytes(32), 2**40)],
    ],
)
def test_runs_that_do_not_add_up_are_refused(runs: list[tuple[bytes, int, bytes, int]]) -> None:
    records = by_hand_records(ENTRIES)
    records[1] = runs_record(*runs)
    with pytest.raises(BadBytes):
        bundle.read(by_hand.bundle(FARM, HOUSE, READERS, records), FARM, BARN)


def test_too_many_stanzas_are_refused_before_anything_is_opened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def never(*_: object) -> bytes:
        raise AssertionError("nothing may be opened")

    monkeypatch.setattr(lid, "unseal", never)
    own = by_hand.stanza(FARM, HOUSE.public, BARN.seal_public, bytes(32))
    others = [[number.to_bytes(8, "big"), bytes(80)] for number in range(64)]
    raw = by_hand.front(FARM, HOUSE.public, sorted([own, *others]))
    with pytest.raises(BadBytes, match="form"):
        bundle.read(raw, FARM, BARN)
    doubled = by_hand.front(FARM, HOUSE.public, [own, own])
    with pytest.raises(BadBytes, match="doubled"):
        bundle.read(doubled, FARM, BARN)
    huge = SMALL + bytes(bundle.BUNDLE_BYTES)
    with pytest.raises(BadBytes, match="larger"):
        bundle.read(huge, FARM, BARN)


def test_more_entries_than_a_bundle_may_have_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bundle, "ENTRIES", 4)
    with pytest.raises(BadBytes, match="add up"):
        bundle.read(SMALL, FARM, BARN)


def test_another_farms_another_readers_and_another_versions_bundle() -> None:
    with pytest.raises(BadBytes, match="another farm"):
        bundle.read(SMALL, bytes(32), BARN)
    with pytest.raises(BadBytes, match="not sealed to this laptop"):
        bundle.read(SMALL, FARM, key_of("stranger"))
    for version in (2, 9, 255):
        newer = by_hand.front(FARM, HOUSE.public, [], version=version)
        with pytest.raises(BadBytes, match=rf"format {version};.*up to 1\. Update this program"):
            lid.peek(newer)
    assert lid.peek(b"a letter") is None


def test_a_reader_cannot_seal_a_writers_words_to_others() -> None:
    contents_for_two = written(ENTRIES, READERS[:2])
    front = front_of(contents_for_two)
    stanzas = lid.peek(contents_for_two)
    assert stanzas is not None
    secret = entropy_of("bundle")(32)
    inside = ChaCha20Poly1305(secret).decrypt(bytes(12), contents_for_two[len(front) :], front)
    stranger = key_of("stranger")
    resealed = [
        by_hand.stanza(FARM, HOUSE.public, reader, secret)
        for reader in (BARN.seal_public, stranger.seal_public)
    ]
    begin = by_hand.front(FARM, HOUSE.public, sorted(resealed))
    raw = begin + ChaCha20Poly1305(secret).encrypt(bytes(12), inside, begin)
    with pytest.raises(BadBytes, match="did not sign it"):
        bundle.read(raw, FARM, BARN)


def test_an_entry_of_a_newer_format_ends_its_run_and_no_other() -> None:
    house = MemoryLaptop("house", FOUNDING)
    house.write(admission_of("barn"))
    barn = MemoryLaptop("barn", FOUNDING)
    barn.memory.take(list(house.memory.replica.entries.values()), "")
    mine = [house.write(note(f"mine {number}")) for number in range(3)]
    theirs = [barn.write(note(f"theirs {number}")) for number in range(2)]
    newer = bytearray(pack(mine[1]))
    newer[1] = 5
    records = [
        by_hand.frontier_record(FARM, HOUSE),
        runs_record(
            (HOUSE.public, mine[0].header.sequence, mine[0].header.previous, 3),
            (BARN.public, 0, bytes(32), 2),
        ),
        by_hand.packed([0, pack(mine[0])]),
        by_hand.packed([0, bytes(newer)]),
        by_hand.packed([1, pack(theirs[0])]),
        by_hand.packed([0, pack(mine[2])]),
        by_hand.packed([1, pack(theirs[1])]),
    ]
    contents = bundle.read(by_hand.bundle(FARM, HOUSE, READERS, records), FARM, BARN)
    assert contents.entries == [mine[0], *theirs]
    assert contents.ids == [(mine[0].id, 1), (theirs[1].id, 2)]
    (why,) = contents.unread
    assert "format 5" in why and "Update this program" in why


def test_loads_keep_the_order_and_the_room() -> None:
    entries = some_entries(60)
    loads = list(fill(entries, 2_000))
    assert len(loads) > 3
    ids = [one for load in loads for one in load.ids]
    assert sum(count for _, count in ids) == len(entries)
    total = []
    for load in loads:
        raw = bundle.write(load, statement(), READERS, HOUSE, entropy_of("x"))
        total += bundle.read(raw, FARM, BARN).entries
        assert len(raw) <= 2_000 + bundle.BUNDLE_BYTES - bundle.room(3, 0)
    assert total == entries


def test_a_forked_log_goes_as_two_runs() -> None:
    one = MemoryLaptop("house", FOUNDING)
    other = MemoryLaptop("house", FOUNDING)
    left = [one.write(note("left")), one.write(note("left again"))]
    right = [other.write(note("right"))]
    entries = sorted([FOUNDING, *left, *right], key=lambda entry: entry.order)
    raw = written(entries)
    contents = bundle.read(raw, FARM, BARN)
    assert contents.entries == entries
    assert sorted(count for _, count in contents.ids) in ([1, 3], [2, 2])


def test_the_fullest_bundle_stays_within_its_size() -> None:
    laptop = MemoryLaptop("house", FOUNDING)
    big = [laptop.write(note(f"{number}" + "x" * 60_000)) for number in range(80)]
    tips = sorted(
        frontier.Tip(hashlib.sha256(b"%d" % number).digest(), 2**48 - 1, bytes(32))
        for number in range(frontier.TIPS)
    )
    space = bundle.room(lid.STANZAS, len(tips))
    readers = [key_of(f"device {number}").seal_public for number in range(lid.STANZAS)]
    loads = list(fill(big, space))
    assert len(loads) > 1
    said = statement(frontier=tips)
    for load in loads:
        raw = bundle.write(load, said, readers, HOUSE, entropy_of("full"))
        assert len(raw) <= bundle.BUNDLE_BYTES
        seen = lid.peek(raw[: lid.HEAD_BYTES])
        assert seen is not None and len(seen.stanzas) == lid.STANZAS
    assert bundle.read(raw, FARM, key_of("device 5")).statement.frontier == tips
    with pytest.raises(Refused, match="Remove laptops"):
        bundle.write(Load(), said, [*readers, HOUSE.seal_public], HOUSE, entropy_of("full"))


def test_an_entry_set_under_another_place_is_not_the_entry() -> None:
    records = by_hand_records(ENTRIES[1:2])
    records[1] = runs_record((HOUSE.public, 1, hashlib.sha256(b"elsewhere").digest(), 1))
    (entry,) = bundle.read(by_hand.bundle(FARM, HOUSE, READERS, records), FARM, BARN).entries
    assert entry.id != ENTRIES[1].id
    assert entry_verifies(ENTRIES[1]) and not entry_verifies(entry)
