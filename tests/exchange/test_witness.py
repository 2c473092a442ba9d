"""What partners bear witness to: who has what is here, who went silent, what a carrier keeps back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from herdsync.exchange import witness as witness_module
from herdsync.exchange.bundles import Moved
from herdsync.exchange.folder import Folder
from herdsync.exchange.frontier import tips_of
from herdsync.exchange.witness import going_back, silences, witness
from herdsync.faults import Refused
from herdsync.store.carried import Sighting
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, MemoryLaptop, founding_of, note
from tests.exchange.meetings import bundles_in, everything, meet, quietly
from tests.exchange.test_session import farm, memory_farm
from tests.exchange.wires import wire as joined

FOUNDING = founding_of("house")


def heard(listener: Laptop, speaker: Laptop) -> None:
    """As if the one had read the other's signed frontier."""
    tips = [(tip.device, tip.sequence, tip.id) for tip in tips_of(speaker.ledger)]
    listener.ledger.heard(speaker.ledger.key.public, tips, 0)


def test_nothing_is_known_elsewhere_until_a_partner_says_so(laptop: Maker, stick: Path) -> None:
    house, barn = farm(laptop, "house", "barn")
    for number in range(3):
        house.write(note(f"{number}"))
    everything_here = len(house.ids())
    alone = witness(house.ledger)
    assert (alone.only_here, alone.left, alone.safe_to_lose) == (everything_here, 0, False)
    assert alone.lacks == {barn.ledger.key.public: everything_here}
    meet(house, stick)
    # On a stick in the same bag it is sealed, but on no other laptop.
    left = witness(house.ledger)
    assert (left.only_here, left.left) == (everything_here, everything_here)
    meet(barn, stick)
    assert witness(house.ledger).only_here == everything_here
    barn.write(note("an answer"))
    meet(barn, stick)
    meet(house, stick)
    now = witness(house.ledger)
    assert (now.only_here, now.left, now.safe_to_lose) == (0, 0, True)
    assert now.lacks == {barn.ledger.key.public: 0}


def test_a_laptop_with_nothing_to_write_acknowledges_on_the_stick(
    laptop: Maker, stick: Path
) -> None:
    house, barn = farm(laptop, "house", "barn")
    for number in range(3):
        house.write(note(f"{number}"))
        meet(house, stick)
        assert meet(barn, stick).sent == 0
        assert not witness(house.ledger).safe_to_lose
        assert meet(house, stick).received == 0
        assert witness(house.ledger).safe_to_lose
    kept = bundles_in(stick)
    # Each of the barn's takes the place of the one before, and nobody answers an answer.
    assert len(kept) == 4
    for one in (barn, house, barn, house):
        assert meet(one, stick) == Moved(0, 0, 0, [])
    assert bundles_in(stick) == kept


def test_an_acknowledgement_that_cannot_be_written_is_no_fault(
    laptop: Maker, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("one"))
    meet(house, stick)
    with monkeypatch.context() as patch:
        patch.setattr(Folder, "create", _refusing)
        assert quietly(barn, stick).received > 0
    assert len(bundles_in(stick)) == 1
    quietly(barn, stick)
    assert len(bundles_in(stick)) == 2


def _refusing(*told: object) -> bool:
    raise Refused("The stick can only be read.", "Take another.")


def test_a_call_is_an_acknowledgement_at_once(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("one"))
    barn.write(note("two"))
    joined(barn, house).run()
    assert witness(house.ledger).safe_to_lose and witness(barn.ledger).safe_to_lose
    house.write(note("three"))
    assert witness(house.ledger).only_here == 1


def test_a_laptop_counts_what_others_wrote_and_may_have_lost(laptop: Maker) -> None:
    house, barn, loft = farm(laptop, "house", "barn", "loft")
    loft.write(note("by a third"))
    joined(barn, loft).run()
    known = witness(barn.ledger)
    assert known.lacks[loft.ledger.key.public] == 0
    assert known.lacks[house.ledger.key.public] == len(barn.ids())
    assert known.only_here == 0


def test_a_laptop_put_out_is_no_witness(monkeypatch: pytest.MonkeyPatch) -> None:
    house, barn = memory_farm("house", "barn")
    joined(barn, house).run()
    assert witness(house.ledger).safe_to_lose
    before = house.ledger.members()
    removed = replace(before, removed={barn.ledger.key.public: ()})
    monkeypatch.setattr(house.ledger, "members", lambda: removed)
    known = witness(house.ledger)
    assert known.lacks == {} and known.only_here == len(house.ids())


def test_each_branch_of_a_forked_log_is_counted_apart() -> None:
    house, barn = memory_farm("house", "barn")
    joined(barn, house).run()
    copy = MemoryLaptop("house", FOUNDING)
    copy.ledger.take(everything(house), "the test")
    house.write(note("here"))
    copy.write(note("there"))
    copy.write(note("there again"))
    joined(barn, house).run()
    house.ledger.take(everything(copy), "the test")
    assert witness(house.ledger).only_here == 2


def test_silence_is_told_now_and_then_by_what_was_written(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(witness_module, "SILENT_ENTRIES", 4)
    house, barn = memory_farm("house", "barn")
    joined(barn, house).run()
    told = []
    for number in range(20):
        house.write(note(f"{number}"))
        told += [
            (number + 1, one.why.split(" while ")[1].split(" were")[0])
            for one in silences(house.ledger, witness(house.ledger).lacks)
        ]
    assert told == [(4, "4 entries"), (8, "8 entries"), (16, "16 entries")]
    joined(barn, house).run()
    assert silences(house.ledger, witness(house.ledger).lacks) == []
    for number in range(4):
        house.write(note(f"again {number}"))
    (notice,) = silences(house.ledger, witness(house.ledger).lacks)
    assert notice.what == "laptop barn" and "since it was last heard" in notice.why


def test_a_laptop_never_heard_of_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(witness_module, "SILENT_ENTRIES", 2)
    house, _ = memory_farm("house", "barn")
    (notice,) = silences(house.ledger, witness(house.ledger).lacks)
    assert "since it was let in" in notice.why


def seen(laptop: Laptop, counter: int) -> Sighting:
    return Sighting(f"{counter}", 1, b"", laptop.ledger.key.public, counter, [], [])


def test_a_carrier_that_goes_back_is_told_once_and_by_laptop(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    ledger = house.ledger
    assert going_back(ledger, "stick", [seen(house, 3), seen(barn, 7)]) == []
    assert going_back(ledger, "stick", [seen(house, 4), seen(barn, 7), seen(barn, 2)]) == []
    (notice,) = going_back(ledger, "stick", [seen(house, 4), seen(barn, 2)])
    assert notice.what == "laptop barn"
    assert "up to number 7 were there at the last exchange, now up to 2" in notice.why
    assert going_back(ledger, "stick", [seen(house, 4), seen(barn, 2)]) == []
    assert going_back(ledger, "another stick", []) == []
    empty = going_back(ledger, "stick", [])
    assert {one.what for one in empty} == {"laptop barn", "laptop house"}
    assert all("now none" in one.why for one in empty)


def test_the_receivers_clock_decides_nothing(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    heard(house, barn)
    known = witness(house.ledger)
    house.ledger.heard(barn.ledger.key.public, [], 2**50)
    assert witness(house.ledger) == known
