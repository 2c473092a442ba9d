"""Recovery words used on two laptops apart: both sides are told, and the words make one farm of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from herdsync import founding
from herdsync.exchange.apart import APART, STRANGERS, note_closed, strangers
from herdsync.exchange.folder import Folder
from herdsync.exchange.taking import Taking
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.meetings import Exchanged
from herdsync.wall import Wall
from tests.exchange import by_hand
from tests.exchange.laptops import MemoryLaptop, entropy_of, key_of
from tests.exchange.meetings import farm

WALL = Wall()
TOLD = "the recovery words were used on two laptops apart"


@dataclass
class Flood:
    """A farm whose only laptop is gone; its bundles lie on two sticks, its words on paper."""

    folder: Path
    words: str

    def stick(self, name: str) -> str:
        (self.folder / name).mkdir(exist_ok=True)
        return str(self.folder / name)

    def recover(self, device: str, stick: str, *remove: str) -> None:
        founding.recover(
            self.folder / device, WALL, self.words, self.stick(stick),
            keeper=device.title(), device=device, remove=remove,
        )  # fmt: skip

    def open(self, device: str) -> Farm:
        return Farm.open(self.folder / device, WALL)

    def meet(self, device: str, stick: str = "one", words: str = "") -> Exchanged:
        with self.open(device) as farm:
            return farm.exchange(self.stick(stick), words)

    def note(self, device: str, text: str) -> None:
        with self.open(device) as farm:
            farm.record("note", {"text": text})

    def told(self, device: str) -> bool:
        """Whether a laptop tells of another side: in its exchange, its check and its laptops alike."""
        with self.open(device) as farm:
            forks = any(TOLD in one for one in farm.verify().forks)
            lines = any(one.role == APART for one in farm.devices())
        assert forks == lines
        return forks


@pytest.fixture
def flood(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Flood]:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    folder = tmp_path / "house"
    told = founding.found(folder, WALL, name="Quillmoor Dairy", keeper="Oda", device="house")
    one = Flood(tmp_path, told.recovery)
    one.note("house", "before the flood")
    for stick in ("one", "two"):
        one.meet("house", stick)
    yield one


@pytest.fixture
def sides(flood: Flood) -> Flood:
    """Two sides that each wrote something, over sticks of their own."""
    for device, stick in (("kitchen", "one"), ("shed", "two")):
        flood.recover(device, stick, "house")
        flood.note(device, f"from the {device}")
        assert flood.meet(device, stick).told == []
        assert not flood.told(device)
    return flood


def warned(moved: Exchanged) -> bool:
    return any(TOLD in one.why for one in moved.noticed)


def test_both_sides_are_told_at_the_first_carrier_they_share(sides: Flood) -> None:
    for _ in range(2):
        assert warned(sides.meet("shed")) and warned(sides.meet("kitchen"))
    assert sides.told("shed") and sides.told("kitchen")
    with sides.open("shed") as shed:
        animal = shed.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03"}).id
        (paper,) = shed.papers("history", [animal])
        assert "another side of this farm" in " ".join(paper.text.split())
    # It is kept in mind where the carrier is another one.
    assert warned(sides.meet("kitchen", "three"))


@pytest.mark.parametrize("mends", [["kitchen"], ["shed"], ["kitchen", "shed"]])
def test_the_words_make_one_farm_of_them(sides: Flood, mends: list[str]) -> None:
    for device in ("shed", "kitchen"):
        sides.meet(device)
    for device in mends:
        assert not warned(sides.meet(device, words=sides.words))
    for device in ("kitchen", "shed", "kitchen", "shed"):
        moved = sides.meet(device)
    assert moved.told == [] and moved.sent == moved.received == 0
    answers = []
    for device in ("kitchen", "shed"):
        assert not sides.told(device)
        with sides.open(device) as farm:
            assert farm.read_only == "" and farm.verify().faults == []
            assert farm.verify().unvouched == 0
            found = {one.id for text in ("from", "before") for one in farm.find(text)}
            answers.append(
                (found, sorted((one.device, one.role, one.steward) for one in farm.devices()))
            )
            assert [one for one in farm.verify().forks if "recovery words" in one]
    assert answers[0] == answers[1]
    assert len(answers[0][0]) == 3
    assert [steward for _, _, steward in answers[0][1]].count(True) == 1


def test_a_line_between_the_sides_says_why_it_does_not_come_about(sides: Flood) -> None:
    with (
        sides.open("kitchen") as kitchen,
        kitchen.listening(0, lambda visit: None, "127.0.0.1") as port,
        sides.open("shed") as shed,
    ):
        with pytest.raises(Refused, match="recovery words were used on both"):
            shed.exchange(f"127.0.0.1:{port}")
        with pytest.raises(Refused, match="not a line"):
            shed.exchange(f"127.0.0.1:{port}", sides.words)


def test_words_of_another_farm_open_nothing(sides: Flood, tmp_path: Path) -> None:
    other = founding.found(tmp_path / "o", WALL, name="Other", keeper="Jun", device="other")
    with pytest.raises(Refused, match="another farm"):
        sides.meet("shed", words=other.recovery)


def test_who_was_let_in_by_the_side_that_yields_is_kept_and_named(sides: Flood) -> None:
    """Stewardship is one: what the other side's steward decided meanwhile does not count."""
    for host, guest in (("kitchen", "loft"), ("shed", "hut")):
        stick = sides.stick(host)
        joining = founding.join(
            sides.folder / guest, WALL, stick, keeper=guest.title(), device=guest
        )
        with sides.open(host) as farm:
            farm.admit(stick, joining.code)
        founding.exchange_joining(sides.folder / guest, WALL, stick)
        sides.note(guest, f"from the {guest}")
        sides.meet(guest, host)
        sides.meet(host, host)
    for device in ("shed", "kitchen"):
        sides.meet(device)
    sides.meet("kitchen", words=sides.words)
    for device in ("shed", "kitchen"):
        sides.meet(device)
    with sides.open("kitchen") as farm:
        members = {one.device for one in farm.devices()}
        assert len(members & {"loft", "hut"}) == 1
        (outside,) = {"loft", "hut"} - members
        assert [one.after for one in farm.unvouched() if one.field == "text"] == [
            f"from the {outside}"
        ]


