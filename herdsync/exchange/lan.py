"""Exchange between two laptops on one network: one listens, the other calls, both pinned to the members.

The calling end believes nothing until the listening end has greeted it: TLS 1.3 calls a connection open
before the listening end has judged it. Whoever the other end is, what it can make this laptop do is
bounded: so many connections, so long for each message.
Must not know how the log is stored, nor what is said in a session.
"""

from __future__ import annotations

import contextlib
import socket
import ssl
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from msgspec import Struct

from herdsync.exchange.addresses import Address
from herdsync.exchange.bundles import Moved
from herdsync.exchange.certificates import device_key_in
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.session import Session
from herdsync.exchange.tls import Contexts, meaning
from herdsync.faults import BadBytes, DamagedFarm, Fault, Refused
from herdsync.safe_text import safe_text

CONNECTIONS = 16
CONNECTIONS_PER_HOST = 4
CONNECT_S = 10.0
HANDSHAKE_S = 10.0
GREETING_S = 15.0
# Also the time another laptop has for storing what it was sent before it answers.
MESSAGE_S = 60.0
FAREWELL_S = 1.0
_ACCEPT_S = 0.2
_READ_BYTES = 65_536
_WRITE_BYTES = 65_536
_FAREWELL_READS = 16


class Visit(Struct, frozen=True):
    """Another laptop called: who and from where, and what moved; or why it was refused."""

    who: str
    moved: Moved | None
    why: str = ""


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
            members = set(line.ledger.members().known)
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
    if peer not in line.ledger.members().by_key:
        raise Refused(f"The laptop that answers at {address} was put out of the farm.")
    session = Session(line.ledger, peer, calling=True, clock_ms=line.clock_ms())
    try:
        _talk(wrapped, session)
    except OSError as fault:
        raise _unmet(address, fault) from fault
    except _BrokeOff as fault:
        raise _broken_off(address, session) from fault
    except BadBytes as fault:
        raise Refused(f"The exchange with {address} ended: {fault}") from fault
    return Called(peer, _moved(session))


