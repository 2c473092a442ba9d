"""A depot through the console command, in fresh processes, on a real SSH server on loopback."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenarios.beside import bound
from tests.cli.test_processes import answered, environment, typed
from tests.exchange import servers
from tests.exchange.servers import SshServer


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SshServer]:
    why = servers.why_no_sshd()
    if why:
        pytest.skip(why)
    with servers.sshd(tmp_path_factory.mktemp("sshd")) as one:
        yield one


@pytest.fixture
def agent(server: SshServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """An SSH agent that holds the account's key; nothing else names it."""
    if shutil.which("ssh-agent") is None or shutil.which("ssh-add") is None:
        pytest.skip("there is no ssh-agent: install Debian's openssh-client")
    door = str(tmp_path / "agent")
    with subprocess.Popen(
        bound(["ssh-agent", "-D", "-a", door]), stdout=subprocess.DEVNULL
    ) as process:
        try:
            while not Path(door).exists():
                assert process.poll() is None
            monkeypatch.setenv("SSH_AUTH_SOCK", door)
            added = ["ssh-add", str(server.client_key)]
            subprocess.run(added, check=True, capture_output=True)
            yield
        finally:
            process.terminate()


def test_partners_meet_over_an_account_with_the_keys_of_an_agent(
    server: SshServer, tmp_path: Path, agent: None
) -> None:
    account = tmp_path / "account"
    new = server.url(account, pinned=False)
    answered(tmp_path, "house", "found", "Quillmoor Dairy", "--keeper", "Oda", "--device", "house")
    unknown = typed(tmp_path, "house", "exchange", new)
    assert unknown.returncode == 1
    shown = re.search(r"hostkey=(SHA256:\S+?)\s", " ".join(unknown.stderr.split()))
    assert shown is not None and shown[1] == server.fingerprint
    pinned = f"{new}?hostkey={shown[1]}"
    code = answered(tmp_path, "barn", "join", pinned, "--keeper", "Ravi", "--device", "barn")[
        "code"
    ]
    answered(tmp_path, "house", "admit", pinned, "--code", code)
    assert answered(tmp_path, "barn", "exchange", pinned)["joined"] == "Quillmoor Dairy"
    with subprocess.Popen(
        bound([sys.executable, "-m", "herdsync.start", "watch", new, "--every", "5"]),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(tmp_path, "house"),
    ) as watching:
        assert watching.stderr is not None and watching.stdout is not None
        assert watching.stderr.readline().startswith("Watching sftp://")
        answered(tmp_path, "barn", "record", "note", "text=over the account")
        answered(tmp_path, "barn", "exchange", new)
        assert "received 1" in watching.stdout.readline()
        watching.send_signal(signal.SIGINT)
        assert watching.wait(30) == 130
    assert answered(tmp_path, "house", "find", "over the account") != []
    assert "SSH_AUTH_SOCK" in os.environ
    names = sorted(one.name for one in account.iterdir())
    assert all(re.fullmatch(r"[a-z2-7]{8}(-[0-9]+)?\.(bundle|welcome|farm)", one) for one in names)
