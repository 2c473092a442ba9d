"""A partner's program of a later format, over the real carriers: one sentence each, and the rest goes on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from herdsync.exchange import wire
from herdsync.log.entry import pack
from tests.exchange import by_hand
from tests.exchange.conftest import Maker
from tests.exchange.laptops import note
from tests.exchange.meetings import FOUNDING, farm, meet, quietly
from tests.exchange.porch import Porch, greeting, member_line, until_closed
from tests.exchange.test_session import memory_farm

LATER = 9


def test_a_bundle_and_an_entry_of_a_later_format_are_named_on_a_stick_and_cost_nothing_else(
    laptop: Maker, stick: Path
) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, stick)
    quietly(barn, stick)
    sound, later = house.write(note("sound")), house.write(note("later"))
    key, readers = house.ledger.key, [barn.ledger.key.seal_public]
    newer = bytearray(pack(later))
    newer[1] = LATER
    run = [house.ledger.key.public, sound.header.sequence, sound.header.previous, 2]
    pieces = [by_hand.packed([0, pack(sound)]), by_hand.packed([0, bytes(newer)])]
    records = [by_hand.frontier_record(FOUNDING.id, key), by_hand.packed([run]), *pieces]
    (stick / "a.bundle").write_bytes(by_hand.bundle(FOUNDING.id, key, readers, records))
    front = by_hand.front(FOUNDING.id, key.public, [], version=LATER)
    (stick / "b.bundle").write_bytes(front)
    barn.write(note("barn goes on"))
    # What came whole out of the torn one is left anew with what is its own.
    for sent in (2, 0):
        moved = meet(barn, stick)
        assert moved.sent == sent
        assert [one.what for one in moved.refused] == ["file a.bundle", "file b.bundle"]
        for one in moved.refused:
            assert f"format {LATER}" in one.why and "Update this program" in one.why
    assert sound.id in barn.ids() and later.id not in barn.ids()
    # Whoever has the entry as this program knows it brings it all the same.
    (stick / "a.bundle").unlink()
    meet(house, stick)
    assert [one.what for one in meet(barn, stick).refused] == ["file b.bundle"]
    assert later.id in barn.ids()


def test_a_session_of_a_later_version_ends_in_one_sentence_at_both_ends_of_a_real_line(
    porch: Callable[..., Porch],
) -> None:
    house, _ = memory_farm("house", "barn")
    before = house.ids()
    at = porch(house)
    hello = bytearray(greeting())
    hello[5 + len(wire.MAGIC)] = LATER
    with member_line(at.address) as one:
        one.sendall(bytes(hello))
        told = until_closed(one)
    (visit,) = at.wait(1)
    assert visit.moved is None and f"in version {LATER}" in visit.why
    assert f"in version {LATER}".encode() in told
    assert house.ids() == before