def _unmet(address: Address, fault: OSError) -> Refused:
    return Refused(
        f"The exchange with {address} did not come about: {meaning(fault)}.",
        "If one of the two was let in only lately, exchange once through a folder or stick first.",
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


def _moved(session: Session) -> Moved:
    return Moved(session.sent, session.received, session.unvouched, session.refused)


class _BrokeOff(Exception):
    """The other end closed before the session was over."""


def _talk(wrapped: ssl.SSLSocket, session: Session) -> None:
    """Carry a session over a connection. Raises OSError, _BrokeOff and the session's own faults."""
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
            wrapped.settimeout(_left(deadline))
            data = wrapped.recv(_READ_BYTES)
            if not data:
                raise _BrokeOff
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
        wrapped.settimeout(_left(deadline))
        wrapped.sendall(message[at : at + _WRITE_BYTES])


def _left(deadline: float) -> float:
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


class Listener:
    """Answers other laptops that call, each in a thread of its own, until stopped."""

    def __init__(self, host: str, port: int, line: Line, tell: Tell) -> None:
        self._line = line
        self._tell = tell
        self._stopping = threading.Event()
        self._lock = threading.Lock()
        self._hosts: Counter[str] = Counter()
        self._refusals: Counter[tuple[str, str]] = Counter()
        self._open: set[socket.socket] = set()
        self._threads: set[threading.Thread] = set()
        self._socket = _bound(host, port)
        self.port: int = self._socket.getsockname()[1]
        self._accepting = threading.Thread(target=self._accept, daemon=True)

    def start(self) -> None:
        """Begin to answer."""
        self._accepting.start()

    def stop(self) -> None:
        """Answer no more, break off what is under way, and wait until all is quiet."""
        self._stopping.set()
        self._accepting.join()
        self._socket.close()
        with self._lock:
            for one in self._open:
                # Not TLS's own shutdown: another thread may be reading.
                with contextlib.suppress(OSError):
                    socket.socket.shutdown(one, socket.SHUT_RDWR)
            threads = list(self._threads)
        for thread in threads:
            thread.join()

    def _accept(self) -> None:
        self._socket.settimeout(_ACCEPT_S)
        while not self._stopping.is_set():
            try:
                caller, where = self._socket.accept()
            except TimeoutError:
                continue
            except OSError:
                # No file handles left, or the caller is gone already: others may still come.
                self._stopping.wait(_ACCEPT_S)
                continue
            host = str(where[0])
            if not self._admit(host):
                caller.close()
                self._refuse(host, "too many connections are open already")
                continue
            thread = threading.Thread(target=self._answer, args=(caller, host), daemon=True)
            with self._lock:
                self._open.add(caller)
                self._threads.add(thread)
            thread.start()

    def _admit(self, host: str) -> bool:
        with self._lock:
            if self._hosts.total() >= CONNECTIONS or self._hosts[host] >= CONNECTIONS_PER_HOST:
                return False
            self._hosts[host] += 1
            return True

    def _answer(self, caller: socket.socket, host: str) -> None:
        try:
            self._meet(caller, host)
        finally:
            caller.close()
            with self._lock:
                self._hosts[host] -= 1
                self._open.discard(caller)
                self._threads.discard(threading.current_thread())

    def _meet(self, caller: socket.socket, host: str) -> None:
        caller.settimeout(HANDSHAKE_S)
        line = self._line
        try:
            # Who was put out is let pass here, to be refused by name.
            context = line.contexts.answering(set(line.ledger.members().known))
            with context.wrap_socket(
                caller, server_side=True, do_handshake_on_connect=False
            ) as wrapped:
                with self._lock:
                    self._open.add(wrapped)
                try:
                    wrapped.do_handshake()
                    self._meet_laptop(wrapped, host)
                finally:
                    with self._lock:
                        self._open.discard(wrapped)
        except OSError as fault:
            self._refuse(host, meaning(fault))
        except Fault as fault:
            self._refuse(host, str(fault))

    def _meet_laptop(self, wrapped: ssl.SSLSocket, host: str) -> None:
        peer = device_key_in(wrapped.getpeercert(binary_form=True))
        member = self._line.ledger.members().known.get(peer)
        if member is None:
            raise BadBytes("it showed no key of a laptop of this farm")
        who = safe_text(f"{member.keeper}'s laptop '{member.device}' from {host}")
        session = Session(self._line.ledger, peer, calling=False, clock_ms=self._line.clock_ms())
        try:
            _talk(wrapped, session)
        except OSError as fault:
            self._refuse(who, meaning(fault))
        except _BrokeOff:
            self._refuse(who, "it broke off in the middle; what had come is kept")
        except (BadBytes, Refused, DamagedFarm) as fault:
            self._refuse(who, str(fault))
        else:
            self._tell(Visit(who, _moved(session)))
            return
        if session.received:
            self._tell(Visit(who, _moved(session)))

    def _refuse(self, who: str, why: str) -> None:
        """Tell of a refusal; the same one again only at the 2nd, 4th, 8th... time."""
        if self._stopping.is_set():
            return
        with self._lock:
            if len(self._refusals) > 1_000:
                self._refusals.clear()
            self._refusals[who, why] += 1
            times = self._refusals[who, why]
        if times & (times - 1) == 0:
            again = f" ({times} times)" if times > 1 else ""
            self._tell(Visit(who, None, f"{why}{again}"))


def _bound(host: str, port: int) -> socket.socket:
    """A socket that listens. Raises Refused."""
    try:
        if host:
            family = socket.AF_INET6 if ":" in host else socket.AF_INET
            return socket.create_server((host, port), family=family, backlog=CONNECTIONS)
        if socket.has_dualstack_ipv6():
            return socket.create_server(
                ("", port), family=socket.AF_INET6, backlog=CONNECTIONS, dualstack_ipv6=True
            )
        return socket.create_server(("", port), backlog=CONNECTIONS)
    except OSError as fault:
        where = str(Address(host, port)) if host else f"port {port}"
        raise Refused(
            f"This laptop cannot listen on {where} ({(fault.strerror or 'refused').lower()}).",
            "Choose another port, above 1023.",
        ) from fault
