"""Depots: the same bundles on stores that a library reaches; real servers on loopback where installed."""

from __future__ import annotations

import contextlib
import hashlib
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from herdsync import founding
from herdsync.exchange.addresses import Address
from herdsync.exchange.bundles import Moved, exchange_opened
from herdsync.exchange.carriers import Memory, opened
from herdsync.exchange.depot import Depot, Store
from herdsync.exchange.probe import Guarantees, probe
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.wall import Wall
from tests.exchange import servers
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, entropy_of, founding_of, note
from tests.exchange.meetings import farm
from tests.exchange.relay import Relay
from tests.exchange.servers import S3Server, SshServer

FOUNDING = founding_of("house")
HONEST = Guarantees(True, True, True)


@pytest.fixture
def credentials(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", servers.SWIFT_KEY)
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", servers.SWIFT_SECRET)


@pytest.fixture(params=["sftp", "s3"])
def url(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    credentials: None,
) -> str:
    """A fresh place on a real server."""
    if request.param == "sftp":
        server: SshServer = request.getfixturevalue("ssh_server")
        monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(server.client_key))
        return server.url(tmp_path / "account" / "herd")
    bucket: S3Server = request.getfixturevalue("s3_server")
    return bucket.url(f"{tmp_path.name}/herd")


@contextlib.contextmanager
def store_at(url: str, notes: Memory | None = None) -> Iterator[Store]:
    with opened(url, notes or Memory(), entropy_of("depot")) as there:
        assert isinstance(there.carrier, Depot)
        yield there.carrier._store


def meet(laptop: Laptop, text: str) -> Moved:
    entropy = entropy_of(f"{laptop.name} {len(laptop.ids())}")
    with opened(text, laptop.ledger, entropy) as there:
        return exchange_opened(there, laptop.ledger, 0, entropy)


def test_a_real_server_keeps_every_promise(url: str) -> None:
    with store_at(url) as store:
        assert probe(store, entropy_of("probe")) == HONEST
        assert store.listing(10) == {}


def test_files_are_created_once_and_read_in_parts(url: str) -> None:
    data = hashlib.sha256(b"data").digest() * 98_305 + b"the end"
    with opened(url, Memory(), entropy_of("depot")) as there:
        carrier = there.carrier
        assert carrier.create("abcd-00000001.bundle", data)
        assert carrier.create("abcd-00000001.bundle", data)
        assert not carrier.create("abcd-00000001.bundle", b"other")
        assert carrier.create(".hidden.tmp", b"x")
        shelf = carrier.names()
        assert shelf.names == ["abcd-00000001.bundle"] and shelf.notes == []
        assert shelf.sizes == {"abcd-00000001.bundle": len(data)}
        assert carrier.tail("abcd-00000001.bundle") == (len(data), data[-32:])
        assert carrier.head("abcd-00000001.bundle", 100) == data[:100]
        assert carrier.read("abcd-00000001.bundle", 1_000) == data[:1_001]
        assert carrier.read("abcd-00000001.bundle", len(data)) == data
        assert carrier.read("nothing.bundle", 10) is None and carrier.tail("nothing.bundle") is None
        assert carrier.create("empty.bundle", b"") and carrier.read("empty.bundle", 10) == b""
        carrier.remove("abcd-00000001.bundle")
        carrier.remove("abcd-00000001.bundle")
        assert carrier.names().names == ["empty.bundle"]


def test_two_laptops_meet_over_a_depot(laptop: Maker, url: str) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("from the house"))
    assert meet(house, url) == Moved(3, 0, 0, [])
    assert meet(barn, url) == Moved(0, 2, 0, [])
    barn.write(note("from the barn"))
    assert meet(barn, url) == Moved(1, 0, 0, [])
    assert meet(house, url) == Moved(0, 1, 0, [])
    assert meet(house, url) == Moved(0, 0, 0, [])
    assert house.ids() == barn.ids() and len(house.ids()) == 4


