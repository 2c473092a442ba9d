"""Exchange between two laptops on one network: one listens, the other calls, both pinned to the members.

The calling end believes nothing until the listening end has greeted it: TLS 1.3 calls a connection open
before the listening end has judged it. The listening end stands in `listening`.
Must not know how the log is stored, nor what is said in a session.
"""

from __future__ import annotations

import contextlib
import socket
import ssl
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from msgspec import Struct

from herdsync.exchange.addresses import Address
from herdsync.exchange.bundles import Moved
from herdsync.exchange.certificates import device_key_in
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.session import Session
from herdsync.exchange.threshold import introducer
from herdsync.exchange.tls import Contexts, meaning
from herdsync.faults import BadBytes, Fault, Refused

CONNECT_S = 10.0
HANDSHAKE_S = 10.0
GREETING_S = 15.0
# Also the time another laptop has for storing what it was sent before it answers.
MESSAGE_S = 60.0
FAREWELL_S = 1.0
_READ_BYTES = 65_536
_WRITE_BYTES = 65_536
_FAREWELL_READS = 16


class Visit(Struct, frozen=True):
    """Another laptop called: who and from where, and what moved; or why it was refused.

    ``check``: it is not of the farm and asks to join; the digits its screen shows.
    """

    who: str
    moved: Moved | None
    why: str = ""
    check: str = ""


class Called(Struct, frozen=True):
    """A call that was answered: the other laptop's device key, and what moved."""

    peer: bytes
    moved: Moved


@dataclass(frozen=True, slots=True)
class Line:
    """What both ends need: the ledger, the TLS contexts, this device's clock (ms, a claim)."""

    ledger: Ledger
    contexts: Contexts
    clock_ms: Callable[[], int]


class Tell(Protocol):
    """Is told of each visit; called from a thread of the listener."""

    def __call__(self, visit: Visit) -> None:
        """One visit."""


def call(address: Address, line: Line) -> Called:
    """Exchange with the laptop that listens at an address. Raises Refused."""
    try:
        plain = socket.create_connection((address.host, address.port), timeout=CONNECT_S)
    except OSError as fault:
        raise Refused(
            f"Nobody answers at {address}.",
            "Run 'herdsync watch --listen PORT' on the other laptop and see that both are on one "
            "network.",
        ) from fault
    with plain:
        plain.settimeout(HANDSHAKE_S)
        try:
            members = {*line.ledger.members().known, introducer(line.ledger)} - {b""}
            wrapped = line.contexts.calling(members).wrap_socket(plain)
        except OSError as fault:
            raise _unmet(address, fault) from fault
        with wrapped:
            return _called(wrapped, address, line)


def _called(wrapped: ssl.SSLSocket, address: Address, line: Line) -> Called:
    try:
        peer = device_key_in(wrapped.getpeercert(binary_form=True))
    except BadBytes as fault:
        raise Refused(f"Who answers at {address} is no laptop of this farm. {fault}") from fault
    if peer not in line.ledger.members().by_key and peer != introducer(line.ledger):
        raise Refused(f"The laptop that answers at {address} was put out of the farm.")
    session = Session(line.ledger, peer, calling=True, clock_ms=line.clock_ms())
    try:
        talk(wrapped, session)
    except OSError as fault:
        raise _unmet(address, fault) from fault
    except BrokeOff as fault:
        raise _broken_off(address, session) from fault
    except BadBytes as fault:
        raise Refused(f"The exchange with {address} ended: {fault}") from fault
    return Called(peer, moved_by(session))


def _unmet(address: Address, fault: OSError) -> Refused:
    return Refused(
        f"The exchange with {address} did not come about: {meaning(fault)}.",
        "If one of the two was let in only lately, or the recovery words were used on both, exchange once "
        "through a folder or stick first.",
    )


def _broken_off(address: Address, session: Session) -> Refused:
    if not session.begun:
        return Refused(
            f"The laptop at {address} closed the line without a word.",
            "It may not know this laptop as one of the farm yet: exchange through a folder first.",
        )
    return Refused(
        f"The line to {address} broke off in the middle; what had come is kept.",
        "Exchange again: it goes on where it was.",
    )


def moved_by(session: Session) -> Moved:
    """What a session moved."""
    return Moved(
        session.sent, session.received, session.unvouched, session.refused, session.noticed
    )


class BrokeOff(Exception):
    """The other end closed before the session was over."""


def talk(wrapped: ssl.SSLSocket, session: Session) -> None:
    """Carry a session over a connection. Raises OSError, BrokeOff and the session's own faults."""
    deadline = time.monotonic() + GREETING_S
    try:
        while True:
            while message := session.send():
                _write(wrapped, message)
                deadline = time.monotonic() + MESSAGE_S
            if session.over:
                _farewell(wrapped)
                return
            heard = session.heard
            wrapped.settimeout(left_until(deadline))
            data = wrapped.recv(_READ_BYTES)
            if not data:
                raise BrokeOff
            session.receive(data)
            if session.heard != heard:
                deadline = time.monotonic() + MESSAGE_S
    except Fault:
        with contextlib.suppress(OSError, Fault):
            while message := session.send():
                _write(wrapped, message)
            _farewell(wrapped)
        raise


def _write(wrapped: ssl.SSLSocket, message: bytes) -> None:
    deadline = time.monotonic() + MESSAGE_S
    for at in range(0, len(message), _WRITE_BYTES):
        wrapped.settimeout(left_until(deadline))
        wrapped.sendall(message[at : at + _WRITE_BYTES])


def left_until(deadline: float) -> float:
    """The seconds until a reading of the monotonic clock. Raises TimeoutError where there are none."""
    left = deadline - time.monotonic()
    if left <= 0:
        raise TimeoutError
    return left


def _farewell(wrapped: ssl.SSLSocket) -> None:
    """Let the other end read our last words: closing at once could throw them away."""
    with contextlib.suppress(OSError):
        wrapped.settimeout(FAREWELL_S)
        wrapped.shutdown(socket.SHUT_WR)
        for _ in range(_FAREWELL_READS):
            if not wrapped.recv(_READ_BYTES):
                return
