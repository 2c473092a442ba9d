"""Any history of writing, exchanging, losing and damaging files ends with every entry everywhere.

The mend is only what the sentences say: delete what stays refused, and exchange again.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.exchange import load
from herdsync.exchange.bundles import Moved, exchange_bundles
from herdsync.exchange.carrier import TAIL_BYTES, Shelf
from tests.exchange.laptops import (
    MemoryLaptop,
    admission_of,
    entropy_of,
    founding_of,
    note,
)

NAMES = ("house", "barn", "loft")
FOUNDING = founding_of("house")


class Depot:
    """A carrier in memory."""

    what = "the depot"

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}

    def names(self) -> Shelf:
        return Shelf(sorted(self.files), [])

    def tail(self, name: str) -> tuple[int, bytes] | None:
        raw = self.files.get(name)
        return None if raw is None else (len(raw), raw[-TAIL_BYTES:])

    def head(self, name: str, most: int) -> bytes | None:
        raw = self.files.get(name)
        return None if raw is None else raw[:most]

    def read(self, name: str, most: int) -> bytes | None:
        raw = self.files.get(name)
        return None if raw is None else raw[: most + 1]

    def create(self, name: str, data: bytes) -> bool:
        return self.files.setdefault(name, data) is data

    def remove(self, name: str) -> None:
        self.files.pop(name, None)

    def pick(self, number: int) -> str | None:
        names = sorted(self.files)
        return names[number % len(names)] if names else None


def damaged(raw: bytes, number: int) -> bytes:
    at = number % max(1, len(raw))
    if number % 3 == 0:
        return raw[:at]
    return raw[:at] + bytes([raw[at] ^ 1 << number % 8]) + raw[at + 1 :]


def exchanged(laptop: MemoryLaptop, depot: Depot) -> Moved:
    before = laptop.ids()
    moved = exchange_bundles(depot, laptop.ledger, 0, entropy_of(f"{laptop.name} exchange"))
    assert before <= laptop.ids()
    assert moved.received == len(laptop.ids() - before)
    return moved


LAPTOP, DEPOT, NUMBER = st.integers(0, 2), st.integers(0, 1), st.integers(0, 2**16)
STEP = st.one_of(
    st.tuples(st.just("write"), LAPTOP, DEPOT, NUMBER),
    st.tuples(st.just("exchange"), LAPTOP, DEPOT, NUMBER),
    st.tuples(st.just("exchange"), LAPTOP, DEPOT, NUMBER),
    st.tuples(st.sampled_from(["lose", "damage", "copy"]), LAPTOP, DEPOT, NUMBER),
)


def play(laptops: list[MemoryLaptop], depots: list[Depot], step: tuple[str, int, int, int]) -> None:
    act, who, where, number = step
    laptop, depot = laptops[who], depots[where]
    name = depot.pick(number)
    if act == "write":
        laptop.write(note(f"{number}"))
    elif act == "exchange":
        exchanged(laptop, depot)
    elif name is not None and act == "lose":
        del depot.files[name]
    elif name is not None and act == "damage":
        depot.files[name] = damaged(depot.files[name], number)
    elif name is not None:
        other = depots[1 - where]
        other.files.setdefault(name if number % 2 else f"copy of {name}", depot.files[name])


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(STEP, max_size=40), st.booleans(), st.integers(2, 9))
def test_every_entry_reaches_everyone(
    monkeypatch: pytest.MonkeyPatch, steps: list[Any], old_depot: bool, size: int
) -> None:
    monkeypatch.setattr(load, "ENTRIES", size)
    laptops = [MemoryLaptop(name, FOUNDING) for name in NAMES]
    for name in NAMES[1:]:
        laptops[0].write(admission_of(name))
    depots = [Depot(), Depot()]
    for step in steps:
        play(laptops, depots, step)
    every = set().union(*(laptop.ids() for laptop in laptops))
    last = depots[0] if old_depot else Depot()
    for _ in range(8):
        for laptop in laptops:
            for setback in exchanged(laptop, last).refused:
                last.files.pop(setback.what.removeprefix("file "), None)
    assert all(laptop.ids() == every for laptop in laptops)
    assert all(exchanged(laptop, last) == Moved(0, 0, 0, []) for laptop in laptops)
