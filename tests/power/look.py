"""What must hold of a farm whatever befell its storage: each promise not kept is a sentence."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from herdsync.farm import Farm
from herdsync.faults import DamagedFarm, Refused
from herdsync.kinds.ids import raw_id
from herdsync.store.backup import restore
from herdsync.store.database import FILE
from herdsync.store.keyring import KEYS_VARIABLE
from herdsync.wall import Wall
from tests.power.days import NEW, NEW_KEYS
from tests.power.storage import Line


def broken(name: str, place: Path, told: list[Line]) -> list[str]:
    """Every promise that does not hold in what is left at ``place`` of a day, given what was told."""
    with pytest.MonkeyPatch.context() as keys:
        keys.setenv(KEYS_VARIABLE, str(place / "house-keys"))
        if name == "founding":
            keys.setenv(KEYS_VARIABLE, str(place / NEW_KEYS))
            return _new_farm(place / NEW, told)
        found = _farm(place / "house", told) + _copies(place, told)
        keys.setenv(KEYS_VARIABLE, str(place / "barn-keys"))
        return found + _partner(place, told)


def _farm(folder: Path, told: list[Line]) -> list[str]:
    try:
        with Farm.open(folder, Wall()) as farm:
            found = _whole(farm, told)
            if farm.read_only:
                return [*found, f"it is read-only: {farm.read_only}"]
            farm.record("note", {"text": "and on it goes", "on": "2026-03-02"})
            return found + _whole(farm, told)
    except (Refused, DamagedFarm) as fault:
        return [str(fault)]


def _whole(farm: Farm, told: list[Line]) -> list[str]:
    verified = farm.verify()
    found = [*verified.faults, *(f"a fork: {one}" for one in verified.forks)]
    with farm._store.reading() as view:
        for word, about in told:
            if word == "record" and view.shelf.get(raw_id(about)) is None:
                found.append(f"record {about} is lost")
            if word == "claim" and view.log.place_of_claim(raw_id(about)[:16]) is None:
                found.append(f"claim {about} is lost")
    return found


def _new_farm(folder: Path, told: list[Line]) -> list[str]:
    """A farm told to be founded is there and whole; one that was not may be there, or can be founded."""
    if (folder / FILE).exists():
        return _farm(folder, told)
    return ["a founded farm is gone"] if ("founded", NEW) in told else []


def _copies(place: Path, told: list[Line]) -> list[str]:
    found = []
    for word, about in told:
        if word == "backup":
            back = place / "restored"
            shutil.rmtree(back, ignore_errors=True)
            try:
                restore(place / "copies" / Path(about).name, back)
            except (Refused, DamagedFarm) as fault:
                found.append(f"the backup is no backup: {fault}")
    return found


def _partner(place: Path, told: list[Line]) -> list[str]:
    """What was left on the stick before the cut, the partner finds there."""
    least = max((int(about) for word, about in told if word == "left"), default=0)
    with Farm.open(place / "barn", Wall()) as farm:
        farm.exchange(str(place / "stick"))
        entries = farm.verify().entries
    return [f"the partner finds {entries} of {least} entries"] if entries < least else []
