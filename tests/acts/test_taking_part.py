"""Laptops put out, roles, stewardship handed on, the recovery words: through the one door, on disk."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from herdsync import founding
from herdsync.farm import Farm
from herdsync.faults import BadBytes, Refused
from herdsync.log.recovery import words_of
from herdsync.wall import Wall

WALL = Wall(datetime(2026, 11, 20, 6, tzinfo=UTC))


class Farmyard:
    """Laptops in folders of their own, each with its own keys, and one stick."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        self.patch = patch
        self.stick = folder / "stick"
        self.stick.mkdir()
        self.at("house")
        self.words = founding.found(
            folder / "house", WALL, name="Quillmoor Dairy", keeper="Oda", device="house"
        ).recovery

    def at(self, laptop: str) -> Path:
        self.patch.setenv("HERDSYNC_KEYS", str(self.folder / f"keys-{laptop}"))
        return self.folder / laptop

    def open(self, laptop: str) -> Farm:
        return Farm.open(self.at(laptop), WALL)

    def join(self, laptop: str, keeper: str) -> None:
        joining = founding.join(self.at(laptop), WALL, self.stick, keeper=keeper, device=laptop)
        with self.open("house") as farm:
            farm.admit(str(self.stick), joining.code)
        founding.exchange_joining(self.at(laptop), WALL, self.stick)

    def meet(self, *laptops: str) -> None:
        for laptop in (*laptops, *laptops):
            with self.open(laptop) as farm:
                farm.exchange(str(self.stick))

    def told(self, laptop: str) -> bytes:
        with self.open(laptop) as farm:
            return msgspec.json.encode(
                [farm.due(every=True), farm.herd(every=True), farm.show("Agate"),
                 farm.conflicts(every=True), farm.trail("Agate")]
            )  # fmt: skip

    def roles(self, laptop: str) -> dict[str, str]:
        with self.open(laptop) as farm:
            return {
                line.device: line.role + (" steward" if line.steward else "")
                for line in farm.devices()
            }


@pytest.fixture
def yard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Farmyard:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        farm.record("product", {"substance": "Inventol", "milk_h": "96", "meat_d": "9"})
    yard.join("barn", "Ravi")
    return yard


def test_what_a_removed_laptop_writes_later_counts_for_safety_alone(yard: Farmyard) -> None:
    with yard.open("house") as farm:
        farm.remove("barn", "left us")
    with yard.open("barn") as farm:
        farm.record("weighing", {"animal": "Agate", "on": "2026-11-12", "weight_kg": "60"})
        farm.record("dose", {"animal": "Agate", "product": "Inventol", "on": "2026-11-19"})
        farm.exchange(str(yard.stick))
    with yard.open("house") as farm:
        assert farm.exchange(str(yard.stick)).unvouched == 2
        assert farm.show("Agate").acts == []
        assert "milk not for sale" in {hold.what for hold in farm.holds("Agate")}
        waiting = {line.kind: line.entry for line in farm.unvouched()}
        farm.adopt([waiting["weighing"]])
        assert [act.kind for act in farm.show("Agate").acts] == ["weighing"]
        with pytest.raises(Refused, match="only with a reason"):
            farm.set_aside([waiting["dose"]], "")
        farm.set_aside([waiting["dose"]], "it was never given")
        assert farm.holds("Agate") == []
        assert farm.unvouched() == []
        assert farm.verify().faults == []


def test_a_removed_laptop_reads_no_bundle_packed_after_and_writes_no_more(yard: Farmyard) -> None:
    with yard.open("house") as farm:
        farm.remove("barn")
        farm.exchange(str(yard.stick))
        farm.record("note", {"text": "sold the old trailer", "about": "Agate"})
        farm.exchange(str(yard.stick))
    with yard.open("barn") as farm:
        before = farm.exchange(str(yard.stick))
        assert before.received == 0
        assert not any("trailer" in line.matched for line in farm.find("trailer"))


def test_stewardship_is_handed_on_and_only_the_steward_puts_out(yard: Farmyard) -> None:
    yard.join("shed", "Jun")
    with yard.open("house") as farm:
        farm.hand_over("shed")
        with pytest.raises(Refused, match="Only the steward's laptop"):
            farm.remove("barn")
        farm.exchange(str(yard.stick))
    with yard.open("shed") as farm:
        farm.exchange(str(yard.stick))
        farm.rank("house", "helper")
        farm.remove("barn")
    yard.meet("shed", "house")
    expected = {"shed": "keeper steward", "house": "helper", "barn": "removed"}
    assert yard.roles("house") == yard.roles("shed") == expected


def test_the_words_win_the_farm_back_from_a_stick_alone(yard: Farmyard) -> None:
    with yard.open("barn") as farm:
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-11-10", "front_left": "ok"})
    yard.meet("barn", "house", "barn")
    recovered = founding.recover(
        yard.at("new"), WALL, yard.words, yard.stick, keeper="Oda", device="new", remove=["house"]
    )
    assert recovered.removed == ["house"]
    assert yard.roles("new") == {"new": "keeper steward", "house": "removed", "barn": "keeper"}
    yard.meet("new", "barn", "new")
    assert yard.told("new") == yard.told("barn")


def test_the_words_are_rehearsed(yard: Farmyard) -> None:
    with yard.open("barn") as farm:
        assert farm.rehearse(yard.words.upper()).name == "Quillmoor Dairy"
        other = words_of(bytes(range(32)))
        with pytest.raises(Refused, match="of another farm"):
            farm.rehearse(other)


@pytest.mark.parametrize("spoil", ["swap", "strange", "short"])
def test_wrong_words_win_nothing(yard: Farmyard, spoil: str) -> None:
    yard.meet("house")
    words = yard.words.split()
    if spoil == "swap":
        words[0], words[1] = words[1], words[0]
    elif spoil == "strange":
        words[3] = "goatling"
    else:
        words = words[:-1]
    with pytest.raises(Refused):
        founding.recover(
            yard.at("new"), WALL, " ".join(words), yard.stick, keeper="Oda", device="new"
        )
    assert not (yard.folder / "new" / "farm.db").exists()


def test_a_copied_farm_writes_again_only_as_another_laptop(yard: Farmyard) -> None:
    shutil.copytree(yard.folder / "house", yard.folder / "copy")
    with yard.open("copy") as farm:
        assert "can read but not write" in farm.read_only
    founding.recover(yard.at("copy"), WALL, yard.words, yard.stick, keeper="Oda", device="copy")
    with yard.open("copy") as farm:
        assert farm.read_only == ""
        farm.record("weighing", {"animal": "Agate", "weight_kg": "62"})
    yard.meet("copy", "house", "barn", "copy")
    assert yard.told("copy") == yard.told("house") == yard.told("barn")


def test_who_asked_and_whose_note_of_it_was_damaged_asks_afresh(yard: Farmyard) -> None:
    loft = yard.at("loft")
    first = founding.join(loft, WALL, yard.stick, keeper="Jun", device="loft")
    (note,) = (yard.folder / "keys-loft").glob("*.pending")
    raw = note.read_bytes()
    note.write_bytes(raw[:40] + bytes([raw[40] ^ 1]) + raw[41:])
    with pytest.raises(BadBytes, match="Run 'herdsync join' again"):
        founding.exchange_joining(loft, WALL, yard.stick)
    again = founding.join(loft, WALL, yard.stick, keeper="Jun", device="loft")
    assert again.code != first.code
    with yard.open("house") as farm:
        farm.admit(str(yard.stick), again.code)
    yard.at("loft")
    founding.exchange_joining(loft, WALL, yard.stick)
    assert "loft" in yard.roles("house")