def test_a_side_that_is_feigned_is_disproved_by_the_words(flood: Flood) -> None:
    """Who holds the carrier knows the farm's tag; what readers a lid names nobody can check but the words."""
    flood.recover("kitchen", "one", "house")
    with flood.open("kitchen") as opened:
        id = opened._store.farm
    key = key_of("thief")
    raw = by_hand.bundle(id, key, [key.seal_public], [b"x"])
    (flood.folder / "one" / "zz.bundle").write_bytes(raw)
    for _ in range(2):
        assert warned(flood.meet("kitchen"))
    assert not warned(flood.meet("kitchen", words=flood.words))
    assert not warned(flood.meet("kitchen")) and not flood.told("kitchen")


def test_any_number_of_lids_is_looked_at_within_bounds(stick: Path) -> None:
    """A hostile carrier full of bundles of the farm, each for 64 readers of its own."""
    house, _ = farm(MemoryLaptop, "house", "barn")
    key = key_of("thief")
    for number in range(40):
        readers = [key_of(f"{number} {one}").seal_public for one in range(60)]
        raw = by_hand.bundle(house.ledger.farm, key, readers, [b"x"])
        (stick / f"{number}.bundle").write_bytes(raw)
    taking = Taking(Folder(stick, entropy_of("look")), house.ledger)
    taking.run(taking._carrier.names())
    assert 1_024 <= len(taking.closed) <= 1_024 + 64
    for _ in range(3):
        note_closed(house.ledger, taking.closed)
        assert len(strangers(house.ledger)) == STRANGERS


def alone(flood: Flood) -> None:
    """The thief of the steward's laptop goes on with an accomplice of their own."""
    stick = flood.stick("theirs")
    joining = founding.join(flood.folder / "van", WALL, stick, keeper="Nobody", device="van")
    with flood.open("house") as farm:
        farm.admit(stick, joining.code)


def put_out(flood: Flood) -> None:
    alone(flood)
    flood.meet("house", "one")


@pytest.mark.parametrize(("does", "warns"), [(alone, False), (put_out, True)])
def test_a_thief_who_goes_on_by_itself_is_noticed_where_it_meets_the_carrier(
    flood: Flood, does: Callable[[Flood], None], warns: bool
) -> None:
    flood.recover("kitchen", "two", "house")
    does(flood)
    flood.meet("kitchen", "two")
    assert warned(flood.meet("kitchen", "one")) == warns
    # The words read it all; it is told as unvouched from then on, and no longer as another side.
    if warns:
        assert not warned(flood.meet("kitchen", "one", flood.words))
        assert not flood.told("kitchen")
