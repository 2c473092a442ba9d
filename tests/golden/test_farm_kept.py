"""The farm that version 1 wrote opens for ever: the same due work, herd, holds, conflicts; and it goes on."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from herdsync.acts.exporting import take_farm
from herdsync.farm import Farm
from herdsync.founding import recover
from herdsync.projections import plan
from herdsync.store.backup import restore
from herdsync.store.database import FILE
from herdsync.store.store import Store
from herdsync.wall import Wall
from tests.golden.farm import ANSWERS, FARM, KEPT, LOOKED, PLAN, STICK, WORDS, open_text, told

ANSWERED: dict[str, Any] = json.loads((KEPT / ANSWERS).read_text())
NAMED = ("due", "timers", "herd", "conflicts", "held")


@pytest.fixture(autouse=True)
def the_plan_of_the_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The care plan as it was shipped then, and keys of this test's own."""
    (tmp_path / "package" / "plans").mkdir(parents=True)
    shutil.copyfile(KEPT / PLAN, tmp_path / "package" / "plans" / "hill-and-barn-1.toml")
    there = SimpleNamespace(files=lambda _: tmp_path / "package")
    monkeypatch.setattr(plan, "resources", there)
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    plan.shipped_plan.cache_clear()
    yield
    plan.shipped_plan.cache_clear()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    restore(KEPT / FARM, tmp_path / "house")
    return tmp_path / "house"


def packed(folder: Path) -> dict[bytes, bytes]:
    """Every entry's exact bytes, by its id."""
    store = Store(folder)
    try:
        return {
            one.id: one.header_bytes + one.body_bytes + one.signature
            for one in store.entries(store.runs())
        }
    finally:
        store.close()


def test_the_kept_farm_is_of_version_one_and_has_what_it_is_kept_for(folder: Path) -> None:
    store = Store(folder)
    entries = list(store.entries(store.runs()))
    store.close()
    assert {entry.header.version for entry in entries} == {1}
    assert len(entries) == ANSWERED["verify"][0]["entries"] > 300
    assert len({entry.header.device for entry in entries}) == 3
    assert [one["role"] for one in ANSWERED["devices"]].count("removed") == 1
    assert {one["kind"] for one in ANSWERED["conflicts"]} == {"field", "pair"}
    assert ANSWERED["held"] and ANSWERED["timers"] and ANSWERED["verify"][0]["unvouched"]


@pytest.mark.parametrize("name", [*NAMED, "devices", "verify"])
def test_the_kept_farm_answers_as_it_did(folder: Path, name: str) -> None:
    with Farm.open(folder, Wall(LOOKED)) as farm:
        assert told(farm)[name] == ANSWERED[name]


def test_the_kept_farm_has_the_settings_it_had(folder: Path) -> None:
    with Farm.open(folder, Wall(LOOKED)) as farm:
        now = {line.key: line.value for line in farm.settings()}
        assert farm.plan_faults() == []
    assert now | {one["key"]: one["value"] for one in ANSWERED["settings"]} == now


def test_the_kept_farm_folds_to_the_same_again(folder: Path) -> None:
    with Farm.open(folder, Wall(LOOKED)) as farm:
        farm.refold()
        found = told(farm)
    assert {name: found[name] for name in NAMED} == {name: ANSWERED[name] for name in NAMED}


def test_the_kept_farm_as_open_text_and_back(folder: Path, tmp_path: Path) -> None:
    with Farm.open(folder, Wall(LOOKED)) as farm:
        text = open_text(farm)
    assert hashlib.sha256(text).hexdigest() == ANSWERED["open text"][0]
    founding = next(one for one in _entries(folder) if one.header.verb == "found")
    store = Store.for_reading(tmp_path / "again", founding)
    take_farm(store, Path("farm.jsonl"), lambda: iter([text]))
    store.close()
    assert packed(tmp_path / "again") == packed(folder)


def _entries(folder: Path) -> list[Any]:
    store = Store(folder)
    found = list(store.entries(store.runs()))
    store.close()
    return found


def test_the_kept_farm_rises_from_its_stick_and_the_words(tmp_path: Path, folder: Path) -> None:
    shutil.copytree(KEPT / STICK, tmp_path / "stick")
    words = (KEPT / WORDS).read_text().strip()
    recover(tmp_path / "new", Wall(LOOKED), words, tmp_path / "stick", keeper="Oda", device="new")
    before, after = packed(folder), packed(tmp_path / "new")
    assert before.items() <= after.items()
    with Farm.open(tmp_path / "new", Wall(LOOKED)) as farm:
        found = told(farm)
        assert farm.verify().faults == []
    assert {name: found[name] for name in NAMED} == {name: ANSWERED[name] for name in NAMED}


def test_the_kept_farm_goes_on(tmp_path: Path, folder: Path) -> None:
    before = packed(folder)
    (tmp_path / "stick").mkdir()
    words = (KEPT / WORDS).read_text().strip()
    recover(folder, Wall(LOOKED), words, tmp_path / "stick", keeper="Oda", device="new")
    with Farm.open(folder, Wall(LOOKED)) as farm:
        marl = next(one for one in farm.herd() if one.name == "Marl")
        farm.record("note", {"text": "goes on", "about": marl.id})
        assert any("goes on" in str(line.after) for line in farm.trail("Marl"))
        assert farm.verify().faults == []
    after = packed(folder)
    assert before.items() <= after.items()
    assert len(after) > len(before)
    assert (folder / FILE).is_file()
