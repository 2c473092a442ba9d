"""Two laptops on one network, over real sockets on loopback: who may meet, what nobody can bring about."""

from __future__ import annotations

import contextlib
import socket
import ssl
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.x509.oid import ExtensionOID, NameOID

from herdsync.exchange import lan, tls, wire
from herdsync.exchange.addresses import Address, address_in, is_depot
from herdsync.exchange.certificates import anchors_of, certificate_of, device_key_in, private_pem
from herdsync.exchange.frontier import Tip, Want, tips_of
from herdsync.exchange.lan import Line, Listener, Visit, call
from herdsync.exchange.tls import Contexts
from herdsync.faults import BadBytes, Refused
from herdsync.log.entry import Entry, pack
from herdsync.log.trust import Members
from tests.exchange.conftest import Maker
from tests.exchange.laptops import (
    Laptop,
    MemoryLaptop,
    StoreLaptop,
    entropy_of,
    founding_of,
    note,
    seeds_of,
)
from tests.exchange.relay import Relay
from tests.exchange.test_session import farm, memory_farm

FOUNDING = founding_of("house")
HERE = "127.0.0.1"
WAIT_S = 20.0


def line_of(laptop: Laptop, folder: Path) -> Line:
    seed = seeds_of(laptop.name)[0]
    return Line(laptop.ledger, Contexts(seed, folder, entropy_of(laptop.name)), lambda: 1_000)


class Porch:
    """A laptop that listens, and what it told of its visits."""

    def __init__(self, laptop: Laptop, folder: Path, host: str = HERE) -> None:
        self.visits: list[Visit] = []
        self._told = threading.Condition()
        self.listener = Listener(host, 0, line_of(laptop, folder), self._tell)
        self.address = Address(host or HERE, self.listener.port)

    def _tell(self, visit: Visit) -> None:
        with self._told:
            self.visits.append(visit)
            self._told.notify_all()

    def wait(self, count: int) -> list[Visit]:
        """The visits, once there are so many."""
        with self._told:
            assert self._told.wait_for(lambda: len(self.visits) >= count, WAIT_S), self.visits
            return list(self.visits)


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


def without(members: Members, key: bytes) -> Members:
    """The same farm after a laptop was put out."""
    return replace(members, removed={key: ()})


# Who meets.


def test_two_laptops_meet(laptop: Maker, tmp_path: Path, porch: Callable[..., Porch]) -> None:
    house, barn = farm(laptop, "house", "barn")
    house.write(note("from the house"))
    barn.write(note("from the barn"))
    at = porch(house)
    called = call(at.address, line_of(barn, tmp_path))
    assert called.peer == house.ledger.key.public
    assert (called.moved.sent, called.moved.received, called.moved.refused) == (1, 1, [])
    (visit,) = at.wait(1)
    assert visit.who == "Ravi's laptop 'barn' from 127.0.0.1" and visit.moved == called.moved
    assert house.ids() == barn.ids() and len(house.ids()) == 4
    again = call(at.address, line_of(barn, tmp_path))
    assert (again.moved.sent, again.moved.received) == (0, 0)