def test_what_another_laptop_altered_is_named(laptop: Maker, url: str) -> None:
    house, barn = farm(laptop, "house", "barn")
    meet(house, url)
    with store_at(url) as store:
        ((name, size),) = store.listing(10).items()
        raw = store.part(name, 0, size)
        assert raw is not None
        store.delete(name)
        assert store.put(name, raw[:-1] + bytes([raw[-1] ^ 1]))
    moved = meet(barn, url)
    assert [one.what for one in moved.refused] == [f"file {name}"]
    assert moved.received == 0


def test_a_laptop_is_let_in_through_a_depot_and_no_secret_stays(
    url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole way through the door: join, admit, exchange."""
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    wall = Wall()
    house, barn = tmp_path / "house", tmp_path / "barn"
    founding.found(house, wall, name="Quillmoor Dairy", keeper="Oda", device="house")
    joining = founding.join(barn, wall, url, keeper="Ravi", device="barn")
    with Farm.open(house, wall) as one:
        admission = one.admit(url, joining.code)
        assert [asked.device for asked in admission.admitted] == ["barn"]
    joined = founding.exchange_joining(barn, wall, url)
    assert joined is not None and joined.joined == "Quillmoor Dairy" and joined.told == []
    plain = url.split("?hostkey=")[0]
    with Farm.open(barn, wall) as one:
        one.record("note", {"text": "from the barn"})
        # The pin was remembered: from now on the place needs no more words.
        assert one.exchange(plain).sent == 1
    with Farm.open(house, wall) as one:
        assert one.exchange(plain).received == 1
    secrets = [servers.SWIFT_SECRET.encode(), b"PRIVATE KEY"]
    for folder in (house, barn):
        for path in folder.rglob("*"):
            raw = path.read_bytes() if path.is_file() else b""
            assert not any(secret in raw for secret in secrets), path


@pytest.mark.parametrize("most", [500, 3_000, 6_000, 8_000])
def test_an_account_that_goes_away_is_a_sentence(
    laptop: Maker,
    ssh_server: SshServer,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    most: int,
) -> None:
    monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(ssh_server.client_key))
    house, barn = farm(laptop, "house", "barn")
    for number in range(30):
        house.write(note(f"{number} " + "hay " * 100))
    relay = Relay(Address("127.0.0.1", ssh_server.port), most)
    cut = replace(ssh_server, port=relay.address.port)
    with pytest.raises(Refused, match="could not be reached"):
        meet(house, cut.url(tmp_path / "account"))
    assert [one for one in _files(tmp_path / "account") if one.endswith(".bundle")] == []
    moved = meet(house, ssh_server.url(tmp_path / "account"))
    assert (moved.refused, moved.noticed) == ([], [])
    assert meet(barn, ssh_server.url(tmp_path / "account")).received == 31
    with pytest.raises(Refused, match="could not be reached"):
        meet(barn, replace(ssh_server, port=servers.free_port()).url(tmp_path / "account"))


def _files(folder: Path) -> list[str]:
    return [one.name for one in folder.iterdir()] if folder.exists() else []


def test_a_host_key_must_be_known(
    ssh_server: SshServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(ssh_server.client_key))
    with (
        pytest.raises(Refused) as unknown,
        opened(ssh_server.url(tmp_path, pinned=False), Memory(), entropy_of("x")),
    ):
        pass
    assert ssh_server.fingerprint in str(unknown.value)
    assert "does not know yet" in str(unknown.value)
    notes = Memory()
    with opened(ssh_server.url(tmp_path), notes, entropy_of("x")):
        pass
    with opened(ssh_server.url(tmp_path, pinned=False), notes, entropy_of("x")):
        pass
    other = f"{ssh_server.url(tmp_path, pinned=False)}?hostkey=SHA256:{'A' * 43}"
    with pytest.raises(Refused, match="another host key"), opened(other, notes, entropy_of("x")):
        pass
    # A refused key replaces nothing that was remembered.
    with opened(ssh_server.url(tmp_path, pinned=False), notes, entropy_of("x")):
        pass


def test_who_is_not_let_in_is_told(
    ssh_server: SshServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import asyncssh

    wrong = tmp_path / "wrong"
    asyncssh.generate_private_key("ssh-ed25519").write_private_key(wrong)
    monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(wrong))
    with (
        pytest.raises(Refused, match="does not let this laptop in") as refused,
        opened(ssh_server.url(tmp_path), Memory(), entropy_of("x")),
    ):
        pass
    assert "HERDSYNC_SFTP_KEY" in str(refused.value)
    monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(tmp_path / "none"))
    with pytest.raises(Refused), opened(ssh_server.url(tmp_path), Memory(), entropy_of("x")):
        pass


def test_a_folder_that_cannot_be_is_told(
    ssh_server: SshServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(ssh_server.client_key))
    (tmp_path / "file").write_bytes(b"x")
    with (
        pytest.raises(Refused, match=r"refused|could not"),
        opened(ssh_server.url(tmp_path / "file" / "below"), Memory(), entropy_of("x")),
    ):
        pass


def test_links_and_folders_on_an_account_are_passed_over(
    ssh_server: SshServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_SFTP_KEY", str(ssh_server.client_key))
    account = tmp_path / "account"
    account.mkdir()
    (account / "folder.bundle").mkdir()
    (account / "link.bundle").symlink_to("/etc/passwd")
    (account / "bad\udcff.bundle").write_bytes(b"x")
    with opened(ssh_server.url(account), Memory(), entropy_of("x")) as there:
        names = there.carrier.names().names
        assert len(names) == 1 and names[0].endswith(".bundle")


@pytest.mark.parametrize(
    ("key", "secret", "bucket", "why"),
    [
        (servers.SWIFT_KEY, "wrong", "quillmoor", "does not let this laptop in"),
        ("nobody", servers.SWIFT_SECRET, "quillmoor", "does not let this laptop in"),
        (servers.SWIFT_KEY, servers.SWIFT_SECRET, "elsewhere", "There is no s3://elsewhere"),
    ],
)
def test_a_bucket_that_does_not_open_is_told(
    s3_server: S3Server,
    monkeypatch: pytest.MonkeyPatch,
    key: str,
    secret: str,
    bucket: str,
    why: str,
) -> None:
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", key)
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", secret)
    place = f"s3://{bucket}/herd?endpoint={s3_server.endpoint}"
    with pytest.raises(Refused) as told_why, opened(place, Memory(), entropy_of("x")):
        pass
    assert why in str(told_why.value) and secret not in str(told_why.value)


def test_nobody_at_the_endpoint_is_a_sentence(credentials: None) -> None:
    place = f"s3://quillmoor/herd?endpoint=http://127.0.0.1:{servers.free_port()}"
    with (
        pytest.raises(Refused, match="could not be used"),
        opened(place, Memory(), entropy_of("x")),
    ):
        pass


def test_without_credentials_nothing_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.delenv(name, raising=False)
    with (
        pytest.raises(Refused, match="There are no credentials"),
        opened("s3://quillmoor/herd?endpoint=http://127.0.0.1:1", Memory(), entropy_of("x")),
    ):
        pass


@pytest.mark.parametrize(
    ("library", "text"), [("asyncssh", "sftp://oda@h/x"), ("obstore", "s3://b/x")]
)
def test_what_is_not_installed_is_named(library: str, text: str) -> None:
    script = (
        "import sys\n"
        f"sys.modules[{library!r}] = None\n"
        "from herdsync.exchange.carriers import Memory, opened\n"
        "from herdsync.faults import Refused\n"
        "try:\n"
        f"    with opened({text!r}, Memory(), bytes): pass\n"
        "except Refused as fault:\n    print(fault)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert "is not installed. Install it with: pip install 'herdsync[" in done.stdout
