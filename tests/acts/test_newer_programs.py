"""A newer program in the farm: what this one does not know goes on byte for byte and ends all-clears."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.kinds.ids import raw_id, text_id
from herdsync.log.entry import CRITICAL, Entry
from herdsync.log.writer import Act
from herdsync.store.store import Stamp
from tests.acts.test_taking_part import WALL, Farmyard

RECORD = {"fields": {"x": [1, {"y": b"z"}]}}


@pytest.fixture
def yard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Farmyard:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
    yard.join("barn", "Ravi")
    yard.join("shed", "Jun")
    yard.meet("house", "barn", "shed")
    return yard


def written(yard: Farmyard, laptop: str, act: Act) -> Entry:
    """What a newer program on a laptop signs."""
    with yard.open(laptop) as farm:
        stamp = Stamp("", int(WALL.now().timestamp() * 1000), False, WALL.entropy)
        with farm._store.writing(stamp) as writing:
            writing.append(act)
            return writing.entries[-1]


def held(yard: Farmyard, laptop: str, id: bytes) -> Entry | None:
    with yard.open(laptop) as farm, farm._store.reading() as view:
        return view.log.full(id)


@pytest.mark.parametrize(
    "act",
    [
        Act("record", "cheese-making", RECORD),
        Act("record", "note", {"fields": {"on": "2026-03-01", "text": "t"}}, 9),
        Act("foretell", "note", {"of": bytes(16)}),
    ],
    ids=["kind", "version of a kind", "verb"],
)
def test_two_older_laptops_carry_it_on_over_sticks_and_line_byte_for_byte(
    yard: Farmyard, act: Act
) -> None:
    entry = written(yard, "barn", act)
    with yard.open("barn") as farm:
        farm.exchange(str(yard.stick))
    with yard.open("house") as farm:
        moved = farm.exchange(str(yard.stick))
        assert (moved.received, moved.told) == (1, [])
        # On to the next over the network: the writer's laptop is not there.
        visits: list[object] = []
        with farm.listening(0, visits.append, "127.0.0.1") as port, yard.open("shed") as shed:
            assert shed.exchange(f"127.0.0.1:{port}").received == 1
    for laptop in ("house", "shed"):
        assert held(yard, laptop, entry.id) == entry
        with yard.open(laptop) as farm:
            (unread,) = farm.verify().unread
            assert unread.what == f"entry {text_id(entry.id)}" and unread.why
            assert farm.verify().faults == []


def test_what_is_flagged_critical_ends_the_all_clear_of_its_animal(yard: Farmyard) -> None:
    with yard.open("house") as farm:
        agate = raw_id(farm.show("Agate").id)
        assert farm.holds("Agate") == []
    written(yard, "barn", Act("record", "cheese-making", RECORD, 1, CRITICAL, frozenset({agate})))
    yard.meet("barn", "house")
    with yard.open("house") as farm:
        held = {hold.what: hold.reason for hold in farm.holds("Agate")}
        assert set(held) == {"milk not for sale", "meat not for sale"}
        assert all("bring this program up to date" in why for why in held.values())
        sheet, *_ = farm.papers("sale", ["Agate"])
        assert not sheet.fit and "unreadable entries" in farm.herd()[0].state
