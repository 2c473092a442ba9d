"""Those who use one farm's folder at once: dashboards, a watcher, commands, one who looks for torn reads.

Each is a process of its own; what it was told is safe, and what it was refused, it answers at the end.
"""

from __future__ import annotations

import ctypes
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from herdsync.farm import Farm
from herdsync.faults import Fault, Refused
from herdsync.kinds.ids import raw_id, text_id
from herdsync.meetings import Exchanged
from herdsync.wall import Wall

BATCH = 4


def bind() -> None:
    """End with whoever started this process, also where that is killed: a pool's worker waits for ever."""
    if sys.platform == "linux":
        set_parent_death_signal = 1
        ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGKILL)


@dataclass
class Told:
    """What one of the crowd was told: ids of records, ids of amending claims, sentences, what it saw torn."""

    records: list[str] = field(default_factory=list)
    claims: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    torn: list[str] = field(default_factory=list)
    turns: int = 0


def until(seconds: float, turn: Callable[[Told], None]) -> Told:
    """Take turns for so long; a refusal is kept, anything else ends the process."""
    told, end = Told(), time.monotonic() + seconds
    while time.monotonic() < end:
        told.turns += 1
        try:
            turn(told)
        except Fault as fault:
            told.refused.append(str(fault))
    return told


def settle(folder: str, keys: str) -> None:
    """Whose folder and keys this process uses."""
    os.environ["HERDSYNC_KEYS"] = keys
    os.environ["HERDSYNC_FARM"] = folder


def dashboard(folder: str, keys: str, seed: int, seconds: float) -> Told:
    """A farm held open: looks when something changed, records, amends one contested field, writes batches."""
    settle(folder, keys)
    chance = random.Random(seed)
    with Farm.open(Path(folder), Wall()) as farm:
        animals = [line.id for line in farm.herd()]

        def turn(told: Told) -> None:
            if farm.changed():
                farm.due()
                farm.conflicts()
            what = chance.randrange(4)
            if what == 0:
                note = f"dashboard {seed} turn {told.turns}"
                told.records.append(farm.record("note", {"text": note, "on": "2026-03-01"}).id)
            elif what == 1:
                trim = {"on": "2026-03-01", "front_left": "ok"}
                told.records += farm.record("hoof-trim", trim, animals[:BATCH]).ids
            elif what == 2:
                told.claims.append(
                    farm.amend(animals[0], [f"breed=Breed {seed} {told.turns}"]).entry
                )
            else:
                farm.timers()

        return until(seconds, turn)


def faults_of(moved: Exchanged) -> list[str]:
    """What an exchange refused."""
    return [one.why for one in moved.refused]


def watcher(folder: str, keys: str, stick: str, seconds: float) -> Told:
    """Exchanges over the stick again and again, as a watch does."""
    settle(folder, keys)
    with Farm.open(Path(folder), Wall()) as farm:

        def turn(told: Told) -> None:
            told.refused += faults_of(farm.exchange(stick))

        return until(seconds, turn)


def partner(folder: str, keys: str, stick: str, seconds: float) -> Told:
    """The other laptop: writes, and exchanges over the same stick."""
    settle(folder, keys)
    with Farm.open(Path(folder), Wall()) as farm:

        def turn(told: Told) -> None:
            note = {"text": f"partner turn {told.turns}", "on": "2026-03-01"}
            told.records.append(farm.record("note", note).id)
            told.refused += faults_of(farm.exchange(stick))

        return until(seconds, turn)


def commands(folder: str, keys: str, seconds: float) -> Told:
    """Fresh processes: record, look, verify, fold again."""
    settle(folder, keys)
    lines = (
        ["record", "note", "text=from the command line", "on=2026-03-01", "--json"],
        ["due", "--json"], ["herd", "--json"], ["verify", "--refold", "--json"], ["verify", "--json"],
    )  # fmt: skip

    def turn(told: Told) -> None:
        words = lines[told.turns % len(lines)]
        done = subprocess.run(
            [sys.executable, "-m", "herdsync.start", *words],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode != 0 or done.stderr:
            told.refused.append(f"{words}: {done.stderr.strip()[-300:]}")
        elif words[0] == "record":
            told.records.append(done.stdout.split('"id": "')[1][:26])

    return until(seconds, turn)


def onlooker(folder: str, keys: str, seconds: float) -> Told:
    """Opens the farm anew each time and looks for anything that is half there."""
    settle(folder, keys)

    def turn(told: Told) -> None:
        with Farm.open(Path(folder), Wall()) as farm, farm._store.reading() as view:
            trims = len(view.shelf.of_kind("hoof-trim"))
            if trims % BATCH:
                told.torn.append(f"{trims} trims of batches of {BATCH}")
            tips = sum(one.tip_sequence - one.split for one in view.log.chains.all.values())
            if tips != view.log.count():
                told.torn.append(f"{tips} entries in chains, {view.log.count()} in the log")
            for chain in view.log.chains.all.values():
                newest = view.log.full(chain.tip)
                shelved = newest is not None and newest.header.verb == "record"
                if shelved and newest is not None and view.shelf.get(newest.record_id) is None:
                    told.torn.append(f"entry {text_id(newest.id)[:8]} is not in the state")

    return until(seconds, turn)


def lost(farm: Farm, every: list[Told]) -> list[str]:
    """What was told to be safe and is not in the farm."""
    with farm._store.reading() as view:
        gone = [
            one for told in every for one in told.records if view.shelf.get(raw_id(one)) is None
        ]
        for told in every:
            for one in told.claims:
                try:
                    view.log.place_of_claim(raw_id(one)[:16])
                except (Refused, Fault):
                    gone.append(one)
    return gone
