"""What runs beside a story while it is played: a laptop that listens on the network, a depot on this machine.

Both are real: the listening laptop is the real command in a process of its own, the depot an SSH server on
loopback that knows one account. Must not know what any story tells.
"""

from __future__ import annotations

import asyncio
import functools
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from click.testing import CliRunner

from herdsync.faults import Refused

HERE = "127.0.0.1"
ACCOUNT = "oda"
START_S = 20.0
_LISTENING = "Listening on port "


def bound(words: list[str], ending: str = "KILL") -> list[str]:
    """A command that the system ends with a signal when whoever starts it is gone, even killed, where it can.

    It must be started by a thread that lasts as long as it is wanted. Elsewhere than on Linux: as it is.
    """
    return ["setpriv", "--pdeathsig", ending, "--", *words] if can_bind() else words


@functools.cache
def can_bind() -> bool:
    """Whether this system ends a process with the one that started it: not every ``setpriv`` knows how."""
    if shutil.which("setpriv") is None:
        return False
    trying = ["setpriv", "--pdeathsig", "KILL", "--", sys.executable, "-c", ""]
    return subprocess.run(trying, capture_output=True, check=False).returncode == 0


def _started(words: list[str], surroundings: Mapping[str, str]) -> subprocess.Popen[str]:
    """A command in a process of its own, with these environment variables besides."""
    quiet = subprocess.DEVNULL
    with CliRunner().isolation(env=surroundings):
        return subprocess.Popen(
            bound([sys.executable, "-m", "herdsync.start", *words]),
            stdin=quiet, stdout=quiet, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip


@contextmanager
def listening(surroundings: Mapping[str, str], when: str) -> Iterator[str]:
    """A laptop that listens while the block runs; answers its address. Raises Refused where it cannot."""
    words = ["watch", "--listen", f"{HERE}:{_free_port()}", "--at", when]
    with _started(words, surroundings) as process:
        assert process.stderr is not None
        told = process.stderr.readline()
        reading = threading.Thread(target=process.stderr.read, daemon=True)
        reading.start()
        try:
            if not told.startswith(_LISTENING):
                raise Refused(f"No laptop can listen on this machine: {told.strip()}")
            yield f"{HERE}:{told.removeprefix(_LISTENING).split('.')[0]}"
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(START_S)
            except subprocess.TimeoutExpired:
                process.kill()
            reading.join(START_S)


def _free_port() -> int:
    with socket.create_server((HERE, 0)) as one:
        return int(one.getsockname()[1])


@contextmanager
def depot(folder: Path) -> Iterator[tuple[str, Path]]:
    """An SFTP account while the block runs: its place, and the key file that opens it. Raises Refused."""
    try:
        import asyncssh
    except ImportError as fault:
        raise Refused(
            "This story needs what reaches an SFTP account.",
            "Install it with: pip install 'herdsync[sftp]'.",
        ) from fault

    class Door(asyncssh.SSHServer):
        """Asks everybody for a key."""

        def begin_auth(self, username: str) -> bool:
            return bool(username)

    host, client = (asyncssh.generate_private_key("ssh-ed25519") for _ in range(2))
    key, allowed = folder / "account.key", folder / "account.pub"
    client.write_private_key(key)
    key.chmod(0o600)
    client.write_public_key(allowed)
    root = folder / "depot"
    root.mkdir()

    def account(channel: asyncssh.SSHServerChannel[bytes]) -> asyncssh.SFTPServer:
        return asyncssh.SFTPServer(channel, chroot=str(root).encode())

    async def listen() -> asyncssh.SSHAcceptor:
        return await asyncssh.listen(
            HERE, 0, server_factory=Door, server_host_keys=[host],
            authorized_client_keys=str(allowed), sftp_factory=account,
        )  # fmt: skip

    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    acceptor = asyncio.run_coroutine_threadsafe(listen(), loop).result(START_S)
    try:
        pin = host.get_fingerprint("sha256")
        yield f"sftp://{ACCOUNT}@{HERE}:{acceptor.get_port()}/herd?hostkey={pin}", key
    finally:
        loop.call_soon_threadsafe(acceptor.close)
        loop.call_soon_threadsafe(loop.stop)
        thread.join()
