"""Whatever a store promises or breaks, a depot on it is honest about it and loses nothing."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from herdsync.exchange import depot, doorstep, pairing
from herdsync.exchange.bundles import Moved, exchange_bundles
from herdsync.exchange.depot import Depot
from herdsync.exchange.probe import Guarantees, probe, remembered, told
from herdsync.faults import BadBytes, Refused
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, entropy_of, note
from tests.exchange.meetings import farm

HONEST = Guarantees(True, True, True)


@dataclass
class MemoryStore:
    """A store in memory that keeps, or breaks, what a depot may promise."""

    files: dict[str, bytes] = field(default_factory=dict)
    overwrites: bool = False
    lists_late: bool = False
    deletes: bool = True
    garbles: bool = False
    asked: list[str] = field(default_factory=list)
    where: str = "memory://"

    def listing(self, most: int) -> dict[str, int]:
        self.asked.append("list")
        return {} if self.lists_late else {n: len(d) for n, d in list(self.files.items())[:most]}

    def part(self, name: str, start: int, length: int) -> bytes | None:
        self.asked.append(f"part {name}")
        raw = self.files.get(name)
        return None if raw is None else raw[start : start + length]

    def put(self, name: str, data: bytes) -> bool:
        self.asked.append(f"put {name}")
        if name in self.files and not self.overwrites:
            return False
        self.files[name] = data[:-1] + b"?" if self.garbles else data
        return True

    def delete(self, name: str) -> None:
        if not self.deletes:
            raise Refused("It may not be deleted.")
        self.files.pop(name, None)

    def close(self) -> None:
        pass


def test_a_depot_that_writes_over_is_looked_at_first() -> None:
    store = MemoryStore(overwrites=True)
    found = probe(store, entropy_of("probe"))
    assert found == Guarantees(False, True, True) and store.files == {}
    assert "keep a name from being written over" in next(found.missing())
    one = Depot(store, found)
    assert one.create("a.bundle", b"first")
    assert not one.create("a.bundle", b"second")
    assert store.files == {"a.bundle": b"first"}


def test_a_depot_that_lists_late_or_never_deletes_is_named() -> None:
    late = probe(MemoryStore(lists_late=True), entropy_of("probe"))
    assert late == Guarantees(True, False, True) and "lists new files late" in next(late.missing())
    keeping = probe(MemoryStore(deletes=False), entropy_of("probe"))
    assert keeping == Guarantees(True, True, False) and len(list(keeping.missing())) == 1


def test_a_depot_that_gives_back_other_bytes_is_refused() -> None:
    store = MemoryStore(garbles=True)
    with pytest.raises(Refused, match="does not give back what it was given"):
        probe(store, entropy_of("probe"))
    assert store.files == {}
    with pytest.raises(Refused, match="other bytes than were written"):
        Depot(store, HONEST).create("a.bundle", b"data")
    assert store.files == {}


def test_a_lost_answer_is_no_second_file() -> None:
    """The file was written but the answer was lost: trying again finds one's own bytes."""
    store = MemoryStore({"a.bundle": b"data"})
    assert Depot(store, HONEST).create("a.bundle", b"data")
    assert not Depot(store, HONEST).create("a.bundle", b"other")


def test_what_was_found_is_remembered_and_a_damaged_note_is_told() -> None:
    assert remembered(told(Guarantees(False, True, False))) == Guarantees(False, True, False)
    with pytest.raises(BadBytes):
        remembered(b"\xff")


def test_again_asks_for_the_listing_alone(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    store = MemoryStore()
    for one in (house, barn) * 3:
        one.write(note("more")) if one is house else None
        _meet_in(store, one)
    _meet_in(store, house)  # hears that the barn has it all
    store.asked.clear()
    for one in (house, barn):
        assert _meet_in(store, one) == Moved(0, 0, 0, [])
    assert store.asked == ["list", "list"]


def _meet_in(store: MemoryStore, laptop: Laptop) -> Moved:
    entropy = entropy_of(f"{laptop.name} {len(laptop.ids())}")
    return exchange_bundles(Depot(store, HONEST), laptop.ledger, 0, entropy, "memory://")


def test_a_crowded_depot_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(depot, "FILES", 3)
    shelf = Depot(MemoryStore({f"{n}": b"" for n in range(5)}), HONEST).names()
    assert len(shelf.names) == 3 and "or more" in shelf.notes[0]


def test_pairing_over_a_depot_leaves_only_what_it_must() -> None:
    store = MemoryStore()
    there = Depot(store, HONEST)
    pending = pairing.pend("Ravi", "barn", 0, entropy_of("barn"))
    doorstep.leave_request(there, pending)
    assert len(doorstep.requests_in(there).requests) == 1
    doorstep.withdraw_request(there, pending)
    assert store.files == {}
