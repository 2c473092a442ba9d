"""A keeper's day at laptop `house`, in a process of its own: what it was told is safe it tells at once.

``python -m tests.power.days DAY FOLDER TOLD``; each line of ``TOLD`` is a word and an id.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from herdsync.farm import Farm
from herdsync.faults import DamagedFarm, Fault, Refused
from herdsync.founding import found
from herdsync.store.keyring import KEYS_VARIABLE
from herdsync.wall import Wall

Tell = Callable[[str, str], object]
NEW, NEW_KEYS = "fruit/orchard", "keys of/orchard"


def note(farm: Farm, tell: Tell, words: str) -> None:
    """One record."""
    tell("record", farm.record("note", {"text": words, "on": "2026-03-01"}).id)


def ordinary(folder: Path, tell: Tell) -> None:
    """Acts of every sort, a partner's news taken in, all left on the stick, folded again, backed up."""
    stick = str(folder / "stick")
    with Farm.open(folder / "house", Wall()) as farm:
        doe = farm.herd()[0].id
        attempts = (
            lambda: note(farm, tell, "before the rounds"),
            lambda: tell("claim", farm.amend(doe, ["breed=Saanen"]).entry),
            lambda: [tell("record", id) for id in farm.record(
                "hoof-trim", {"on": "2026-03-01", "front_left": "ok"}, [one.id for one in farm.herd()]).ids],
            lambda: exchanged(farm, stick, tell),
            lambda: farm.refold(),
            lambda: note(farm, tell, "after the rounds"),
            lambda: tell("backup", farm.backup(folder / "copies" / "copy").file),
            lambda: exchanged(farm, stick, tell),
            lambda: note(farm, tell, "in the evening"),
        )  # fmt: skip
        for attempt in attempts:
            attempted(attempt, tell)


def exchanged(farm: Farm, stick: str, tell: Tell) -> None:
    """One exchange; where it refused nothing, all that is here lies on the stick."""
    moved = farm.exchange(stick)
    for one in moved.refused:
        tell("refused" if one.why.endswith(".") else "no-sentence", one.why)
    if not moved.refused:
        tell("left", str(farm.verify().entries))


def founding(folder: Path, tell: Tell) -> None:
    """A new farm and its first acts."""
    os.environ[KEYS_VARIABLE] = str(folder / NEW_KEYS)

    def begin() -> None:
        found(folder / NEW, Wall(), name="Orchard", keeper="Oda", device="loft")
        tell("founded", NEW)

    attempted(begin, tell)
    if (folder / NEW / "farm.db").exists():
        with Farm.open(folder / NEW, Wall()) as farm:
            attempted(lambda: note(farm, tell, "first"), tell)
            attempted(lambda: note(farm, tell, "second"), tell)


def attempted(attempt: Callable[[], object], tell: Tell) -> None:
    """Try; a refusal is told, and must be a sentence. Anything else ends the process."""
    try:
        attempt()
    except (Refused, DamagedFarm) as fault:
        tell("refused" if fault.what.endswith(".") and fault.mend else "no-sentence", fault.what)
    except Fault as fault:
        tell("no-sentence", fault.what)


DAYS = {"ordinary": ordinary, "founding": founding}


def main() -> None:
    """Spend the day."""
    day, folder, told = sys.argv[1:4]
    os.environ[KEYS_VARIABLE] = str(Path(folder) / "house-keys")
    handle = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    tell = partial(tell_line, handle)
    attempted(lambda: DAYS[day](Path(folder), tell), tell)


def tell_line(handle: int, word: str, what: str) -> int:
    """One line, in one write."""
    return os.write(handle, f"{word} {what}".replace("\n", " ").encode() + b"\n")


if __name__ == "__main__":
    main()
