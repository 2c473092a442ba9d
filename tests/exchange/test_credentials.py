"""What opens a depot: the environment, the keyring, a password; written nowhere, told nowhere."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import keyring
import pytest
from keyring import errors
from keyring.backend import KeyringBackend

from herdsync.exchange.bundles import Moved, exchange_opened
from herdsync.exchange.carriers import Memory, opened
from herdsync.exchange.credentials import credential, service_of
from herdsync.exchange.places import place_in
from herdsync.faults import Refused
from scenarios.beside import bound
from tests.exchange import servers
from tests.exchange.laptops import Laptop, MemoryLaptop, entropy_of, note
from tests.exchange.meetings import farm
from tests.exchange.servers import S3Server, SshServer

PASSWORD = "HERDSYNC_SFTP_PASSWORD"
KEY, SECRET = "AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"
# Unlocks a keyring of its own with an empty password, keeps the credentials as the sentence says, exchanges.
ON_A_DESKTOP = f"""
import subprocess, sys
url, herdsync = sys.argv[1], [sys.executable, "-m", "herdsync.start"]
def run(words, **more):
    return subprocess.run(words, capture_output=True, text=True, **more)
run(["gnome-keyring-daemon", "--unlock", "--components=secrets"], input="\\n", check=True)
run([*herdsync, "found", "Quillmoor Dairy", "--keeper", "Oda", "--device", "house"], check=True)
print(" ".join(run([*herdsync, "exchange", url]).stderr.split()))
for name, value in (({KEY!r}, {servers.SWIFT_KEY!r}), ({SECRET!r}, {servers.SWIFT_SECRET!r})):
    run([sys.executable, "-m", "keyring", "set", "herdsync s3://quillmoor", name], input=value, check=True)
done = run([*herdsync, "exchange", url, "--json"])
sys.stderr.write(done.stderr)
print(done.stdout.strip())
"""
ACCOUNT = place_in("sftp://oda@192.0.2.7:2222/herd")
BUCKET = place_in("s3://quillmoor/herd?endpoint=http://192.0.2.7:9000")


class Kept(KeyringBackend):
    """A keyring in memory."""

    priority = 1
    locked = False

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self.entries: dict[tuple[str, str], str] = {}

    def get_password(self, service: str, username: str) -> str | None:
        if self.locked:
            raise errors.KeyringLocked("the words of the library, which may name anything")
        return self.entries.get((service, username))

    def set_password(self, service: str, username: str, password: str) -> None:
        self.entries[service, username] = password

    def delete_password(self, service: str, username: str) -> None:
        del self.entries[service, username]


@pytest.fixture
def ring(monkeypatch: pytest.MonkeyPatch) -> Iterator[Kept]:
    """The platform's keyring, and an environment without credentials."""
    for name in [one for one in os.environ if one.startswith(("AWS_", "HERDSYNC_SFTP"))]:
        monkeypatch.delenv(name)
    before, kept = keyring.get_keyring(), Kept()
    keyring.set_keyring(kept)
    yield kept
    keyring.set_keyring(before)