def test_many_call_at_once(
    tmp_path: Path, porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))

    def on_disk(name: str, founding: Entry) -> StoreLaptop:
        return StoreLaptop(name, founding, tmp_path / name)

    laptops = farm(on_disk, "house", "barn", "loft", "shed")
    for one in laptops:
        for number in range(20):
            one.write(note(f"{one.name} {number}"))
    at = porch(laptops[0])
    threads = [
        threading.Thread(target=call, args=(at.address, line_of(one, tmp_path)))
        for one in laptops[1:]
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(WAIT_S)
    visits = at.wait(3)
    assert all(visit.moved is not None and visit.moved.refused == [] for visit in visits), visits
    assert len(laptops[0].ids()) == 4 + 80


def test_more_than_the_line_holds_goes_through(tmp_path: Path, porch: Callable[..., Porch]) -> None:
    """Both ends have megabytes for each other: neither waits for the other for ever."""
    house, barn = memory_farm("house", "barn")
    for one in (house, barn):
        for number in range(60):
            one.write(note(f"{number} " + "hay " * 12_000))
    called = call(porch(house).address, line_of(barn, tmp_path))
    assert (called.moved.sent, called.moved.received) == (60, 60)
    assert house.ids() == barn.ids()


@pytest.mark.skipif(not socket.has_ipv6, reason="this machine has no IPv6")
def test_over_the_sixth_version(tmp_path: Path, porch: Callable[..., Porch]) -> None:
    house, barn = memory_farm("house", "barn")
    house.write(note("six"))
    try:
        at = porch(house, "::1")
    except Refused:
        pytest.skip("the loopback of this machine has no IPv6")
    assert str(at.address).startswith("[::1]:")
    assert call(at.address, line_of(barn, tmp_path)).moved.received == 1


def test_listening_everywhere_answers_the_fourth_version(
    tmp_path: Path, porch: Callable[..., Porch]
) -> None:
    house, barn = memory_farm("house", "barn")
    at = porch(house, "")
    call(Address(HERE, at.listener.port), line_of(barn, tmp_path))
    assert "127.0.0.1" in at.wait(1)[0].who


# Who does not.


def test_a_stranger_is_refused_and_recorded(tmp_path: Path, porch: Callable[..., Porch]) -> None:
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    stranger = MemoryLaptop("stranger", FOUNDING)
    with pytest.raises(Refused, match="did not come about: it does not know this laptop"):
        call(at.address, line_of(stranger, tmp_path))
    (visit,) = at.wait(1)
    assert visit == Visit(HERE, None, "it showed no key of a laptop of this farm")


def test_a_listener_of_another_farm_is_refused(tmp_path: Path, porch: Callable[..., Porch]) -> None:
    _, barn = memory_farm("house", "barn")
    barn.write(note("secret"))
    other = MemoryLaptop("elsewhere", founding_of("elsewhere", "Another Farm"))
    at = porch(other)
    with pytest.raises(Refused, match="showed no key of a laptop of this farm"):
        call(at.address, line_of(barn, tmp_path))
    (visit,) = at.wait(1)
    assert "does not know this laptop" in visit.why


def test_a_laptop_put_out_is_refused_by_name(
    tmp_path: Path, porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = memory_farm("house", "barn")
    before = house.ledger.members()
    house.write(note("not for it"))
    monkeypatch.setattr(house.ledger, "members", lambda: without(before, barn.ledger.key.public))
    at = porch(house)
    with pytest.raises(Refused, match="not in the farm, or not any more"):
        call(at.address, line_of(barn, tmp_path))
    (visit,) = at.wait(1)
    assert visit.who == "Ravi's laptop 'barn' from 127.0.0.1" and "any more" in visit.why
    assert len(barn.ids()) == 2


def test_a_listener_put_out_is_told_nothing(
    tmp_path: Path, porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = memory_farm("house", "barn")
    before = barn.ledger.members()
    barn.write(note("not for it"))
    monkeypatch.setattr(barn.ledger, "members", lambda: without(before, house.ledger.key.public))
    with pytest.raises(Refused, match="was put out of the farm"):
        call(porch(house).address, line_of(barn, tmp_path))
    assert len(house.ids()) == 2


def test_who_is_put_out_while_listening_goes_on_is_refused_from_then_on(
    tmp_path: Path, porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    house, barn = memory_farm("house", "barn")
    at = porch(house)
    call(at.address, line_of(barn, tmp_path))
    at.wait(1)
    before = house.ledger.members()
    monkeypatch.setattr(house.ledger, "members", lambda: without(before, barn.ledger.key.public))
    with pytest.raises(Refused):
        call(at.address, line_of(barn, tmp_path))
    assert [visit.moved is None for visit in at.wait(2)] == [False, True]


def raw_context(
    key: Ed25519PrivateKey | ec.EllipticCurvePrivateKey | None, *certificates: x509.Certificate
) -> ssl.SSLContext:
    """A TLS client that shows whatever it likes and trusts anyone."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    if key is not None:
        pem = b"".join(one.public_bytes(serialization.Encoding.PEM) for one in certificates)
        pem += key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        path = Path(TMP.name) / "shown.pem"
        path.write_bytes(pem)
        context.load_cert_chain(path)
    return context


class TMP:
    """Where certificates that are only shown lie."""

    name = ""


@pytest.fixture(autouse=True)
def _somewhere(tmp_path: Path) -> None:
    TMP.name = str(tmp_path)


def ed25519(name: str) -> Ed25519PrivateKey:
    return Ed25519PrivateKey.from_private_bytes(seeds_of(name)[0])


def show(address: Address, context: ssl.SSLContext) -> bytes:
    """What a TLS client hears; empty where it is refused."""
    with contextlib.suppress(OSError):
        plain = socket.create_connection((address.host, address.port), timeout=WAIT_S)
        with context.wrap_socket(plain) as wrapped:
            return wrapped.recv(1_000)
    return b""


def certificate(
    issuer: str, key: ec.EllipticCurvePrivateKey | Ed25519PrivateKey, signer: Ed25519PrivateKey
) -> x509.Certificate:
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "herdsync laptop")]))
        .issuer_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, issuer)]))
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(datetime(2020, 1, 1, tzinfo=UTC))
        .not_valid_after(datetime(9999, 12, 31, tzinfo=UTC))
        .sign(signer, None)
    )


def test_no_certificate_a_foreign_one_or_one_a_member_signed_for_another_passes(
    porch: Callable[..., Porch],
) -> None:
    house, barn = memory_farm("house", "barn")
    house.write(note("secret"))
    at = porch(house)
    stranger, member = ed25519("stranger"), ed25519("barn")
    members_name = barn.ledger.key.public.hex()
    curve = ec.generate_private_key(ec.SECP256R1())
    # The member's own certificate with another's key behind it cannot even be loaded; what a hostile
    # member can do is sign a certificate for someone else.
    attempts = [
        raw_context(None),
        raw_context(stranger, certificate_of(stranger)),
        raw_context(stranger, certificate(members_name, stranger, stranger)),
        raw_context(stranger, certificate(members_name, stranger, member)),
        raw_context(curve, certificate(members_name, curve, member)),
    ]
    for context in attempts:
        assert show(at.address, context) == b""
    visits = at.wait(len(attempts) - 1)
    assert {visit.who for visit in visits} == {HERE}
    assert {visit.why.split(" (")[0] for visit in visits} == {
        "it showed no key at all",
        "it showed no key of a laptop of this farm",
        "Its certificate is not of a device key.",
    }


def test_an_older_tls_is_refused(porch: Callable[..., Porch]) -> None:
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    context = raw_context(ed25519("barn"), certificate_of(ed25519("barn")))
    context.maximum_version = ssl.TLSVersion.TLSv1_2
    assert show(at.address, context) == b""
    assert at.wait(1)[0].why == "it does not speak TLS 1.3"


def test_a_member_with_any_program_is_greeted_after_the_handshake_alone(
    porch: Callable[..., Porch],
) -> None:
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    told = show(at.address, raw_context(ed25519("barn"), certificate_of(ed25519("barn"))))
    assert told[5:].startswith(wire.MAGIC)
    assert at.wait(1)[0].why == "it broke off in the middle; what had come is kept"


# What nobody can make a laptop do.


def test_silent_plain_and_random_callers_are_told_off(
    porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lan, "HANDSHAKE_S", 0.3)
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    for said, why in (
        (b"GET / HTTP/1.1\r\n\r\n", "it does not speak TLS 1.3"),
        (bytes(range(256)) * 4, "it does not speak TLS 1.3"),
        (b"", "it said nothing for too long"),
        (b"\x16\x03", "it said nothing for too long"),
    ):
        seen = len(at.visits)
        with socket.create_connection((at.address.host, at.address.port), timeout=WAIT_S) as one:
            one.sendall(said)
            with contextlib.suppress(OSError):
                while one.recv(1_000):
                    pass
        visit = at.wait(seen + 1)[-1]
        assert visit.who == HERE and visit.why.startswith(why)


def member_line(address: Address) -> ssl.SSLSocket:
    """A connection of an admitted laptop whose program is hostile, greeted already."""
    context = raw_context(ed25519("barn"), certificate_of(ed25519("barn")))
    plain = socket.create_connection((address.host, address.port), timeout=WAIT_S)
    wrapped = context.wrap_socket(plain)
    assert wrapped.recv(1_000)
    return wrapped


def greeting() -> bytes:
    return wire.framed(wire.GREETING, wire.Greeting(FOUNDING.id, 0, 0, bytes(32)))


def until_closed(wrapped: ssl.SSLSocket) -> bytes:
    told = b""
    with contextlib.suppress(OSError):
        while data := wrapped.recv(65_536):
            told += data
    return told


def test_slow_and_halting_members_are_broken_off(
    porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lan, "GREETING_S", 0.3)
    monkeypatch.setattr(lan, "MESSAGE_S", 0.4)
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    with member_line(at.address) as one:
        until_closed(one)
    with member_line(at.address) as one, contextlib.suppress(OSError):
        # A byte now and then, never a whole message.
        one.sendall(greeting())
        one.sendall((1_000).to_bytes(4, "big"))
        while True:
            one.sendall(b"\x01")
            time.sleep(0.05)
    visits = at.wait(2)
    assert [visit.why.split(" (")[0] for visit in visits] == ["it said nothing for too long"] * 2
    assert visits[0].who == "Ravi's laptop 'barn' from 127.0.0.1"


def test_who_does_not_read_is_broken_off(
    porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lan, "MESSAGE_S", 0.5)
    house, barn = memory_farm("house", "barn")
    for number in range(200):
        house.write(note(f"{number} " + "hay " * 15_000))
    at = porch(house)
    with member_line(at.address) as one:
        one.sendall(greeting())
        tip = Tip(barn.ledger.key.public, 0, house.ledger.farm)
        one.sendall(wire.framed(wire.FRONTIER, [tip]))
        one.recv(4_096)
        (want,) = [Want(tip.id, [], False) for tip in tips_of(house.ledger)]
        one.sendall(wire.framed(wire.WANTS, [want]))
        at.wait(1)
    assert at.visits[0].moved is None


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ((wire.MESSAGE_BYTES + 1).to_bytes(4, "big"), "longer than anything"),
        (b"\xff" * 100_000, "longer than anything"),
        (greeting() * 2, "does not follow"),
        (greeting() + wire.framed(wire.REFUSAL, wire.Refusal("\x1b[31mno")), "ended the exchange"),
        (b"\0\0\0\2\0\0", "does not greet"),
    ],
)
def test_huge_and_hostile_members_are_refused_by_name(
    porch: Callable[..., Porch], said: bytes, why: str
) -> None:
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    with member_line(at.address) as one:
        with contextlib.suppress(OSError):
            one.sendall(said)
        until_closed(one)
    (visit,) = at.wait(1)
    assert visit.who == "Ravi's laptop 'barn' from 127.0.0.1" and why in visit.why
    assert "\x1b" not in visit.why


def test_only_so_many_are_answered_at_once(
    porch: Callable[..., Porch], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lan, "CONNECTIONS_PER_HOST", 2)
    monkeypatch.setattr(lan, "HANDSHAKE_S", 1.0)
    house, barn = memory_farm("house", "barn")
    at = porch(house)
    where = (at.address.host, at.address.port)
    idle = [socket.create_connection(where, timeout=WAIT_S) for _ in range(5)]
    refused = at.wait(2)
    assert all(visit.why.startswith("too many connections") for visit in refused)
    assert at.listener._hosts.total() == 2
    for one in idle:
        one.close()
    at.wait(4)
    call(at.address, line_of(barn, tmp_path))


def test_the_same_refusal_is_told_ever_more_rarely(porch: Callable[..., Porch]) -> None:
    house, _ = memory_farm("house", "barn")
    at = porch(house)
    for _ in range(9):
        show(at.address, raw_context(None))
    # The last of them is answered only after every refusal before it was counted.
    show(at.address, raw_context(ed25519("barn"), certificate_of(ed25519("barn"))))
    at.wait(5)
    told = {visit.why for visit in at.visits if visit.who == HERE}
    assert told == {"it showed no key at all"} | {
        f"it showed no key at all ({times} times)" for times in (2, 4, 8)
    }


def test_stopping_breaks_off_whoever_is_there(tmp_path: Path) -> None:
    house, _ = memory_farm("house", "barn")
    at = Porch(house, tmp_path)
    at.listener.start()
    one = socket.create_connection((HERE, at.listener.port), timeout=WAIT_S)
    with member_line(at.address):
        at.listener.stop()
    one.close()
    with pytest.raises(Refused, match="Nobody answers at"):
        call(at.address, line_of(house, tmp_path))


# A cut line.


@pytest.mark.parametrize("most", [100, 1_500, 3_000, 4_500, 6_000])
def test_a_line_that_breaks_anywhere_loses_nothing(
    laptop: Maker,
    tmp_path: Path,
    porch: Callable[..., Porch],
    most: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(wire, "BATCH_ENTRIES", 4)
    house, barn = farm(laptop, "house", "barn")
    for number in range(12):
        house.write(note(f"house {number}"))
        barn.write(note(f"barn {number}"))
    at = porch(house)
    with pytest.raises(Refused):
        call(Relay(at.address, most).address, line_of(barn, tmp_path))
    at.wait(1)
    before = len(house.ids()) + len(barn.ids())
    called = call(at.address, line_of(barn, tmp_path))
    assert called.moved.sent + called.moved.received == 2 * 26 - before
    assert house.ids() == barn.ids() and len(house.ids()) == 26


def test_the_whole_line_costs_little_beyond_the_entries(
    tmp_path: Path, porch: Callable[..., Porch]
) -> None:
    """Handshake, certificates and records of TLS included."""
    house, barn = memory_farm("house", "barn")
    stored = 0
    for number in range(100):
        stored += len(pack(house.write(note(f"the goat in the far pen ate well, day {number}"))))
        stored += len(pack(barn.write(note(f"the goat in the near pen ate well, day {number}"))))
    relay = Relay(porch(house).address)
    call(relay.address, line_of(barn, tmp_path))
    assert relay.passed <= 1.15 * stored + 4096


# The certificate.


def test_the_certificate_is_of_the_device_key_and_no_authority() -> None:
    key = ed25519("house")
    made = certificate_of(key)
    assert made == certificate_of(key)
    assert made.public_key() == key.public_key()
    key.public_key().verify(made.signature, made.tbs_certificate_bytes)
    constraints = made.extensions.get_extension_for_oid(ExtensionOID.BASIC_CONSTRAINTS)
    assert constraints.critical and constraints.value == x509.BasicConstraints(False, None)
    assert made.not_valid_before_utc.year == 2020 and made.not_valid_after_utc.year == 9999
    assert device_key_in(made.public_bytes(serialization.Encoding.DER)) == seeds_key("house")


def seeds_key(name: str) -> bytes:
    return ed25519(name).public_key().public_bytes_raw()


def test_openssl_reads_the_certificate(tmp_path: Path) -> None:
    """Checked by another implementation: the anchor lets it pass, another member's does not."""
    key, other = ed25519("house"), ed25519("barn")
    shown = tmp_path / "shown.pem"
    shown.write_bytes(certificate_of(key).public_bytes(serialization.Encoding.PEM))
    for member, passes in (("house", True), ("barn", False)):
        anchor = tmp_path / "anchor.pem"
        anchor.write_text(anchors_of([seeds_key(member)], other))
        try:
            done = subprocess.run(
                ["openssl", "verify", "-partial_chain", "-CAfile", str(anchor), str(shown)],
                capture_output=True,
                check=False,
            )
        except FileNotFoundError:
            pytest.skip("the openssl command is not installed")
        assert (done.returncode == 0) is passes


@pytest.mark.parametrize("der", [None, b"", b"\x30\x00", bytes(5_000)])
def test_what_is_no_certificate_is_refused(der: bytes | None) -> None:
    with pytest.raises(BadBytes):
        device_key_in(der)


def test_the_private_key_reaches_tls_locked_and_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[int, bytes]] = []
    original = ssl.SSLContext.load_cert_chain

    def watched(self: ssl.SSLContext, name: str, password: str) -> None:
        seen.append((stat.S_IMODE(Path(name).stat().st_mode), Path(name).read_bytes()))
        original(self, name, password=password)

    monkeypatch.setattr(ssl.SSLContext, "load_cert_chain", watched)
    contexts = Contexts(seeds_of("house")[0], tmp_path, entropy_of("locks"))
    contexts.calling({seeds_key("barn")})
    contexts.answering({seeds_key("barn")})
    contexts.answering({seeds_key("barn")})
    assert len(seen) == 2 and list(tmp_path.iterdir()) == []
    for mode, data in seen:
        assert mode == 0o600 and b"ENCRYPTED PRIVATE KEY" in data
        assert seeds_of("house")[0] not in data
    monkeypatch.setattr(ssl.SSLContext, "load_cert_chain", _fails)
    with pytest.raises(OSError):
        contexts.answering({seeds_key("loft")})
    assert list(tmp_path.iterdir()) == []
    assert private_pem(ed25519("house"), b"x") != private_pem(ed25519("house"), b"x")


def _fails(*_: object, **__: object) -> None:
    raise OSError("no")


# Addresses.


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("192.0.2.7:7070", "192.0.2.7", 7070),
        ("barn-laptop.example:1", "barn-laptop.example", 1),
        ("[2001:db8::7]:7070", "2001:db8::7", 7070),
        ("[fe80::1%eth0]:65535", "fe80::1%eth0", 65535),
    ],
)
def test_an_address_is_read_and_written(text: str, host: str, port: int) -> None:
    """IPv6 in brackets: RFC 3986, section 3.2.2; addresses for documentation: RFC 5737, RFC 3849."""
    assert address_in(text) == Address(host, port)
    assert str(Address(host, port)) == text


@pytest.mark.parametrize(
    "text",
    [
        "stick",
        "/media/stick",
        "C:\\stick",
        "C:1",
        "./host:1/x",
        "a b:1",
        "2001:db8::7",
        "sftp://a/b",
    ],
)
def test_what_is_no_address_is_a_folder_or_depot(text: str) -> None:
    assert address_in(text) is None
    assert is_depot(text) is text.startswith("sftp")


@pytest.mark.parametrize("text", ["barn:0", "barn:65536", "[::1]", "[::1]:0"])
def test_a_port_there_is_not_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="names no port"):
        address_in(text)


