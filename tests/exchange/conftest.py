"""Fixtures: two ways to keep a laptop's log, a folder between laptops, and real servers for depots."""

from __future__ import annotations

import contextlib
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TypeVar

import pytest

from herdsync.log.entry import Entry
from tests.exchange import servers
from tests.exchange.laptops import Laptop, MemoryLaptop, StoreLaptop
from tests.exchange.porch import HERE, Porch
from tests.exchange.servers import S3Server, SshServer

Maker = Callable[[str, Entry], Laptop]


@pytest.fixture(params=["memory", "store"])
def laptop(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Maker]:
    """Makes a laptop of a farm; every test runs in memory and on the real store."""
    made: list[StoreLaptop] = []

    def make(name: str, founding: Entry) -> Laptop:
        if request.param == "memory":
            return MemoryLaptop(name, founding)
        made.append(StoreLaptop(name, founding, tmp_path / f"farm-{name}"))
        return made[-1]

    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    yield make
    for one in made:
        one.store.close()


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """An empty folder that laptops exchange over."""
    folder = tmp_path / "stick"
    folder.mkdir()
    return folder


@pytest.fixture
def porch(tmp_path: Path) -> Iterator[Callable[..., Porch]]:
    open_ones: list[Porch] = []

    def make(laptop: Laptop, host: str = HERE) -> Porch:
        one = Porch(laptop, tmp_path, host)
        one.listener.start()
        open_ones.append(one)
        return one

    yield make
    for one in open_ones:
        one.listener.stop()
    assert threading.active_count() == 1 or not any(one.listener._threads for one in open_ones)


T = TypeVar("T")


def started(what: str, why: str, server: AbstractContextManager[T]) -> Iterator[T]:
    """A server for the tests, or a skip that says why there is none on this machine."""
    if why:
        pytest.skip(why)
    with contextlib.ExitStack() as running:
        try:
            one = running.enter_context(server)
        except (AssertionError, OSError, subprocess.CalledProcessError) as fault:
            pytest.skip(f"{what} does not start on this machine: {fault}")
        yield one


@pytest.fixture(scope="session")
def ssh_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SshServer]:
    folder = tmp_path_factory.mktemp("sshd")
    yield from started("the SSH server", servers.why_no_sshd(), servers.sshd(folder))


@pytest.fixture(scope="session")
def s3_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[S3Server]:
    folder = tmp_path_factory.mktemp("swift")
    yield from started("swift", servers.why_no_swift(), servers.swift(folder))