def test_the_environment_comes_first_then_the_keyring(
    ring: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert credential(ACCOUNT, PASSWORD) is None
    keyring.set_password("herdsync sftp://oda@192.0.2.7:2222", PASSWORD, "from the keyring")
    assert credential(ACCOUNT, PASSWORD) == "from the keyring"
    assert credential(BUCKET, PASSWORD) is None
    monkeypatch.setenv(PASSWORD, "from the environment")
    assert credential(ACCOUNT, PASSWORD) == "from the environment"
    assert service_of(BUCKET) == "herdsync s3://quillmoor"


def test_a_keyring_that_does_not_open_is_a_sentence(ring: Kept) -> None:
    ring.locked = True
    with pytest.raises(Refused, match="does not open") as fault:
        credential(ACCOUNT, PASSWORD)
    assert "words of the library" not in str(fault.value) and fault.value.mend


@pytest.mark.parametrize("absent", ["library", "backend"])
def test_without_a_keyring_there_is_the_environment(
    ring: Kept, monkeypatch: pytest.MonkeyPatch, absent: str
) -> None:
    if absent == "library":
        monkeypatch.setitem(sys.modules, "keyring", None)
    else:
        from keyring.backends import fail

        keyring.set_keyring(fail.Keyring())  # type: ignore[no-untyped-call]
    assert credential(ACCOUNT, PASSWORD) is None
    with pytest.raises(Refused, match="keyring set 'herdsync s3://quillmoor' AWS_ACCESS_KEY_ID"):
        opened("s3://quillmoor/herd", Memory(), entropy_of("x")).__enter__()


def test_a_bucket_opens_with_what_the_keyring_holds(ring: Kept) -> None:
    service = "herdsync s3://quillmoor"
    place = f"s3://quillmoor/herd?endpoint=http://127.0.0.1:{servers.free_port()}"
    keyring.set_password(service, "AWS_ACCESS_KEY_ID", servers.SWIFT_KEY)
    with pytest.raises(Refused, match="There are no credentials"):
        opened(place, Memory(), entropy_of("x")).__enter__()
    keyring.set_password(service, "AWS_SECRET_ACCESS_KEY", servers.SWIFT_SECRET)
    # Nobody answers there; but it was let try.
    with pytest.raises(Refused, match="could not be used") as fault:
        opened(place, Memory(), entropy_of("x")).__enter__()
    assert servers.SWIFT_SECRET not in str(fault.value)


def test_two_laptops_meet_in_a_real_bucket_with_what_the_keyring_holds(
    ring: Kept, s3_server: S3Server, tmp_path: Path
) -> None:
    """Neither has anything in its environment; one account's keys serve one bucket and no other."""
    url = s3_server.url(f"{tmp_path.name}/herd")
    elsewhere = replace(s3_server, bucket="elsewhere").url("herd")
    service = service_of(place_in(url))
    house, barn = farm(MemoryLaptop, "house", "barn")
    house.write(note("from the house"))
    notes = {one.name: Memory() for one in (house, barn)}

    def met(laptop: Laptop) -> Moved:
        entropy = entropy_of(f"{laptop.name} {len(laptop.ids())}")
        with opened(url, notes[laptop.name], entropy) as there:
            return exchange_opened(there, laptop.ledger, 0, entropy)

    keyring.set_password(service, KEY, servers.SWIFT_KEY)
    keyring.set_password(service, SECRET, "wrong")
    with pytest.raises(Refused, match="does not let this laptop in") as fault:
        met(house)
    assert "wrong" not in str(fault.value)
    keyring.set_password(service, SECRET, servers.SWIFT_SECRET)
    assert met(house) == Moved(3, 0, 0, []) and met(barn) == Moved(0, 2, 0, [])
    barn.write(note("from the barn"))
    assert met(barn) == Moved(1, 0, 0, []) and met(house) == Moved(0, 1, 0, [])
    assert house.ids() == barn.ids()
    with pytest.raises(Refused, match="There are no credentials"):
        opened(elsewhere, Memory(), entropy_of("x")).__enter__()
    ring.locked = True
    with pytest.raises(Refused, match="does not open"):
        met(house)
    kept = [told for one in notes.values() for told in one.notes.values()]
    assert kept and not any(servers.SWIFT_SECRET.encode() in told for told in kept)


@pytest.mark.skipif(shutil.which("dbus-run-session") is None, reason="there is no session bus")
@pytest.mark.skipif(
    shutil.which("gnome-keyring-daemon") is None, reason="there is no Secret Service"
)
def test_the_platforms_own_keyring_opens_a_real_bucket(s3_server: S3Server, tmp_path: Path) -> None:
    """The Secret Service of a desktop, in a session of its own; the command reads it, nobody names it."""
    url = s3_server.url(f"{tmp_path.name}/herd")
    told = {
        name: one for name, one in os.environ.items() if not name.startswith(("AWS_", "HERDSYNC"))
    }
    done = subprocess.run(
        bound(["dbus-run-session", "--", sys.executable, "-c", ON_A_DESKTOP, url]),
        env=told | {"HOME": str(tmp_path), "XDG_RUNTIME_DIR": str(tmp_path), "XDG_DATA_HOME": str(tmp_path)},
        capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    before, _, after = done.stdout.partition("\n")
    assert (
        "There are no credentials" in before and "keyring set 'herdsync s3://quillmoor'" in before
    )
    assert json.loads(after)["sent"] > 0


# An SFTP account by its password.


def test_a_password_lets_in_from_environment_and_keyring(
    ring: Kept, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with servers.password_server(tmp_path, "oda", "four words of rope") as server:
        both_ways(server, tmp_path / "account", "four words of rope", monkeypatch)


def test_a_password_lets_in_at_a_real_server(
    ring: Kept, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    why = servers.why_no_password_account()
    if why:
        pytest.skip(why)
    user, _, password = os.environ[servers.ACCOUNT_VARIABLE].partition(":")
    account = Path("/tmp") / f"herdsync-account-{os.getpid()}"
    with servers.sshd(tmp_path, passwords=True) as server:
        try:
            both_ways(replace(server, user=user), account, password, monkeypatch)
        finally:
            shutil.rmtree(account, ignore_errors=True)


def both_ways(
    server: SshServer, account: Path, password: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two laptops meet on an account, one with the password in its environment, one in its keyring."""
    url = server.url(account)
    monkeypatch.setenv(PASSWORD, "wrong")
    with pytest.raises(Refused, match="does not let this laptop in") as fault:
        opened(url, Memory(), entropy_of("x")).__enter__()
    assert "keyring set 'herdsync sftp://" in str(fault.value) and "wrong" not in str(fault.value)
    monkeypatch.setenv(PASSWORD, password)
    house, barn = farm(MemoryLaptop, "house", "barn")
    house.write(note("from the house"))
    notes = Memory()
    with opened(url, notes, entropy_of("house")) as there:
        assert exchange_opened(there, house.ledger, 0, entropy_of("house")).sent == 3
    monkeypatch.delenv(PASSWORD)
    with pytest.raises(Refused, match="does not let this laptop in"):
        opened(url, Memory(), entropy_of("x")).__enter__()
    keyring.set_password(service_of(place_in(url)), PASSWORD, password)
    with opened(url, notes, entropy_of("barn")) as there:
        assert exchange_opened(there, barn.ledger, 0, entropy_of("barn")).received == 2
    assert house.ids() == barn.ids()
    assert not any(password.encode() in told for told in notes.notes.values())
