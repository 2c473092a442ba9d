"""A laptop that listens on loopback, and callers that show and say whatever they like, for tests."""

from __future__ import annotations

import contextlib
import socket
import ssl
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.x509.oid import NameOID

from herdsync.exchange import wire
from herdsync.exchange.addresses import Address
from herdsync.exchange.certificates import certificate_of
from herdsync.exchange.knock import KNOCK, Channel
from herdsync.exchange.lan import Line, Visit
from herdsync.exchange.listening import Listener
from herdsync.exchange.tls import Contexts, anyone
from herdsync.log.trust import Members
from tests.exchange.laptops import (
    Laptop,
    entropy_of,
    founding_of,
    seeds_of,
)

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


def without(members: Members, key: bytes) -> Members:
    """The same farm after a laptop was put out."""
    return replace(members, removed={key: ()})


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
        with tempfile.NamedTemporaryFile(suffix=".pem") as shown:
            shown.write(pem)
            shown.flush()
            context.load_cert_chain(shown.name)
    return context


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


def seeds_key(name: str) -> bytes:
    return ed25519(name).public_key().public_bytes_raw()


@contextmanager
def visiting(port: int) -> Iterator[Channel]:
    """A visitor that says what it likes."""
    with socket.create_connection((HERE, port), timeout=10) as plain:
        plain.sendall(KNOCK)
        with anyone().wrap_socket(plain) as wrapped:
            yield Channel(wrapped)
