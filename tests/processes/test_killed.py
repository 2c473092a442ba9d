"""Whole commands killed at random moments, and a small file system that is really full.

``HERDSYNC_PROOF_KILLS`` sets how many commands are killed (2,000 for a long proof).
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenarios.beside import bound
from tests.cli.laptops import Laptops

KILLS = int(os.environ.get("HERDSYNC_PROOF_KILLS", "84")) // 4
LINES = 300
NOTES = 16


@pytest.fixture
def laptops(tmp_path: Path) -> Laptops:
    made = Laptops.beside(tmp_path)
    made.pair()
    made.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2022-03-01")
    lines = (f"Agate,2026-03-01,{20 + number % 30} kg,note {number}" for number in range(LINES))
    sheet = "\n".join(
        ["animal,on,weight_kg,how", *(line.rsplit(",", 1)[0] + ",scale" for line in lines)]
    )
    (tmp_path / "weights.csv").write_text(sheet)
    return made


def environment(laptops: Laptops) -> dict[str, str]:
    folder = laptops.stage.folder
    told = {name: value for name, value in os.environ.items() if not name.startswith("HERDSYNC")}
    return told | {
        "HERDSYNC_FARM": str(folder / "house"),
        "HERDSYNC_KEYS": str(folder / "house-keys"),
    }


def killed(words: list[str], environment: dict[str, str], after: float) -> bool:
    """Whether the command was still running when it was killed."""
    process = subprocess.Popen(
        bound([sys.executable, "-m", "herdsync.start", *words]),
        env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    time.sleep(after)
    running = process.poll() is None
    process.send_signal(signal.SIGKILL)
    process.wait()
    return running


def test_commands_killed_anywhere_leave_a_sound_farm(laptops: Laptops, tmp_path: Path) -> None:
    chance = random.Random(7)
    sheet = str(tmp_path / "weights.csv")
    lines = (
        ["exchange", laptops.stick], ["import", sheet, "--kind", "weighing"], ["verify", "--refold"],
        ["record", "note", "text=x", "on=2026-03-01"],
        ["backup", str(tmp_path / "copy.{}")], ["export", "farm", str(tmp_path / "whole.{}")],
    )  # fmt: skip
    entries = laptops.ask("house", "verify")["entries"]
    running = 0
    for number in range(KILLS):
        words = [word.replace("{}", str(number)) for word in chance.choice(lines)]
        running += killed(words, environment(laptops), chance.uniform(0.15, 0.9))
        verified = laptops.ask("house", "verify")
        assert verified["faults"] == []
        assert verified["entries"] >= entries
        entries = verified["entries"]
    assert running or KILLS == 0
    laptops.ask("house", "import", sheet, "--kind", "weighing")
    again = laptops.ask("house", "import", sheet, "--kind", "weighing")
    assert (again["written"], again["refused_lines"]) == (0, 0)
    laptops.meet()
    assert laptops.ask("barn", "verify")["entries"] == laptops.ask("house", "verify")["entries"]
    assert laptops.ask("house", "herd") == laptops.ask("barn", "herd")
    assert not [one for one in tmp_path.iterdir() if one.name.startswith(".copy")]


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own with little room, where this machine lets us mount one."""
    folder = tmp_path / "small"
    folder.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(folder)]
    if (
        sys.platform != "linux"
        or os.geteuid() != 0
        or subprocess.run(mounting, check=False).returncode
    ):
        pytest.skip("only root on Linux can mount a small file system")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_full_file_system_is_said_and_loses_nothing(small: Path, tmp_path: Path) -> None:
    laptops = Laptops.beside(tmp_path)
    for name in ("house", "house-keys"):
        (small / name).mkdir()
        (tmp_path / name).symlink_to(small / name)
    laptops.found()
    written = []
    while True:
        done = laptops.type(
            "house", "record", "note", f"text={'x' * 3000}", "on=2026-03-01", "--json"
        )
        if done.code:
            break
        written.append(done.out.split('"id": "')[1][:26])
    assert done.code == 1
    assert len(done.err.splitlines()) == 1
    assert len(written) > 5
    for one in written:
        assert laptops.ask("house", "show", one)["id"] == one
    subprocess.run(["mount", "-o", "remount,size=8m", str(small)], check=True)
    verified = laptops.ask("house", "verify")
    assert verified["faults"] == []
    laptops.ask("house", "record", "note", "text=there is room again", "on=2026-03-01")
    assert laptops.ask("house", "verify")["entries"] == verified["entries"] + 1


def test_a_full_stick_is_said_and_read_and_the_next_one_takes_all(
    laptops: Laptops, small: Path
) -> None:
    laptops.meet()
    (small / "filler").write_bytes(bytes(580_000))
    for number in range(NOTES):
        laptops.ask("house", "record", "note", f"text={chr(97 + number) * 3000}", "on=2026-03-01")
    told = laptops.ask("house", "exchange", str(small))
    assert [one["what"] for one in told["refused"]] == ["writing there"]
    assert "space" in told["refused"][0]["why"]
    assert not [one for one in small.iterdir() if one.name.endswith(".tmp")]
    (small / "filler").unlink()
    assert laptops.ask("house", "exchange", str(small))["refused"] == []
    assert laptops.ask("barn", "exchange", str(small))["received"] == NOTES
