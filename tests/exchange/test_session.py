"""A session between two laptops in memory: everything reaches both, whatever is cut, doubled or forged."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.exchange import frontier, wire
from herdsync.log.entry import Entry, pack
from herdsync.store.carried import Run
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, MemoryLaptop, admission_of, founding_of, note
from tests.exchange.wires import bytewise, pieces_of, whole
from tests.exchange.wires import wire as joined

FOUNDING = founding_of("house")


def farm(laptop: Maker, *names: str) -> list[Laptop]:
    """Laptops that know each other as admitted."""
    first, *others = [laptop(name, FOUNDING) for name in names]
    for one in others:
        first.write(admission_of(one.name))
    for one in others:
        one.ledger.take(everything(first), "the test")
    return [first, *others]


def everything(laptop: Laptop) -> list[Entry]:
    return list(laptop.ledger.entries(laptop.ledger.runs()))


def memory_farm(*names: str) -> list[Laptop]:
    return farm(MemoryLaptop, *names)


def test_two_laptops_reach_the_same_entries(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    for number in range(7):
        house.write(note(f"house {number}"))
        barn.write(note(f"barn {number}"))
    met = joined(barn, house).run()
    assert met.faults == [] and met.calling.over and met.answering.over
    assert (met.calling.sent, met.calling.received) == (7, 7)
    assert (met.answering.sent, met.answering.received) == (7, 7)
    assert house.ids() == barn.ids() and len(house.ids()) == 2 + 14


def test_again_costs_a_greeting_each(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("one"))
    joined(barn, house).run()
    for one, other in ((house, barn), (barn, house)):
        met = joined(one, other).run()
        assert met.calling.over and met.answering.over and met.faults == []
        assert met.bytes_moved < 250
        assert met.calling.sent == met.answering.sent == 0


def test_each_end_is_heard_by_the_other(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("one"))
    barn.write(note("two"))
    joined(barn, house).run()
    tips = [(tip.device, tip.sequence, tip.id) for tip in frontier.tips_of(house.ledger)]
    assert house.ledger.last_heard() == {barn.ledger.key.public: (1_000, tips)}
    assert barn.ledger.last_heard() == {house.ledger.key.public: (2_000, tips)}


def test_byte_by_byte_is_the_same_as_in_one_piece() -> None:
    told = []
    for cut in (whole, bytewise):
        house, barn = memory_farm("house", "barn")
        house.write(note("from the house"))
        barn.write(note("from the barn"))
        met = joined(barn, house).run(cut)
        assert met.faults == [] and met.calling.over and met.answering.over
        told.append((met.said, house.ids(), barn.ids()))
    assert told[0] == told[1]


def test_a_session_cut_anywhere_goes_on_in_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wire, "BATCH_ENTRIES", 2)
    house, barn = memory_farm("house", "barn")
    for number in range(5):
        house.write(note(f"house {number}"))
        barn.write(note(f"barn {number}"))
    whole_length = joined(*_copies(house, barn)).run().bytes_moved
    for most in range(0, whole_length, 97):
        one, other = _copies(house, barn)
        cut = joined(one, other).run(most=most)
        assert cut.faults == []
        had = len(one.ids()) + len(other.ids())
        met = joined(one, other).run()
        assert met.faults == [] and one.ids() == other.ids() and len(one.ids()) == 12
        assert met.calling.received + met.answering.received == 24 - had


def _copies(*laptops: Laptop) -> list[Laptop]:
    """The same laptops once more, as they are."""
    made: list[Laptop] = []
    for one in laptops:
        copy = MemoryLaptop(one.name, FOUNDING)
        copy.ledger.take(everything(one), "the test")
        made.append(copy)
    return made


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_history_any_cut_any_order_any_repetition(data: st.DataObject) -> None:
    """Whoever meets whom, in whatever pieces, broken off wherever: in the end all have everything."""
    laptops = memory_farm("house", "barn", "loft")
    for _ in range(data.draw(st.integers(1, 8), label="steps")):
        one, other = data.draw(st.permutations(laptops), label="who")[:2]
        for number in range(data.draw(st.integers(0, 3), label="writes")):
            one.write(note(f"{number}"))
        size = data.draw(st.integers(1, 400), label="piece")
        most = data.draw(st.none() | st.integers(0, 3_000), label="cut after")
        met = joined(one, other).run(pieces_of(size), most)
        assert met.faults == []
    house, barn, loft = laptops
    for one, other in ((house, barn), (barn, loft), (loft, house), (house, barn)):
        assert joined(one, other).run().faults == []
    assert house.ids() == barn.ids() == loft.ids()


def test_a_laptop_admitted_meanwhile_comes_with_its_entries(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    loft = laptop("loft", FOUNDING)
    house.write(admission_of("loft"))
    joined(loft, house).run()
    loft.write(note("from the loft"))
    joined(house, loft).run()
    met = joined(barn, house).run()
    assert met.faults == [] and met.calling.received == 2
    assert barn.ids() == house.ids() == loft.ids()


def test_both_branches_of_a_forked_log_travel(laptop: Maker) -> None:
    house, barn, loft = farm(laptop, "house", "barn", "loft")
    for number in range(40):
        house.write(note(f"shared {number}"))
    joined(barn, house).run()
    copy = MemoryLaptop("house", FOUNDING)
    copy.ledger.take(everything(barn), "the test")
    for number in range(3):
        house.write(note(f"here {number}"))
        copy.write(note(f"there {number}"))
    joined(loft, copy).run()
    joined(barn, house).run()
    met = joined(loft, barn).run()
    assert met.faults == [] and loft.ids() == barn.ids() and len(loft.ids()) == 3 + 40 + 6
    # The split was found without sending the long shared part again.
    assert met.calling.received + met.answering.received == 6
    assert met.calling.sent + met.answering.sent < 12


def test_a_known_branch_is_not_sent_again(laptop: Maker) -> None:
    house, barn, loft = farm(laptop, "house", "barn", "loft")
    for number in range(10):
        house.write(note(f"shared {number}"))
    copy = MemoryLaptop("house", FOUNDING)
    copy.ledger.take(everything(house), "the test")
    house.write(note("here"))
    copy.write(note("there"))
    joined(barn, house).run()
    joined(barn, copy).run()
    joined(loft, house).run()
    met = joined(loft, barn).run()
    assert (met.answering.sent, met.calling.received) == (1, 1)
    assert barn.ids() == loft.ids()


def test_a_laptop_that_lost_entries_is_named_and_gets_them_back() -> None:
    house, barn = memory_farm("house", "barn")
    for number in range(4):
        barn.write(note(f"{number}"))
    joined(house, barn).run()
    restored = MemoryLaptop("barn", FOUNDING)
    restored.ledger.take(everything(house)[:2], "the test")
    met = joined(house, restored).run()
    assert [one.what for one in met.calling.noticed] == ["laptop barn"]
    assert "4 more of its own entries when last heard" in met.calling.noticed[0].why
    assert restored.ids() == house.ids()


def test_a_laptop_of_no_member_is_refused_before_anything_is_told(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    stranger = laptop("stranger", FOUNDING)
    met = joined(stranger, house).run()
    assert "not in the farm" in str(met.faults[0])
    assert bytes(met.said["answering"]).count(barn.ledger.key.public) == 0
    assert stranger.ids() == {FOUNDING.id}


def test_a_laptop_put_out_in_the_middle_gets_no_further_batch(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(wire, "BATCH_ENTRIES", 1)
    house, barn = memory_farm("house", "barn")
    for number in range(3):
        house.write(note(f"{number}"))
    met = joined(barn, house)
    members = house.ledger.members()
    said = 0
    original = met.answering.send

    def send() -> bytes:
        nonlocal said
        said += 1
        if said == 5:
            without = type(members)(
                members.farm, {house.ledger.key.public: members.by_key[house.ledger.key.public]},
                members.steward, members.recovery, members.recovery_seal,
            )  # fmt: skip
            monkeypatch.setattr(house.ledger, "members", lambda: without)
        return original()

    monkeypatch.setattr(met.answering, "send", send)
    met.run()
    assert any("not in the farm, or not any more" in str(fault) for fault in met.faults)
    assert len(barn.ids()) < len(house.ids())


def test_a_batch_keeps_to_its_bounds() -> None:
    house, barn = memory_farm("house", "barn")
    for number in range(2 * wire.BATCH_ENTRIES + 3):
        house.write(note(f"{number}"))
    met = joined(barn, house).run()
    frames = _frames(bytes(met.said["answering"]))
    sizes = [len(wire.batch_in(body).pieces) for kind, body in frames if kind == wire.BATCH]
    assert sizes == [256, 256, 3]
    assert barn.ids() == house.ids()


def _frames(said: bytes) -> list[tuple[int, Any]]:
    found = []
    at = 0
    while at < len(said):
        length = int.from_bytes(said[at : at + 4], "big")
        found.append((said[at + 4], said[at + 5 : at + 4 + length]))
        at += 4 + length
    return found


def test_what_the_wire_carries_beyond_the_entries_is_small() -> None:
    """At most 1.15 times the entries moved, as they are stored, plus 4 KiB."""
    house, barn, loft = memory_farm("house", "barn", "loft")
    for one in (house, barn, loft):
        for number in range(100):
            one.write(note(f"the goat in the far pen ate well today, day {number}"))
    for one, other in ((barn, house), (loft, house), (barn, loft)):
        before = one.ids() | other.ids(), one.ids() & other.ids()
        stored = {entry.id: len(pack(entry)) for x in (one, other) for entry in everything(x)}
        met = joined(one, other).run()
        moved = sum(stored[id] for id in before[0] - before[1])
        assert met.bytes_moved <= 1.15 * moved + 4096
        assert met.bytes_moved <= 1.05 * moved + 2048


def test_the_haves_of_an_astray_log_are_few() -> None:
    house, _ = memory_farm("house", "barn")
    for number in range(300):
        house.write(note(f"{number}"))
    tips = frontier.tips_of(house.ledger)
    (want,) = frontier.wanted_from_the_split(house.ledger, tips)
    assert len(want.haves) <= 11 and want.haves[0] == tips[0].id
    assert want.haves[-1] == FOUNDING.id
    runs, astray = frontier.answering(house.ledger, [want])
    assert runs == [] and astray == []


def test_a_tip_nobody_told_of_is_answered_with_nothing() -> None:
    house, _ = memory_farm("house", "barn")
    assert frontier.answering(house.ledger, [frontier.Want(bytes(32), [], False)]) == ([], [])
    known = frontier.Want(FOUNDING.id, [], False)
    assert frontier.answering(house.ledger, [known]) == (
        [Run(house.ledger.key.public, 1, 0, 0)],
        [],
    )
