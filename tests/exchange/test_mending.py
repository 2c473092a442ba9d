"""Entries damaged on one laptop are fetched again from another, over a folder and over the network."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from herdsync.exchange.lan import call
from herdsync.faults import DamagedFarm, Refused
from herdsync.log.entry import Entry
from herdsync.merge.payloads import RECORD
from herdsync.store import checking
from herdsync.store.database import FILE
from tests.exchange.laptops import StoreLaptop, admission_of, note
from tests.exchange.meetings import FOUNDING, everything, meet
from tests.exchange.porch import Porch, line_of
from tests.exchange.wires import Wire, wire

Ways = Callable[[StoreLaptop, StoreLaptop], None]


@pytest.fixture
def pair(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[StoreLaptop, StoreLaptop]]:
    """Two laptops on disk that have the same entries: a few of each, and the founding."""
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    house, barn = (StoreLaptop(name, FOUNDING, tmp_path / name) for name in ("house", "barn"))
    house.write(admission_of("barn"))
    for number in range(4):
        house.write(note(f"house {number}"))
    barn.ledger.take(everything(house), "the test")
    for number in range(3):
        barn.write(note(f"barn {number}"))
    house.ledger.take(everything(barn), "the test")
    yield house, barn
    for one in (house, barn):
        one.store.close()


def harm(laptop: StoreLaptop, entries: list[Entry], at: int) -> None:
    """Flip a bit of what is stored of these entries, ``at`` so many bytes from the end (or the start)."""
    laptop.store.close()
    with sqlite3.connect(laptop.store.folder / FILE) as db:
        for entry in entries:
            ((packed,),) = db.execute("SELECT packed FROM entry WHERE id = ?", (entry.id,))
            harmed = bytearray(packed)
            harmed[at] ^= 0x40
            db.execute("UPDATE entry SET packed = ? WHERE id = ?", (bytes(harmed), entry.id))
    db.close()
    laptop.store = type(laptop.store)(laptop.store.folder)


def faults(laptop: StoreLaptop) -> list[str]:
    """What a check finds; it is noted, as the verb that checks does."""
    with laptop.store.reading() as view:
        found = checking.check(view)
    laptop.store.note_checks(found)
    return found.faults


def met(caller: StoreLaptop, answerer: StoreLaptop) -> Wire:
    done = wire(caller, answerer).run()
    assert done.calling.over and done.answering.over
    return done


@pytest.mark.parametrize("at", [-1, -70, 12])
@pytest.mark.parametrize("calls", [True, False])
def test_damaged_entries_come_back_over_a_line(
    pair: tuple[StoreLaptop, StoreLaptop], at: int, calls: bool
) -> None:
    """Where both have the same entries: a flipped bit in signature, body or header."""
    house, barn = pair
    hurt = [one for one in everything(barn) if one.header.sequence in (1, 2, 3)]
    hurt = [one for one in hurt if one.header.verb == RECORD]
    assert len(hurt) == 4
    harm(house, hurt, at)
    assert len(faults(house)) >= 4
    done = met(house, barn) if calls else met(barn, house)
    assert done.faults == []
    assert faults(house) == []
    assert everything(house) == everything(barn)
    again = met(house, barn)
    assert again.bytes_moved < 250


def test_what_tells_who_may_write_is_never_read_damaged(
    pair: tuple[StoreLaptop, StoreLaptop],
) -> None:
    """Without it nobody can be told from a stranger: a backup and joining afresh are the way."""
    house, barn = pair
    harm(house, [FOUNDING], -1)
    with pytest.raises(DamagedFarm, match="restore the newest backup"):
        met(house, barn)
    assert barn.ids() and faults(barn) == []


def test_news_and_mending_go_together(pair: tuple[StoreLaptop, StoreLaptop]) -> None:
    house, barn = pair
    harm(house, everything(barn)[2:4], -1)
    assert faults(house)
    barn.write(note("news from the barn"))
    house.write(note("news from the house"))
    done = met(barn, house)
    assert (done.calling.received, done.answering.received) == (1, 1)
    assert faults(house) == [] and house.ids() == barn.ids()


def test_what_is_damaged_on_both_stays_named_and_stops_nothing(
    pair: tuple[StoreLaptop, StoreLaptop],
) -> None:
    house, barn = pair
    hurt = everything(barn)[2:5]
    harm(house, hurt, -1)
    harm(barn, hurt[:1], -1)
    assert faults(house) and faults(barn)
    barn.write(note("news"))
    done = met(house, barn)
    assert done.faults == [] and done.calling.received == 1
    (left,) = faults(house)
    assert hurt[0].id.hex()[:12] in left
    assert len(faults(barn)) == 1


def test_what_the_other_does_not_have_stays_named(pair: tuple[StoreLaptop, StoreLaptop]) -> None:
    house, barn = pair
    own = house.write(note("only here"))
    house.write(note("and one after it"))
    harm(house, [own], -1)
    assert len(faults(house)) == 1
    here, there = wire(barn, house).run().faults
    assert isinstance(here, DamagedFarm) and isinstance(there, Refused)
    assert "ended the exchange: The farm's file is damaged" in str(there)
    assert len(faults(house)) == 1


def test_over_the_real_line_and_over_a_folder(
    pair: tuple[StoreLaptop, StoreLaptop],
    tmp_path: Path,
    porch: Callable[..., Porch],
    stick: Path,
) -> None:
    house, barn = pair
    meet(barn, stick)
    for way in (
        lambda: call(porch(house).address, line_of(barn, tmp_path)),
        lambda: call(porch(barn).address, line_of(house, tmp_path)),
        lambda: meet(house, stick),
    ):
        harm(house, everything(barn)[3:5], -1)
        assert len(faults(house)) == 2
        way()
        assert faults(house) == []
