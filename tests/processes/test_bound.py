"""What tests and stories start beside themselves ends with them, also where they are killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from scenarios.beside import can_bind
from tests.cli.laptops import Laptops

GONE_S = 60.0
SERVER = """
import sys, time
from tests.exchange.servers import running
sleeps = [sys.executable, "-c", "import time; time.sleep(600)"]
with running(sleeps, sleeps) as processes:
    print(*(one.pid for one in processes), flush=True)
    time.sleep(600)
"""
LAPTOP = """
import os, time
from scenarios import beside
started = beside._started
def telling(words, surroundings):
    process = started(words, surroundings)
    print(process.pid, flush=True)
    return process
beside._started = telling
with beside.listening(dict(os.environ), "2026-03-09T07:00:00+00:00"):
    print("listening", flush=True)
    time.sleep(600)
"""


def is_gone(pid: int) -> bool:
    """Whether a process has ended; what nobody has fetched yet has."""
    try:
        told = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return True
    return told.rpartition(")")[2].split()[0] == "Z"


def await_binding(pids: list[int]) -> None:
    """Until each process is the one that was wanted: bound first, by the program that becomes it."""
    end = time.monotonic() + GONE_S
    for pid in pids:
        while b"pdeathsig" in Path(f"/proc/{pid}/cmdline").read_bytes() and time.monotonic() < end:
            time.sleep(0.01)


@pytest.mark.skipif(not can_bind(), reason="this system binds no process to another")
@pytest.mark.parametrize("script", [SERVER, LAPTOP], ids=["servers", "a laptop that listens"])
def test_what_was_started_beside_ends_with_who_started_it(tmp_path: Path, script: str) -> None:
    laptops = Laptops.beside(tmp_path)
    laptops.found()
    folder = laptops.stage.folder
    told = {"HERDSYNC_FARM": str(folder / "house"), "HERDSYNC_KEYS": str(folder / "house-keys")}
    with subprocess.Popen(
        [sys.executable, "-c", script],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, **told},
    ) as process:
        assert process.stdout is not None
        pids = [int(one) for one in process.stdout.readline().split()]
        if script is LAPTOP:
            assert process.stdout.readline() == "listening\n"
        assert pids and not any(is_gone(one) for one in pids)
        await_binding(pids)
        process.send_signal(signal.SIGKILL)
    end = time.monotonic() + GONE_S
    while time.monotonic() < end and not all(is_gone(one) for one in pids):
        time.sleep(0.02)
    assert all(is_gone(one) for one in pids)
