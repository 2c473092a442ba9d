"""Answering other laptops on the network: those of the farm exchange, one that is not yet may ask to join.

Whoever calls, what it can make this laptop do is bounded: so many connections, so long for each message.
Must not know how the log is stored, nor what is said in a session.
"""

from __future__ import annotations

import contextlib
import socket
import ssl
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from herdsync.exchange.addresses import Address
from herdsync.exchange.certificates import device_key_in
from herdsync.exchange.knock import KNOCK, Channel, answer
from herdsync.exchange.lan import (
    HANDSHAKE_S,
    BrokeOff,
    Line,
    Tell,
    Visit,
    left_until,
    moved_by,
    talk,
)
from herdsync.exchange.session import Session
from herdsync.exchange.threshold import Threshold
from herdsync.exchange.tls import meaning
from herdsync.faults import BadBytes, DamagedFarm, Fault, Refused
from herdsync.safe_text import safe_text

CONNECTIONS = 16
CONNECTIONS_PER_HOST = 4
_ACCEPT_S = 0.2


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
        self._threshold = Threshold(line.ledger)
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
            # How a socket of the sixth version writes a caller of the fourth (RFC 4291, 2.5.5.2).
            host = str(where[0]).removeprefix("::ffff:")
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
            if _knocks(caller):
                self._answer_knock(caller, host)
                return
            # Who was put out is let pass here, to be refused by name.
            context = line.contexts.answering(set(line.ledger.members().known))
            with self._wrapped(context, caller) as wrapped:
                self._meet_laptop(wrapped, host)
        except OSError as fault:
            self._refuse(host, meaning(fault))
        except Fault as fault:
            self._refuse(host, str(fault))

    @contextmanager
    def _wrapped(self, context: ssl.SSLContext, caller: socket.socket) -> Iterator[ssl.SSLSocket]:
        """A caller's connection under TLS, which ``stop`` can break off."""
        with context.wrap_socket(
            caller, server_side=True, do_handshake_on_connect=False
        ) as wrapped:
            with self._lock:
                self._open.add(wrapped)
            try:
                wrapped.do_handshake()
                yield wrapped
            finally:
                with self._lock:
                    self._open.discard(wrapped)

    def _answer_knock(self, caller: socket.socket, host: str) -> None:
        contexts = self._line.contexts
        with self._wrapped(contexts.answering_anyone(), caller) as wrapped:
            answer(Channel(wrapped), _Door(self, host), contexts.entropy)

    def knocked(self, raw: bytes, check: str, host: str) -> None:
        """Keep a request to join that came from a host, and tell of it. Raises Refused and BadBytes."""
        ledger = self._line.ledger
        if ledger.members().steward != ledger.key.public:
            raise Refused("It is not the steward's.", "Ask at the steward's laptop.")
        asking = self._threshold.knocked(raw, check, host).asking
        who = safe_text(f"{asking.keeper}'s laptop '{asking.device}' from {host}")
        self._tell(Visit(who, None, check=check))

    def welcome_for(self, request: bytes) -> bytes | None:
        """The welcome that waits for a request. Raises Refused where it is not known."""
        return self._threshold.welcome_for(request)

    def _meet_laptop(self, wrapped: ssl.SSLSocket, host: str) -> None:
        peer = device_key_in(wrapped.getpeercert(binary_form=True))
        member = self._line.ledger.members().known.get(peer)
        if member is None:
            raise BadBytes("it showed no key of a laptop of this farm")
        who = safe_text(f"{member.keeper}'s laptop '{member.device}' from {host}")
        session = Session(self._line.ledger, peer, calling=False, clock_ms=self._line.clock_ms())
        try:
            talk(wrapped, session)
        except OSError as fault:
            self._refuse(who, meaning(fault))
        except BrokeOff:
            self._refuse(who, "it broke off in the middle; what had come is kept")
        except (BadBytes, Refused, DamagedFarm) as fault:
            self._refuse(who, str(fault))
        else:
            self._tell(Visit(who, moved_by(session)))
            return
        if session.received:
            self._tell(Visit(who, moved_by(session)))

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


@dataclass(frozen=True, slots=True)
class _Door:
    """A listener's door for one visitor from a host."""

    listener: Listener
    host: str

    def knocked(self, raw: bytes, check: str) -> None:
        self.listener.knocked(raw, check, self.host)

    def welcome_for(self, request: bytes) -> bytes | None:
        return self.listener.welcome_for(request)


def _knocks(caller: socket.socket) -> bool:
    """Whether a caller begins as one that asks to join; that is then read. Raises OSError and BadBytes."""
    deadline = time.monotonic() + HANDSHAKE_S
    caller.settimeout(HANDSHAKE_S)
    if caller.recv(1, socket.MSG_PEEK) != KNOCK[:1]:
        return False
    told = b""
    while len(told) < len(KNOCK):
        caller.settimeout(left_until(deadline))
        data = caller.recv(len(KNOCK) - len(told))
        if not data:
            raise ConnectionResetError
        told += data
    if told != KNOCK:
        raise BadBytes("it does not speak as a laptop of this version does")
    return True


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
