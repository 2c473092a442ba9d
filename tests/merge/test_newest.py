"""The newest records of a kind: both shelves answer alike, and as the whole list would."""

from __future__ import annotations

import sqlite3
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.log.trust import Members
from herdsync.merge.memory_shelf import MemoryShelf
from herdsync.merge.shelf import Shelf, sort_moment
from herdsync.store import sql_shelf
from herdsync.store.log_table import LogTable
from herdsync.store.schema import DERIVED, LOG
from herdsync.store.sql_shelf import SqlShelf
from tests.bench.herd_history import record
from tests.farmyard import Yard

ANIMALS = [bytes([n]) * 16 for n in range(3)]
ACTS = st.lists(
    st.tuples(
        st.sampled_from(["milk", "mating", "hoof-trim"]),
        st.sampled_from(ANIMALS),
        st.integers(1, 28),
    ),
    max_size=40,
)


def shelves() -> tuple[MemoryShelf, SqlShelf]:
    connection = sqlite3.connect(":memory:")
    connection.executescript(LOG + DERIVED)
    return MemoryShelf(), SqlShelf(connection, LogTable(connection), nobody)


def nobody() -> Members:
    raise AssertionError("no entry is read here")


def fill(shelf: Shelf, acts: list[tuple[str, bytes, int]]) -> None:
    for number, (kind, animal, day) in enumerate(acts):
        subject = {"milk": "doe", "mating": "doe", "hoof-trim": "animal"}[kind]
        fields = {subject: animal, "on": f"2026-03-{day:02d}"}
        if kind == "mating":
            fields["buck"] = ANIMALS[0]
        shelf.put(record(kind, number, fields))


@settings(max_examples=60, deadline=None)
@given(ACTS, st.integers(1, 6))
def test_the_newest_are_the_end_of_the_whole_list(
    acts: list[tuple[str, bytes, int]], most: int
) -> None:
    for shelf in shelves():
        fill(shelf, acts)
        for animal in ANIMALS:
            recent = shelf.recent(animal, most)
            every = shelf.naming(animal)
            assert set(recent.kinds) == {one.kind for one in every}
            for kind in ("milk", "mating", "hoof-trim"):
                whole = shelf.naming(animal, kind)
                found = shelf.newest(animal, kind, most)
                assert [one.id for one in found.records] == [one.id for one in whole[-most:]]
                assert list(recent.of(kind)) == found.records[::-1]
                assert recent.times(kind) == [sort_moment(one) for one in found.records[::-1]]
                assert recent.floor(kind) == found.floor
                assert recent.every(kind) == (whole if found.floor is None else None)
                if whole:
                    before = sort_moment(whole[-2]) if len(whole) > 1 else None
                    assert recent.last(kind) == (whole[-1], before)
                left_out = whole[:-most]
                assert (found.floor is None) == (not left_out)
                if left_out:
                    assert found.floor == sort_moment(left_out[-1])


@pytest.mark.parametrize("short", [0, sql_shelf.SHORT])
@settings(max_examples=40, deadline=None)
@given(ACTS, ACTS, st.integers(1, 6), st.booleans())
def test_what_is_read_ahead_is_what_there_is(
    short: int,
    acts: list[tuple[str, bytes, int]],
    later: list[tuple[str, bytes, int]],
    most: int,
    anew: bool,
) -> None:
    ahead, plain = shelves()[1], shelves()[1]
    with patch.object(sql_shelf, "SHORT", short):
        for told in (acts, later):
            # The second time round something was read ahead that nobody asked for before it changed.
            for shelf in (ahead, plain):
                fill(shelf, told)
            assert newest(ahead, most) == newest(plain, most)
            if anew:
                ahead.refresh()
            ahead.read_ahead(ANIMALS, most, ["milk"])
            assert newest(ahead, most) == newest(plain, most)
            ahead.read_ahead(ANIMALS, most, ["milk"])


def newest(shelf: Shelf, most: int) -> list[object]:
    """Everything that is told of the newest acts of every animal."""
    told = [(animal, shelf.recent(animal, most)) for animal in ANIMALS]
    return [
        (animal, kind, list(one.of(kind)), one.times(kind), one.floor(kind), one.last(kind)[0])
        for animal, one in told
        for kind in sorted(one.kinds)
    ]


@pytest.mark.parametrize("place", [0, 1])
def test_retracted_and_moved_records_do_not_linger(place: int) -> None:
    shelf = shelves()[place]
    fill(shelf, [("milk", ANIMALS[1], day) for day in (3, 1, 2)])
    newest = shelf.newest(ANIMALS[1], "milk", 1).records[0]
    shelf.drop(newest.id)
    assert shelf.newest(ANIMALS[1], "milk", 1).records[0].value("on") == "2026-03-02"
    left = shelf.recent(ANIMALS[1], 5).of("milk")
    assert [one and one.value("on") for one in left] == ["2026-03-02", "2026-03-01"]


def test_later_ones_are_those_after_a_time_of_every_kind() -> None:
    yard = Yard()
    goat = yard.animal("Agate")
    on = [f"2026-03-0{n}T06:00:00+00:00" for n in (1, 2, 3)]
    notes = [yard.write("house", "note", about=goat, on=one, text="seen") for one in on]
    trim = yard.write("house", "hoof-trim", animal=goat, on=on[1])
    recent = yard.shelf().recent(goat, 9)
    second = recent.times("note")[1]
    assert {one.id for one in recent.later(second)} == {notes[2]}
    assert {one.id for one in recent.later(second - 1)} == {notes[1], notes[2], trim}
