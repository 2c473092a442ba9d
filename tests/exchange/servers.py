"""Real servers on loopback for the tests of depots: an OpenSSH server, and OpenStack Swift with its S3 door.

Each is started from a configuration of its own under a temporary folder and ended with the tests; where
it is not installed, what needs it is skipped.
"""

from __future__ import annotations

import asyncio
import contextlib
import getpass
import os
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import asyncssh

from scenarios.beside import bound

HERE = "127.0.0.1"
START_S = 30.0
SSHD = "/usr/sbin/sshd"
SFTP_SERVER = "/usr/lib/openssh/sftp-server"
# The folder of a virtual environment that swift is installed in.
SWIFT_VARIABLE = "HERDSYNC_TEST_SWIFT"
# An account of this machine, as USER:PASSWORD, that an OpenSSH server may be tried with.
ACCOUNT_VARIABLE = "HERDSYNC_TEST_ACCOUNT"
SWIFT_KEY, SWIFT_SECRET = "test:tester", "testing"


def free_port() -> int:
    with socket.create_server((HERE, 0)) as one:
        return int(one.getsockname()[1])


def wait_for(port: int, alive: Callable[[], bool]) -> None:
    """Until something answers at a port."""
    end = time.monotonic() + START_S
    while time.monotonic() < end and alive():
        with contextlib.suppress(OSError), socket.create_connection((HERE, port), timeout=1):
            return
        time.sleep(0.05)
    raise AssertionError(f"nothing answers at port {port}")


@contextmanager
def running(
    *commands: list[str], env: dict[str, str] | None = None
) -> Iterator[list[subprocess.Popen[bytes]]]:
    """Processes that end with the block, and with the tests where these are killed."""
    log = subprocess.DEVNULL
    processes = [
        subprocess.Popen(
            bound(one), stdout=log, stderr=log, stdin=log, env={**os.environ, **(env or {})}
        )
        for one in commands
    ]
    try:
        yield processes
    finally:
        for one in processes:
            one.terminate()
        for one in processes:
            try:
                one.wait(10)
            except subprocess.TimeoutExpired:
                one.kill()
                one.wait()


# An SFTP account.


@dataclass(frozen=True)
class SshServer:
    """A running server: its port, its host key's fingerprint, a client key it lets in, its user."""

    port: int
    fingerprint: str
    client_key: Path
    user: str

    def url(self, folder: Path, *, pinned: bool = True) -> str:
        pin = f"?hostkey={self.fingerprint}" if pinned else ""
        return f"sftp://{self.user}@{HERE}:{self.port}/{folder}{pin}"


def why_no_sshd() -> str:
    """Why no OpenSSH server can be started, or nothing."""
    missing = [one for one in (SSHD, SFTP_SERVER) if not Path(one).exists()]
    return f"{missing[0]} is not there: install Debian's openssh-server" if missing else ""


def why_no_password_account() -> str:
    """Why no OpenSSH server can be tried with a password, or nothing."""
    if why_no_sshd():
        return why_no_sshd()
    if os.geteuid() != 0:
        return "only the administrator's sshd may check passwords"
    told = os.environ.get(ACCOUNT_VARIABLE, "")
    return "" if ":" in told else f"{ACCOUNT_VARIABLE} names no account as USER:PASSWORD"


@contextmanager
def password_server(folder: Path, user: str, password: str) -> Iterator[SshServer]:
    """A server of the library's own, within this process, that lets one account in by its password."""

    class Door(asyncssh.SSHServer):
        def begin_auth(self, username: str) -> bool:
            return True

        def password_auth_supported(self) -> bool:
            return True

        def validate_password(self, username: str, told: str) -> bool:
            return (username, told) == (user, password)

    host = asyncssh.generate_private_key("ssh-ed25519")
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()

    async def listen() -> asyncssh.SSHAcceptor:
        return await asyncssh.listen(
            HERE, 0, server_factory=Door, server_host_keys=[host], sftp_factory=True
        )

    acceptor = asyncio.run_coroutine_threadsafe(listen(), loop).result(START_S)
    try:
        yield SshServer(acceptor.get_port(), host.get_fingerprint("sha256"), folder, user)
    finally:
        loop.call_soon_threadsafe(acceptor.close)
        loop.call_soon_threadsafe(loop.stop)
        thread.join()


@contextmanager
def sshd(folder: Path, *, passwords: bool = False) -> Iterator[SshServer]:
    """An OpenSSH server that offers SFTP alone, to its client key or to passwords."""
    host, client = (asyncssh.generate_private_key("ssh-ed25519") for _ in range(2))
    host_key, client_key = folder / "host", folder / "client"
    for path, key in ((host_key, host), (client_key, client)):
        key.write_private_key(path)
        path.chmod(0o600)
    allowed = folder / "authorized"
    client.write_public_key(allowed)
    port = free_port()
    conf = folder / "sshd.conf"
    conf.write_text(
        f"Port {port}\nListenAddress {HERE}\nHostKey {host_key}\nAuthorizedKeysFile {allowed}\n"
        f"PidFile {folder / 'pid'}\nUsePAM no\nStrictModes no\n"
        f"PasswordAuthentication {'yes' if passwords else 'no'}\n"
        "PermitRootLogin prohibit-password\nSubsystem sftp internal-sftp\n"
        "ForceCommand internal-sftp\nMaxStartups 100\n"
    )
    # Where the server keeps its privileges apart; it is made by the system's own start otherwise.
    with contextlib.suppress(OSError):
        Path("/run/sshd").mkdir(mode=0o755, exist_ok=True)
    with running([SSHD, "-D", "-e", "-f", str(conf)]) as (process,):
        wait_for(port, lambda: process.poll() is None)
        yield SshServer(port, host.get_fingerprint("sha256"), client_key, getpass.getuser())


