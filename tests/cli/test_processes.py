"""The console command in fresh processes: what it loads, its exit codes, its streams."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from scenarios.beside import bound

HEAVY = ("textual", "watchfiles", "ssl", "asyncio")


def environment(folder: Path, laptop: str) -> dict[str, str]:
    told = {name: value for name, value in os.environ.items() if not name.startswith("HERDSYNC")}
    return told | {
        "HERDSYNC_FARM": str(folder / laptop),
        "HERDSYNC_KEYS": str(folder / f"{laptop}-keys"),
    }


def typed(folder: Path, laptop: str, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "herdsync.start", *words],
        capture_output=True,
        text=True,
        check=False,
        env=environment(folder, laptop) | more,
    )


def answered(folder: Path, laptop: str, *words: str) -> Any:
    done = typed(folder, laptop, *words, "--json")
    assert (done.returncode, done.stderr) == (0, ""), done
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def farms(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the laptops house and barn of one farm, paired through a stick."""
    folder = tmp_path_factory.mktemp("farms")
    (folder / "stick").mkdir()
    stick = str(folder / "stick")
    answered(folder, "house", "found", "Quillmoor Dairy", "--keeper", "Oda", "--device", "house")
    code = answered(folder, "barn", "join", stick, "--keeper", "Ravi", "--device", "barn")["code"]
    answered(folder, "house", "admit", stick, "--code", code)
    answered(folder, "barn", "exchange", stick)
    answered(folder, "house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")
    return folder


def test_two_farm_folders_with_their_own_keys_meet(farms: Path) -> None:
    stick = str(farms / "stick")
    answered(farms, "barn", "record", "note", "text=the gate sticks")
    for laptop in ("house", "barn", "house"):
        answered(farms, laptop, "exchange", stick)
    at = ("--at", "2026-03-09T07:00:00+00:00", "--json")
    outs = [typed(farms, laptop, "due", *at).stdout for laptop in ("house", "barn")]
    assert outs[0] == outs[1]
    assert [line["name"] for line in answered(farms, "barn", "herd")] == ["Agate"]


@pytest.mark.parametrize(
    "words", [["record", "hoof-trim", "animal=Agate"], ["due"], ["herd"], ["trail", "Agate"]]
)
def test_a_command_that_does_its_work_loads_nothing_heavy(farms: Path, words: list[str]) -> None:
    script = (
        "import sys\n"
        "from herdsync.cli.command import run_words\n"
        f"code = run_words({words!r})\n"
        f"print(code, [one for one in {HEAVY!r} if one in sys.modules], file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env=environment(farms, "house"),
    )
    assert done.stderr.splitlines()[-1] == "0 []"


@pytest.mark.parametrize(
    ("words", "spared"),
    [
        (["due"], ("exchange", "papers", "farm", "founding", "acts.acting", "projections.remarks")),
        (
            ["herd"],
            ("exchange", "papers", "farm", "founding", "acts.acting", "projections.remarks"),
        ),
        (["record", "note", "text=the gate sticks"], ("exchange", "papers", "farm", "founding")),
        (["kinds"], ("log", "merge", "store.store", "projections", "acts")),
    ],
)
def test_a_command_loads_no_room_it_has_no_need_of(
    farms: Path, words: list[str], spared: tuple[str, ...]
) -> None:
    script = (
        "import sys\n"
        "from herdsync.cli.command import run_words\n"
        f"code = run_words({words!r})\n"
        "print(code, *sys.modules, file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env=environment(farms, "house"),
    )
    code, *loaded = done.stderr.splitlines()[-1].split()
    assert code == "0"
    assert [one for one in spared if f"herdsync.{one}" in loaded] == []
    # Only who writes signs.
    assert ("cryptography" in loaded) == (words[0] == "record")


def test_exit_codes(farms: Path, tmp_path: Path) -> None:
    assert typed(farms, "house", "herd").returncode == 0
    assert typed(farms, "house", "show", "Granite").returncode == 1
    assert typed(farms, "house", "recrod").returncode == 2
    assert typed(farms, "nowhere", "herd").returncode == 1
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "farm.db").write_bytes(b"not a farm at all" * 100)
    done = typed(farms, "house", "herd", "--farm", str(broken))
    assert (done.returncode, done.stdout) == (3, "")
    assert len(done.stderr.splitlines()) == 1


