"""What one look keeps for the next never shows: an open farm answers as a farm opened afresh."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from herdsync.answers import DueLine
from herdsync.farm import Farm
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
