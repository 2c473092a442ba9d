"""Entries from elsewhere: checked, placed, parked within bounds, refused by name, never twice."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec import structs

from herdsync.log import limits
from herdsync.log.entry import Entry, build, read
from herdsync.log.signing import entry_verifies
from herdsync.log.trust import ADMIT
from herdsync.store.checking import check
from herdsync.store.database import Database
from herdsync.store.log_table import BAD, GOOD, UNCHECKED
from herdsync.store.store import Store
from tests.farmyard import Yard, key_of
from tests.log.plain import written
from tests.merge.dump import dump
from tests.store.farms import everything, in_order, kept


@pytest.fixture
def yard() -> Yard:
    return Yard()


@pytest.fixture
def store(tmp_path: Path, yard: Yard) -> Iterator[Store]:
    made = kept(tmp_path / "farm", yard)
    yield made
    made.close()


def notes(yard: Yard, count: int, device: str = "barn") -> list[Entry]:
    """Notes that a laptop writes, in its order."""
    for number in range(count):
        yard.write(device, "note", on="2026-01-02", text=f"note {number}")
    own = yard.devices[device]
    mine = [e for e in own.replica.entries.values() if e.header.device == own.key.public]
    return in_order(mine)


def forged(entry: Entry) -> Entry:
    """The same entry under a signature that is not its device's."""
    return structs.replace(entry, signature=bytes(64))


def faults(store: Store) -> list[str]:
    with store.reading() as view:
        return check(view).faults


def checked(store: Store, entry: Entry) -> int:
    with store.reading() as view:
        return view.log.checked(entry.id)


def shelf(store: Store) -> dict[str, bytes]:
    with store.reading() as view:
        return dump(view.shelf)


def test_taking_again_changes_nothing(store: Store, yard: Yard) -> None:
    entries = notes(yard, 5)
    assert store.take(entries, "barn").received == 5
    before = (everything(store), shelf(store), store.runs())
    for again in (entries, entries[:2], [*entries, *entries]):
        assert store.take(again, "barn").received == 0
    assert (everything(store), shelf(store), store.runs()) == before


def test_any_order_of_arrival_ends_alike(store: Store, yard: Yard, tmp_path: Path) -> None:
    entries = notes(yard, 8)
    store.take(entries, "barn")
    for seed in range(4):
        other = kept(tmp_path / f"other {seed}", yard)
        shuffled = list(entries)
        random.Random(seed).shuffle(shuffled)
        for entry in shuffled:
            other.take([entry], "barn")
        assert everything(other) == everything(store)
        assert shelf(other) == shelf(store)
        with other.reading() as view:
            assert view.log.parked_count() == 0
        other.close()


def test_the_last_of_a_batch_taken_first_waits(store: Store, yard: Yard) -> None:
    entries = notes(yard, 4)
    taken = store.take(entries[2:], "barn")
    assert (taken.received, taken.parked) == (0, 2)
    assert len(everything(store)) == 2
    taken = store.take(entries[:2], "barn")
    assert (taken.received, taken.parked) == (4, 0)


def test_a_bad_signature_is_refused_by_name_and_what_follows_waits(
    store: Store, yard: Yard
) -> None:
    entries = notes(yard, 4)
    taken = store.take([entries[0], forged(entries[1]), *entries[2:]], "bundle 7")
    assert taken.received == 1
    assert taken.parked == 2
    assert [(one.what, one.why) for one in taken.refused] == [
        ("entry 1 of a device in bundle 7", "its signature is not its device's")
    ]
    assert store.take([entries[1]], "bundle 8").received == 3
    assert faults(store) == []


@pytest.mark.parametrize("forged_first", [True, False])
def test_of_a_good_and_a_forged_copy_the_good_one_is_kept(
    store: Store, yard: Yard, forged_first: bool
) -> None:
    (entry,) = notes(yard, 1)
    copies = [forged(entry), entry] if forged_first else [entry, forged(entry)]
    assert store.take(copies, "barn").received == 1
    assert faults(store) == []


def test_entries_of_another_farm_are_refused(store: Store) -> None:
    (stranger,) = notes(Yard(devices={"far": "Ann", "near": "Ben"}), 1, device="far")[2:]
    taken = store.take([stranger], "a stick")
    assert [one.why for one in taken.refused] == ["it belongs to another farm"]


def test_entries_of_devices_not_admitted_wait_for_their_admission(store: Store, yard: Yard) -> None:
    yard.admit("loft", "Ann")
    house = in_order(yard.devices["house"].replica.entries.values())
    entries = notes(yard, 2, device="loft")
    taken = store.take(entries, "loft")
    assert (taken.received, taken.parked) == (0, 2)
    assert store.take(house, "house").received == 1 + 2
    with store.reading() as view:
        assert len(view.shelf.of_kind("note")) == 2


def test_links_that_contradict_are_refused(store: Store, yard: Yard) -> None:
    (entry,) = notes(yard, 1)
    barn = yard.devices["barn"]
    high = build(structs.replace(entry.header, height=77), entry.body_bytes, barn.key.sign)
    taken = store.take([high], "barn")
    assert "height" in taken.refused[0].why
    assert store.take([entry], "barn").received == 1


def test_a_fork_is_taken_whole(store: Store, yard: Yard) -> None:
    barn = yard.devices["barn"]
    common = notes(yard, 2)
    twin = Yard()
    twin.devices["barn"].replica.take(in_order(barn.replica.entries.values()))
    twin.devices["barn"].salt = 900
    other = notes(twin, 3)[2:]
    mine = notes(yard, 2)[2:]
    store.take([*common, *other, *mine], "a stick")
    with store.reading() as view:
        branches = view.log.chains.branches()[barn.key.public]
        assert len(branches) == 2
        assert len(view.shelf.of_kind("note")) == 7
    assert faults(store) == []