# A bucket.


@dataclass(frozen=True)
class S3Server:
    """A running server with one bucket."""

    endpoint: str
    bucket: str

    def url(self, prefix: str) -> str:
        return f"s3://{self.bucket}/{prefix}?endpoint={self.endpoint}"


def why_no_swift() -> str:
    """Why no S3 server can be started, or nothing."""
    told = os.environ.get(SWIFT_VARIABLE, "")
    if not told:
        return f"{SWIFT_VARIABLE} does not name a virtual environment with swift in it"
    missing = not (Path(told) / "bin" / "swift-proxy-server").exists()
    return f"there is no swift in {told}" if missing else ""


PROXY = """[DEFAULT]
bind_ip = {here}
bind_port = {port}
swift_dir = {folder}
workers = 0
[pipeline:main]
pipeline = catch_errors proxy-logging listing_formats s3api tempauth copy slo dlo proxy-logging proxy-server
[app:proxy-server]
use = egg:swift#proxy
allow_account_management = true
account_autocreate = true
[filter:tempauth]
use = egg:swift#tempauth
user_test_tester = testing .admin
[filter:s3api]
use = egg:swift#s3api
s3_acl = false
[filter:catch_errors]
use = egg:swift#catch_errors
[filter:proxy-logging]
use = egg:swift#proxy_logging
[filter:listing_formats]
use = egg:swift#listing_formats
[filter:copy]
use = egg:swift#copy
[filter:slo]
use = egg:swift#slo
[filter:dlo]
use = egg:swift#dlo
"""
STORING = """[DEFAULT]
bind_ip = {here}
bind_port = {port}
swift_dir = {folder}
devices = {folder}/devices
mount_check = false
workers = 0
[pipeline:main]
pipeline = {kind}-server
[app:{kind}-server]
use = egg:swift#{kind}
"""


@contextmanager
def swift(folder: Path) -> Iterator[S3Server]:
    """OpenStack Swift on one device, with its S3 door open."""
    bin_folder = Path(os.environ[SWIFT_VARIABLE]) / "bin"
    (folder / "devices" / "d1").mkdir(parents=True)
    (folder / "swift.conf").write_text("[swift-hash]\nswift_hash_path_suffix = tests\n")
    env = {"SWIFT_CONF_FILE": str(folder / "swift.conf")}
    commands = []
    for kind in ("account", "container", "object"):
        port = free_port()
        conf = folder / f"{kind}-server.conf"
        conf.write_text(STORING.format(here=HERE, port=port, folder=folder, kind=kind))
        _ring(bin_folder, folder / f"{kind}.builder", port)
        commands.append([str(bin_folder / f"swift-{kind}-server"), str(conf)])
    port = free_port()
    conf = folder / "proxy-server.conf"
    conf.write_text(PROXY.format(here=HERE, port=port, folder=folder))
    commands.append([str(bin_folder / "swift-proxy-server"), str(conf)])
    with running(*commands, env=env) as processes:
        wait_for(port, lambda: all(one.poll() is None for one in processes))
        endpoint = f"http://{HERE}:{port}"
        _make_bucket(endpoint, "quillmoor")
        yield S3Server(endpoint, "quillmoor")
    shutil.rmtree(folder, ignore_errors=True)


def _ring(bin_folder: Path, builder: Path, port: int) -> None:
    for words in (
        ["create", "4", "1", "1"],
        ["add", f"r1z1-{HERE}:{port}/d1", "1"],
        ["rebalance"],
    ):
        subprocess.run(
            [str(bin_folder / "swift-ring-builder"), str(builder), *words],
            check=True,
            capture_output=True,
        )


def _make_bucket(endpoint: str, bucket: str) -> None:
    """Make the bucket with a signed request: the library of the depot makes none."""
    import urllib.request
    from datetime import timedelta

    from obstore import sign
    from obstore.store import S3Store

    store = S3Store(
        bucket,
        endpoint=endpoint,
        access_key_id=SWIFT_KEY,
        secret_access_key=SWIFT_SECRET,
        region="us-east-1",
        virtual_hosted_style_request=False,
        client_options={"allow_http": True},
    )
    url = sign(store, "PUT", "", timedelta(minutes=5))
    end = time.monotonic() + START_S
    while True:
        try:
            urllib.request.urlopen(urllib.request.Request(url, method="PUT"), timeout=10)
            return
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.2)
