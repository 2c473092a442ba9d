"""What one look keeps for the next never shows: an open farm answers as a farm opened afresh."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from herdsync.acts import looking
from herdsync.answers import DueLine
from herdsync.farm import Farm
from herdsync.projections.herd import Herd
from herdsync.wall import Wall
from tests.acts.test_taking_part import WALL, Farmyard


def afresh(yard: Farmyard, laptop: str) -> list[DueLine]:
    with yard.open(laptop) as farm:
        return farm.due()


def test_an_open_farm_answers_as_one_opened_afresh(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        farm.record("animal", {"name": "Opal", "sex": "doe", "born": "2021-03-01"})
    yard.join("barn", "Ravi")
    with yard.open("house") as farm:
        assert farm.due() == afresh(yard, "house")
        trim = farm.record("hoof-trim", {"animal": "Agate", "on": "2026-11-01", "front_left": "ok"})
        assert farm.due() == afresh(yard, "house")
        farm.retract(trim.id, "it was Opal")
        assert farm.due() == afresh(yard, "house")
        farm.undo()
        assert farm.due() == afresh(yard, "house")
        with yard.open("barn") as other:
            other.exchange(str(yard.stick))
            other.record("hoof-trim", {"animal": "Opal", "on": "2026-11-02", "front_left": "ok"})
            other.exchange(str(yard.stick))
        yard.at("house")
        farm.exchange(str(yard.stick))
        assert farm.due() == afresh(yard, "house")
        farm.remove("barn", "left us")
        farm.set("hoof-days", "40")
        assert farm.due() == afresh(yard, "house")
        farm.refold()
        assert farm.due() == afresh(yard, "house")


def test_a_day_later_the_open_farm_looks_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-10-01", "front_left": "ok"})
        before = farm.due()
        later = Wall(datetime(2026, 12, 10, 6, tzinfo=UTC))
        monkeypatch.setattr(WALL, "now", later.now)
        with Farm.open(tmp_path / "house", later) as other:
            assert farm.due() == other.due() != before


def test_a_farm_as_it_was_known_keeps_nothing_of_today(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        before = farm.due()
        known = farm.trail("Agate")[-1].entry
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-11-01", "front_left": "ok"})
        assert farm.due() != before
        farm.know_only(known)
        assert farm.due() == before


def everything(farm: Farm) -> list[object]:
    return [
        farm.due(), farm.due(every=True), farm.herd(every=True), farm.pens(), farm.timers(),
        farm.timers(), farm.conflicts(), farm.names("animal"), farm.called("animal"), farm.held(),
        farm.heads(), farm.name,
    ]  # fmt: skip


def test_of_one_look_everything_is_told_alike_and_the_herd_is_made_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("pen", {"name": "Barn"})
        for name in ("Agate", "Opal"):
            farm.record("animal", {"name": name, "sex": "doe", "born": "2021-03-01"})
            farm.record("pen-move", {"animal": name, "pen": "Barn"})
        farm.record("product", {"substance": "Inventol", "milk_h": "96", "meat_d": "9"})
        farm.record("dose", {"animal": "Opal", "product": "Inventol"})
    with yard.open("house") as farm:
        apart = everything(farm)
    herds: list[Herd] = []

    class Counted(Herd):
        def __init__(self, *told: object) -> None:
            super().__init__(*told)  # type: ignore[arg-type]
            herds.append(self)

    monkeypatch.setattr(looking, "Herd", Counted)
    with yard.open("house") as farm:
        with farm.one_look():
            assert everything(farm) == apart
            assert len(herds) == 1
        farm.record("animal", {"name": "Beryl", "sex": "doe", "born": "2021-03-01"})
        assert "Beryl" in farm.called("animal").values()
        agate, opal, beryl = farm.herd(every=True)
        farm.record("leaving", {"animal": "Agate", "how": "sold"})
        farm.retract(beryl.id, "written twice")
        gone = next(one for one in farm.herd(every=True) if one.id == agate.id)
        asked = [opal.id, agate.id, beryl.id, farm.find("Barn")[0].id]
        assert farm.animal_lines(asked) == [opal, gone] and gone.standing == "sold"
        farm.record("animal", {"name": "Beryl", "sex": "doe", "born": "2021-03-01"})
        with farm.one_look():
            assert "Beryl" in {line.name for line in farm.herd()} & {
                line.name for line in farm.due()
            }


def test_nothing_is_written_within_one_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        with pytest.raises(AssertionError, match="a look ends before"), farm.one_look():
            farm.record("pen", {"name": "Barn"})
        assert farm.pens() == []
        farm.record("pen", {"name": "Barn"})
        assert farm.pens() == ["Barn"]


def test_while_one_look_lasts_it_sees_nothing_another_wrote(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm, yard.open("house") as other:
        with farm.one_look():
            assert farm.pens() == []
            other.record("pen", {"name": "Barn"})
            assert farm.pens() == []
            assert farm.names("pen") == []
        assert farm.pens() == farm.names("pen") == ["Barn"]


def test_the_mark_of_a_farm_is_another_after_every_write_by_anyone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm, yard.open("house") as other:
        marks = [farm.mark()]
        assert farm.mark() == marks[0]
        farm.record("pen", {"name": "Barn"})
        marks.append(farm.mark())
        other.record("pen", {"name": "Shed"})
        marks.append(farm.mark())
        with yard.open("house") as again:
            marks.append(again.mark())
        assert all(one != two for at, one in enumerate(marks) for two in marks[:at])
