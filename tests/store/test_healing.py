"""Damage within the farm's file: found, named, and healed from what the partner's stick still holds."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from herdsync import founding
from herdsync.farm import Farm
from herdsync.store.database import FILE
from herdsync.wall import Wall


def spoil(folder: Path, sql: str, *told: object) -> None:
    with closing(sqlite3.connect(folder / FILE)) as db:
        db.execute(sql, told)
        db.commit()


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    (tmp_path / "stick").mkdir()
    house, wall = tmp_path / "house", Wall()
    founding.found(house, wall, name="Quillmoor Dairy", keeper="Oda", device="house")
    with Farm.open(house, wall) as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe"})
        for month in range(1, 7):
            on = f"2026-0{month}-01"
            trim = farm.record("hoof-trim", {"animal": "Agate", "on": on, "front_left": "ok"})
        farm.amend(trim.id, ["front_right=ok"])
        farm.exchange(str(tmp_path / "stick"))
    return house


@pytest.mark.parametrize("place", [10, 40, 90, -1])
def test_a_damaged_entry_is_named_and_fetched_again(house: Path, place: int) -> None:
    with closing(sqlite3.connect(house / FILE)) as db:
        packed = bytearray(db.execute("SELECT packed FROM entry WHERE pos = 9").fetchone()[0])
    packed[place] ^= 4
    spoil(house, "UPDATE entry SET packed = ? WHERE pos = 9", bytes(packed))
    with Farm.open(house, Wall()) as farm:
        (fault,) = farm.verify().faults
        assert "Exchange with the partner" in fault
        farm.exchange(str(house.parent / "stick"))
        assert farm.verify().faults == []


@pytest.mark.parametrize(
    "sql",
    [
        "DELETE FROM derived_touch",
        "DELETE FROM derived_lone WHERE kind = (SELECT min(kind) FROM derived_lone)",
        "INSERT INTO derived_lone VALUES (1, 0, x'09')",
        "UPDATE derived_lone SET places = CAST(places || x'FF' AS BLOB)",
        "UPDATE derived_naming SET at = at + 1",
        "DELETE FROM derived_record",
        "UPDATE derived_record SET kind = kind + 1",
        "INSERT INTO derived_accepted VALUES (zeroblob(32), zeroblob(16))",
    ],
)
def test_damage_in_what_is_derived_is_found_and_folded_away(house: Path, sql: str) -> None:
    spoil(house, sql)
    with Farm.open(house, Wall()) as farm:
        (fault,) = farm.verify().faults
        assert "--refold" in fault
        farm.refold()
        assert farm.verify().faults == []
