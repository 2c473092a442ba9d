"""The demo: the invented herd of Quillmoor Dairy on two laptops, dated from today, really written.

Every record is typed through the real commands by the keepers of the data file. Must not know what
a record means.
"""

from __future__ import annotations

import json
import re
import shlex
import tempfile
from datetime import date, timedelta
from importlib import resources
from pathlib import Path

import msgspec
from msgspec import Struct

from herdsync.faults import Refused
from herdsync.trade.identity import DAIRY, year_letter
from herdsync.wall import Wall
from scenarios.reaching import reach_one
from scenarios.stage import Outcome, typed_in
from scenarios.story import Laptop, shaped

HERD = "quillmoor.toml"
_PLACE = re.compile(r"\{(day|letter)([-+]\d{1,4})\}")


class DemoStep(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a keeper typed ``day`` days from today (negative) at ``time`` (UTC)."""

    day: int
    time: str
    on: str
    run: str | list[str]
    by: str = ""
    keep: dict[str, str] = {}


class DemoHerd(Struct, frozen=True, forbid_unknown_fields=True):
    """The data file."""

    laptop: list[Laptop]
    step: list[DemoStep]


class Demo(Struct, frozen=True):
    """Where the demo is: the folders of both laptops and of the stick between them."""

    house: str
    barn: str
    stick: str
    fresh: bool


def make_demo(folder: Path, wall: Wall) -> Demo:
    """The demo in ``folder``, dated from the wall's day; made unless it is there.

    Raises Refused where the folder holds something else.
    """
    today = wall.now().date()
    place = folder.expanduser().absolute()
    demo = Demo(str(place / "house"), str(place / "barn"), str(place / "stick"), True)
    if (place / "stick").is_dir() and (place / "house").is_dir():
        return msgspec.structs.replace(demo, fresh=False)
    if place.exists() and (not place.is_dir() or any(place.iterdir())):
        raise Refused(f"{place} holds something already.", "Name a new folder for the demo.")
    herd = shaped((resources.files(__package__) / HERD).read_bytes(), DemoHerd, HERD)
    place.parent.mkdir(parents=True, exist_ok=True)
    # Made aside and renamed when whole: an interrupted demo is never taken for a finished one.
    with tempfile.TemporaryDirectory(prefix=".demo-", dir=place.parent) as aside:
        whole = Path(aside) / place.name
        (whole / "stick").mkdir(parents=True)
        kept = {"stick": str(whole / "stick")}
        for step in herd.step:
            _type(step, whole, today, kept)
        if place.exists():
            place.rmdir()
        whole.rename(place)
    return demo


def _type(step: DemoStep, place: Path, today: date, kept: dict[str, str]) -> None:
    moment = f"{today + timedelta(days=step.day)}T{step.time}:00+00:00"
    by = ["--by", step.by] if step.by else []
    for line in [step.run] if isinstance(step.run, str) else step.run:
        words = [_filled(word, today, kept) for word in shlex.split(line)]
        words += ["--at", moment, "--farm", str(place / step.on), "--json", *by]
        outcome = typed_in(words, {"HERDSYNC_AT": None, "HERDSYNC_FARM": None})
        _sound(line, outcome)
        for name, path in step.keep.items():
            kept[name] = str(reach_one(json.loads(outcome.out), path))


def _sound(line: str, outcome: Outcome) -> None:
    if outcome.code != 0:
        raise Refused(f"The demo stopped at '{line}': {outcome.err.strip()}")


def _filled(word: str, today: date, kept: dict[str, str]) -> str:
    for name, value in kept.items():
        word = word.replace(f"{{{name}}}", value)
    return _PLACE.sub(lambda found: _dated(found, today), word)


def _dated(found: re.Match[str], today: date) -> str:
    day = today + timedelta(days=int(found[2]))
    return day.isoformat() if found[1] == "day" else year_letter(day.year, DAIRY).letter
