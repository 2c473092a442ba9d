"""A laptop joins over the network through the console command, in fresh processes over loopback."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from herdsync.cli.picture import drawn
from scenarios.beside import bound
from tests.cli.test_network import listening
from tests.cli.test_processes import answered, environment, typed

BARN = ("--keeper", "Ravi", "--device", "barn")


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A farm that has one laptop so far."""
    answered(tmp_path, "house", "found", "Quillmoor Dairy", "--keeper", "Oda", "--device", "house")
    answered(tmp_path, "house", "record", "note", "text=from the house")
    return tmp_path


def test_join_admit_exchange_with_an_address(house: Path) -> None:
    with listening(house, "house") as (process, address):
        assert process.stdout is not None
        asked = answered(house, "barn", "join", address, *BARN)
        assert set(asked) == {"request", "code", "check", "picture"}
        told = process.stdout.readline()
        assert told.startswith("Ravi's laptop 'barn' from 127.0.0.1 asks to join and shows ")
        assert asked["check"] in " ".join((told + process.stdout.readline()).split())
        waiting = typed(house, "house", "admit")
        assert asked["check"] in waiting.stdout and "--check DIGITS" in waiting.stdout
        early = typed(house, "barn", "exchange", address)
        assert early.returncode == 1 and "not been admitted yet" in early.stderr
        wrong = typed(house, "house", "admit", "--code", asked["code"], "--check", "12")
        assert wrong.returncode == 1 and "nobody was let in" in " ".join(wrong.stderr.split())
        let = answered(house, "house", "admit", "--code", asked["code"], "--check", asked["check"])
        assert [one["device"] for one in let["admitted"]] == ["barn"]
        came = answered(house, "barn", "exchange", address)
        assert came["joined"] == "Quillmoor Dairy" and came["received"] > 1
    assert answered(house, "barn", "find", "from the house") != []


def test_a_laptop_waits_until_it_is_let_in(house: Path) -> None:
    with listening(house, "house") as (_, address):
        words = [sys.executable, "-m", "herdsync.start", "join", address, *BARN, "--wait", "--json"]
        with subprocess.Popen(
            bound(words), stdout=subprocess.PIPE, text=True, env=environment(house, "barn")
        ) as waiting:
            assert waiting.stdout is not None
            lines = ""
            while not lines.endswith("}\n"):
                lines += waiting.stdout.readline()
            answered(house, "house", "admit", "--code", json.loads(lines)["picture"])
            rest, _ = waiting.communicate(timeout=60)
            assert waiting.returncode == 0 and json.loads(rest)["joined"] == "Quillmoor Dairy"


def test_the_picture_fits_a_small_terminal(house: Path) -> None:
    with listening(house, "house") as (_, address):
        lines = typed(house, "barn", "join", address, *BARN, "--qr").stdout.splitlines()
    assert len(lines) <= 24 and max(map(len, lines)) <= 80
    assert lines[0].startswith("████") and any(line.startswith("Code: ") for line in lines)


def test_the_longest_picture_still_fits() -> None:
    """An address of IPv6 with its zone is as long as one gets; then the code alone is drawn."""
    where = "[FE80:1234:5678:9ABC:DEF0:1234:5678:9ABC%WLAN0]:65535"
    lines = drawn(f"HERDSYNC {where} ABCDEFGH GV8W-NZ2P-N82J-V5QF")
    assert len(lines) + 6 <= 24 and max(map(len, lines)) <= 80
    assert lines == drawn("GV8W-NZ2P-N82J-V5QF")
    bare = drawn("HERDSYNC 192.168.100.200:47100 ABCDEFGH GV8W-NZ2P-N82J-V5QF")
    assert len(bare) + 6 <= 24
    # ISO/IEC 18004: the three corners hold a finder pattern of 7 modules, here below a quiet zone of 2.
    dark = [[mark in " \u2584" for mark in line] for line in bare]
    assert dark[1][2:9] == [True] * 7 and dark[1][-9:-2] == [True] * 7
    assert not any(dark[0]) and not any(row[0] or row[1] or row[-1] or row[-2] for row in dark)


def test_without_what_draws_the_text_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "segno", None)
    text, hint = drawn("HERDSYNC HERE ABCDEFGH GV8W-NZ2P-N82J-V5QF")
    assert text.endswith("V5QF") and "herdsync[qr]" in hint
