"""What opens a depot: the environment, the keyring, a password; written nowhere, told nowhere."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import keyring
import pytest
from keyring import errors
from keyring.backend import KeyringBackend

from herdsync.exchange.bundles import exchange_opened
from herdsync.exchange.carriers import Memory, opened
from herdsync.exchange.credentials import credential, service_of
from herdsync.exchange.places import place_in
from herdsync.faults import Refused
from tests.exchange import servers
from tests.exchange.laptops import MemoryLaptop, entropy_of, note
from tests.exchange.meetings import farm
from tests.exchange.servers import SshServer

PASSWORD = "HERDSYNC_SFTP_PASSWORD"
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