def test_a_terminal_without_the_letters_gets_escapes(farms: Path) -> None:
    answered(farms, "house", "record", "note", "text=Żubrówka")
    done = subprocess.run(
        [sys.executable, "-m", "herdsync.start", "find", "brówka"],
        capture_output=True,
        check=True,
        env=environment(farms, "house") | {"PYTHONIOENCODING": "latin-1"},
    )
    assert "\\u017bubrówka" in done.stdout.decode("latin-1")


def test_whoever_reads_may_stop_reading(farms: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "herdsync.start", "kinds", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(farms, "house"),
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.read(10)
        running.stdout.close()
        assert running.stderr.read() == b""
        assert running.wait() == 0


def test_without_a_terminal_the_dashboard_points_to_lines(farms: Path) -> None:
    done = typed(farms, "house")
    assert (done.returncode, done.stdout) == (2, "")
    assert "--plain" in done.stderr
    assert typed(farms, "house", "--plain", "nowhere").returncode == 2


def test_version_and_help(farms: Path) -> None:
    assert typed(farms, "house", "--version").stdout.startswith("herdsync, version ")
    shown = typed(farms, "house", "--help").stdout
    assert "Carrying:" in shown
    assert all(len(line) <= 80 for line in shown.splitlines())


def test_a_flipped_bit_of_an_entry_ends_verify_with_three(farms: Path, tmp_path: Path) -> None:
    shutil.copytree(farms / "house", tmp_path / "house")
    assert answered(farms, "house", "verify")["faults"] == []
    with closing(sqlite3.connect(tmp_path / "house" / "farm.db")) as farm, farm:
        (packed,) = farm.execute("SELECT packed FROM entry WHERE pos = 3").fetchone()
        flipped = bytes([packed[0], packed[1] ^ 1, *packed[2:]])
        farm.execute("UPDATE entry SET packed = ? WHERE pos = 3", (flipped,))
    done = typed(farms, "house", "verify", "--json", "--farm", str(tmp_path / "house"))
    assert done.returncode == 3
    assert len(json.loads(done.stdout)["faults"]) == 1


@pytest.mark.parametrize("more", [[], ["--polling"]], ids=["events", "polling"])
def test_watch_exchanges_when_the_stick_appears_and_changes_until_it_is_stopped(
    farms: Path, more: list[str]
) -> None:
    stick, text = str(farms / "stick"), f"seen at once {len(more)}"
    answered(farms, "house", "record", "note", "text=carried when the stick appears")
    (farms / "stick").rename(farms / "in a pocket")
    with subprocess.Popen(
        bound([sys.executable, "-m", "herdsync.start", "watch", stick, *more]),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(farms, "house"),
    ) as watching:
        assert watching.stdout is not None
        assert watching.stderr is not None
        assert watching.stderr.readline().startswith("Watching")
        (farms / "in a pocket").rename(farms / "stick")
        assert "Sent " in watching.stdout.readline()
        answered(farms, "barn", "record", "note", f"text={text}")
        answered(farms, "barn", "exchange", stick)
        while "received" not in (line := watching.stdout.readline()) or "received 0" in line:
            assert watching.poll() is None
        watching.send_signal(signal.SIGINT)
        assert watching.wait() == 130
    assert answered(farms, "house", "find", text) != []


def test_the_demo_prints_due_work_where_no_terminal_is(tmp_path: Path) -> None:
    done = typed(tmp_path, "house", "demo", str(tmp_path / "demo"))
    assert done.returncode == 0, done.stderr
    assert "Trim the hooves" in done.stdout
    assert f"herdsync --farm {tmp_path / 'demo' / 'house'}" in done.stdout
    plain = typed(tmp_path, "house", "--plain", "rounds", "--farm", str(tmp_path / "demo/house"))
    assert (plain.returncode, "Opal" in plain.stdout) == (0, True)