# Batches larger than a thousand: the newest vouches for those before it.


@pytest.fixture
def small_batches(monkeypatch: pytest.MonkeyPatch) -> int:
    """A batch counts as large from a handful on, so that the proof is quick."""
    monkeypatch.setattr("herdsync.store.intake.BATCH_ALL_CHECKED", 5)
    return 5


def test_the_limit_is_a_thousand() -> None:
    assert limits.BATCH_ALL_CHECKED == 1_000


def test_a_large_batch_has_its_newest_checked(store: Store, yard: Yard, small_batches: int) -> None:
    entries = notes(yard, 8)
    assert store.take(entries, "barn").received == 8
    assert [checked(store, one) for one in entries] == [UNCHECKED] * 7 + [GOOD]
    with store.reading() as view:
        found = check(view)
    assert (found.faults, found.entries) == ([], len(everything(store)))
    store.note_checks(found)
    assert [checked(store, one) for one in entries] == [GOOD] * 8


def test_a_forged_newest_is_refused_in_a_large_batch(
    store: Store, yard: Yard, small_batches: int
) -> None:
    entries = notes(yard, 8)
    taken = store.take([*entries[:-1], forged(entries[-1])], "barn")
    assert (taken.received, len(taken.refused)) == (7, 1)
    assert checked(store, entries[-2]) == GOOD


def test_a_forged_branch_cannot_hide_below_the_newest(
    store: Store, yard: Yard, small_batches: int
) -> None:
    entries = notes(yard, 8)
    barn = yard.devices["barn"].key.public
    hidden = written(
        barn, entries[1], kind="note", farm=store.farm,
        payload={"fields": {"on": "2026-01-02", "text": "never said"}},
    )  # fmt: skip
    below = written(barn, entries[2], [hidden], farm=store.farm)
    taken = store.take([*entries, hidden, below], "a stick")
    assert (taken.received, len(taken.refused)) == (8, 2)
    with store.reading() as view:
        assert view.log.chains.branches() == {}


def test_admissions_are_always_checked(store: Store, yard: Yard, small_batches: int) -> None:
    yard.admit("loft", "Ann")
    for number in range(8):
        yard.write("house", "note", on="2026-01-02", text=f"later {number}")
    house = in_order(yard.devices["house"].replica.entries.values())
    admission = next(
        e for e in house if e.header.verb == ADMIT and e.body.payload["device"] == "loft"
    )
    taken = store.take([forged(e) if e is admission else e for e in house], "a stick")
    assert len(taken.refused) == 1
    assert key_of("loft").public not in store.members().by_key


@pytest.mark.parametrize("large", [False, True])
def test_a_bad_signature_under_a_vouched_chain_is_replaced_by_a_good_one(
    store: Store, yard: Yard, small_batches: int, large: bool
) -> None:
    entries = notes(yard, 8)
    broken = [forged(one) if place == 3 else one for place, one in enumerate(entries)]
    assert store.take(broken, "barn").received == 8
    with store.reading() as view:
        found = check(view)
    assert found.bad == [entries[3].id]
    assert "carries a signature that does not hold" in found.faults[0]
    store.note_checks(found)
    assert checked(store, entries[3]) == BAD
    store.take([forged(entries[3])], "barn")
    assert checked(store, entries[3]) == BAD
    store.take(entries if large else [entries[3]], "barn")
    assert checked(store, entries[3]) == GOOD
    assert faults(store) == []
    assert all(entry_verifies(one) for one in everything(store))


# Parked entries: bounded, oldest dropped first, settled in one pass.


def test_parking_is_bounded_by_count(
    store: Store, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("herdsync.store.log_table.PARKED_ENTRIES", 3)
    entries = notes(yard, 8)
    for entry in entries[1:]:
        store.take([entry], "barn")
    with store.reading() as view:
        assert [one.id for one in view.log.parked()] == [one.id for one in entries[5:]]
    # What was dropped can be fetched again: nothing is remembered against it.
    assert store.take(entries, "barn").received == 8


def test_parking_is_bounded_by_size(
    store: Store, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = notes(yard, 8)
    size = len(entries[1].header_bytes) + len(entries[1].body_bytes) + 64
    monkeypatch.setattr("herdsync.store.log_table.PARKED_BYTES", size * 3)
    assert store.take(entries[1:], "barn").parked == 3


def test_the_bounds_of_parking() -> None:
    assert (limits.PARKED_ENTRIES, limits.PARKED_BYTES) == (10_000, 64 * 1024 * 1024)


def test_many_parked_in_reverse_are_settled_in_one_pass(
    store: Store, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = notes(yard, 150)
    for entry in reversed(entries[1:]):
        store.take([entry], "barn")
    reads: list[int] = []

    def counted(header: bytes, body: bytes, signature: bytes) -> Entry:
        reads.append(1)
        return read(header, body, signature)

    monkeypatch.setattr("herdsync.store.log_table.read", counted)
    assert store.take(entries[:1], "barn").received == 150
    assert len(reads) <= 2 * len(entries)


def test_two_takers_and_a_writer_share_one_lock(store: Store) -> None:
    first, second = Database(store.folder), Database(store.folder)
    with first.writing() as one:
        one.execute("INSERT INTO about VALUES ('a', x'01')")
    with second.writing() as other:
        rows = other.execute("SELECT value FROM about WHERE name = 'a'").fetchall()
    assert rows == [(b"\x01",)]
    first.close()
    second.close()