def test_nobody_there_is_a_sentence(tmp_path: Path) -> None:
    house, _ = memory_farm("house", "barn")
    with socket.create_server((HERE, 0)) as free:
        port = free.getsockname()[1]
    with pytest.raises(Refused, match=r"Nobody answers at 127\.0\.0\.1"):
        call(Address(HERE, port), line_of(house, tmp_path))


def test_a_port_that_is_taken_is_a_sentence(tmp_path: Path) -> None:
    house, _ = memory_farm("house", "barn")
    with (
        socket.create_server((HERE, 0)) as taken,
        pytest.raises(Refused, match="cannot listen on"),
    ):
        Listener(HERE, taken.getsockname()[1], line_of(house, tmp_path), lambda visit: None)


def test_a_listener_that_says_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lan, "HANDSHAKE_S", 0.3)
    _, barn = memory_farm("house", "barn")
    with socket.create_server((HERE, 0)) as silent:
        where = Address(HERE, silent.getsockname()[1])
        with pytest.raises(Refused, match="it said nothing for too long"):
            call(where, line_of(barn, tmp_path))


def test_bundles_load_no_network() -> None:
    script = (
        "import sys; import herdsync.exchange.bundles, herdsync.farm\n"
        "print([x for x in ('ssl', 'asyncio', 'asyncssh', 'obstore') if x in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_meanings_are_in_words() -> None:
    assert tls.meaning(TimeoutError()) == "it said nothing for too long"
    assert tls.meaning(ConnectionResetError()) == "it broke off"
    assert tls.meaning(ssl.SSLError(1, "anything")) == "it does not speak TLS 1.3 as a laptop does"
