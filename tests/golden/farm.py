"""The farm that version 1 wrote, kept for good, and how it was made.

``farm_1/`` holds the house's file as `herdsync backup` leaves it, the stick, the care plan of the day, the
recovery words, and what the farm answered (`told`). Run as a module with an empty folder, this writes such
a folder: for a later version, which gets one of its own. The herd, its keepers and its medicine are
invented.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
import tempfile
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any
from unittest.mock import patch

import msgspec

from herdsync.farm import Farm
from herdsync.store.backup import back_up
from herdsync.wall import Wall
from scenarios import demo
from scenarios.stage import Outcome, typed_in

KEPT = Path(__file__).parent / "farm_1"
FARM, STICK, PLAN, WORDS, ANSWERS = "farm.db", "stick", "plan.toml", "words.txt", "answers.json"
MADE = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
LOOKED = datetime(2026, 11, 24, 19, 0, tzinfo=UTC)
# What the answers of that day are compared by: what is, never how a sentence puts it.
COMPARED = {
    "due": ("id", "animal", "name", "pen", "item", "kind", "state", "opens", "best", "closes", "due",
            "blocks"),
    "timers": ("animal", "name", "what", "since", "ends", "left_s", "doubtful", "records"),
    "herd": ("id", "name", "sex", "born", "age_days", "standing", "pen_id", "tattoo_right", "tattoo_left",
             "dam", "sire", "holds", "disputed", "breed", "due"),
    "conflicts": ("id", "kind", "subject", "field", "after", "open", "records", "record_kind", "animal"),
    "settings": ("key", "value"),
    "devices": ("key", "keeper", "device", "role", "steward", "removed"),
}  # fmt: skip
HELD = ("what", "until", "records", "disputed")


def told(farm: Farm) -> dict[str, Any]:
    """What a farm answers, as far as it is compared for good."""
    asked = {
        "due": farm.due(every=True), "timers": farm.timers(), "herd": farm.herd(every=True),
        "conflicts": farm.conflicts(every=True), "settings": farm.settings(),
        "devices": farm.devices(),
    }  # fmt: skip
    found: dict[str, Any] = {
        name: [{key: line[key] for key in COMPARED[name] if key in line} for line in _plain(lines)]
        for name, lines in asked.items()
    }
    found["held"] = {
        one.id: [{key: hold[key] for key in HELD} for hold in _plain(one.holds)]
        for one in farm.held()
    }
    checked = farm.verify()
    found["verify"] = [{"entries": checked.entries, "records": checked.records,
                        "unvouched": checked.unvouched, "faults": checked.faults}]  # fmt: skip
    return found


def open_text(farm: Farm) -> bytes:
    """The whole farm as open text."""
    with tempfile.TemporaryDirectory() as aside:
        file = Path(aside) / "farm.jsonl"
        farm.export_farm(file)
        return file.read_bytes()


def _as_lines(found: dict[str, Any]) -> str:
    """Answers as JSON with one line a thing, so that a difference is found by eye."""
    told = []
    for name, things in found.items():
        each = things.items() if isinstance(things, dict) else enumerate(things)
        lines = [(f"{json.dumps(key)}: " if isinstance(key, str) else "") + json.dumps(thing)
                 for key, thing in each]  # fmt: skip
        begin, end = "{}" if isinstance(things, dict) else "[]"
        told.append(f"{json.dumps(name)}: {begin}\n" + ",\n".join(lines) + f"\n{end}")
    return "{\n" + ",\n".join(told) + "\n}\n"


def _plain(lines: Any) -> Any:
    return json.loads(msgspec.json.encode(lines))


def make(folder: Path) -> None:
    """Write a farm folder like `KEPT` into an empty folder."""
    with tempfile.TemporaryDirectory() as aside:
        place = Path(aside) / "farm"
        os.environ["HERDSYNC_KEYS"] = str(Path(aside) / "keys")
        words = _demo(place)
        _third_laptop(place)
        back_up(place / "house", folder / FARM)
        shutil.copytree(place / "stick", folder / STICK)
        plan = resources.files("herdsync.projections") / "plans" / "hill-and-barn-1.toml"
        (folder / PLAN).write_bytes(plan.read_bytes())
        with Farm.open(place / "house", Wall(LOOKED)) as farm:
            text = {"open text": [hashlib.sha256(open_text(farm)).hexdigest()]}
            (folder / ANSWERS).write_text(_as_lines(told(farm) | text))
        (folder / WORDS).write_text(words + "\n")


def _demo(place: Path) -> str:
    """Make the demo herd; answer the recovery words that its founding showed."""
    shown: list[str] = []

    def remembering(words: list[str], surroundings: dict[str, str | None]) -> Outcome:
        done = typed_in(words, surroundings)
        if words[0] == "found":
            shown.append(json.loads(done.out)["recovery"])
        return done

    with patch.object(demo, "typed_in", remembering):
        demo.make_demo(place, Wall(MADE))
    return shown[0]


def _third_laptop(place: Path) -> None:
    """A helper's laptop is let in, trims and weighs, is removed without knowing it, and writes on."""

    def typed(laptop: str, at: str, *words: str) -> Any:
        line = [
            *words,
            "--at",
            f"2026-11-24T{at}:00+00:00",
            "--farm",
            str(place / laptop),
            "--json",
        ]
        done = typed_in(line, {"HERDSYNC_AT": None, "HERDSYNC_FARM": None})
        assert done.code == 0, (words, done.err)
        return json.loads(done.out)

    stick = str(place / "stick")
    code = typed("loft", "11:00", "join", stick, "--keeper", "Jun", "--device", "loft")["code"]
    typed("house", "11:05", "admit", stick, "--code", code, "--role", "helper")
    typed("loft", "11:10", "exchange", stick)
    typed("loft", "12:00", "record", "hoof-trim", "animal=Garnet", "front_left=good")
    typed("loft", "12:10", "record", "weighing", "animal=Shale", "weight_kg=9.4", "how=scale")
    typed("loft", "12:30", "exchange", stick)
    typed("house", "13:00", "exchange", stick)
    typed("house", "13:05", "remove", "loft")
    typed("loft", "14:00", "record", "note", "text=left the gate open", "about=Marl")
    typed("loft", "14:10", "record", "hoof-trim", "animal=Marl", "front_left=overgrown")
    typed("loft", "14:30", "exchange", stick)
    typed("barn", "15:00", "exchange", stick)
    typed("barn", "15:10", "record", "weighing", "animal=Onyx", "weight_kg=4.1", "how=scale")
    typed("barn", "15:20", "exchange", stick)
    typed("house", "16:00", "exchange", stick)


if __name__ == "__main__":
    made = Path(sys.argv[1])
    made.mkdir(parents=True, exist_ok=True)
    make(made)
