"""Pairing over a network: the new laptop knocks where one of the farm listens, shows its request, asks again.

    new laptop                                  listening laptop
    KNOCK, then TLS 1.3 (no laptop is proven)   checks nothing yet
    ask: a promise of its number and request -> <- a number
    its number and its request ->               <- taken, or why not
    fetch: its request's id ->                  <- its welcome, not yet, or why not

Request and welcome are those of `pairing`: what proves them is the code that is read out, not this line.
TLS only keeps names from who listens in. Both numbers and the request make the six check digits that both
screens show: as each number is promised before the other is known, whoever stands between the two, even
with the code, has one chance in a million a visit to show both screens the same, and visits are counted.
Must not know how the log is stored, nor who may let others in.
"""

from __future__ import annotations

import hashlib
import hmac
import socket
import ssl
import time
from collections.abc import Callable
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

from herdsync.exchange.pairing import (
    REQUEST_BYTES,
    WELCOME_BYTES,
    Pending,
    Welcome,
    read_request,
    read_welcome,
    write_request,
)
from herdsync.exchange.tls import anyone, meaning
from herdsync.faults import BadBytes, Refused
from herdsync.safe_text import clipped, safe_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from herdsync.exchange.addresses import Address

# No TLS connection begins so; the last byte is the version.
KNOCK = b"HERDSYNC-KNOCK\1"
TAG_PROMISE = b"herdsync/1/knock-promise\0"
TAG_CHECK = b"herdsync/1/knock-check\0"
NUMBER_BYTES = 32
ID_BYTES = 32
SENTENCE_BYTES = 1_000
CONNECT_S = 10.0
# For a whole visit, so that nobody can hold the door.
VISIT_S = 15.0
_LENGTH_BYTES = 4

ASK, NUMBER, REQUEST, TAKEN, FETCH, WELCOME, NOT_YET, REFUSAL = range(8)


class Door(Protocol):
    """What a listening laptop does with who knocks. Both raise Refused or BadBytes."""

    def knocked(self, raw: bytes, check: str) -> None:
        """Somebody asks to join with this request; the digits that its screen shows."""

    def welcome_for(self, request: bytes) -> bytes | None:
        """The welcome for a request (its 32-byte id), or None where nobody has let it in yet."""


class Channel:
    """A connection as whole messages, each a kind and bounded bytes, until the visit's time is over."""

    def __init__(self, wrapped: ssl.SSLSocket) -> None:
        self._wrapped = wrapped
        self._deadline = time.monotonic() + VISIT_S

    def say(self, kind: int, body: bytes = b"") -> None:
        """Put one message on the line. Raises OSError."""
        self._wait()
        self._wrapped.sendall((len(body) + 1).to_bytes(_LENGTH_BYTES, "big") + bytes([kind]) + body)

    def hear(self, most: int) -> tuple[int, bytes]:
        """The next message, its body at most so long. Raises OSError and BadBytes."""
        length = int.from_bytes(self._exactly(_LENGTH_BYTES), "big")
        if not 1 <= length <= most + 1:
            raise BadBytes("It says something that does not belong to joining a farm.")
        told = self._exactly(length)
        return told[0], told[1:]

    def hear_only(self, kind: int, most: int) -> bytes:
        """The next message where it is of this kind. Raises OSError, BadBytes, Refused for a refusal."""
        heard, body = self.hear(max(most, SENTENCE_BYTES))
        if heard == REFUSAL:
            raise Refused(f"The laptop there refused: {sentence_in(body)}")
        if heard != kind or len(body) > most:
            raise BadBytes("It says something that does not belong to joining a farm.")
        return body

    def _exactly(self, count: int) -> bytes:
        told = b""
        while len(told) < count:
            self._wait()
            data = self._wrapped.recv(count - len(told))
            if not data:
                raise ConnectionResetError
            told += data
        return told

    def _wait(self) -> None:
        left = self._deadline - time.monotonic()
        if left <= 0:
            raise TimeoutError
        self._wrapped.settimeout(left)


def sentence_in(body: bytes) -> str:
    """A refusal's sentence, fit to be shown."""
    return clipped(safe_text(body.decode("utf-8", "replace")), 500) or "it gives no reason."


def promise_of(number: bytes, raw: bytes) -> bytes:
    """What binds a laptop to its number and request before it shows them."""
    return hashlib.sha256(TAG_PROMISE + number + raw).digest()


def check_of(ours: bytes, theirs: bytes, raw: bytes) -> str:
    """Six digits in two groups from the new laptop's number, the listening one's, and the request."""
    told = hashlib.sha256(TAG_CHECK + ours + theirs + raw).digest()
    digits = f"{int.from_bytes(told[:8], 'big') % 1_000_000:06d}"
    return f"{digits[:3]} {digits[3:]}"


# The listening end.


def answer(channel: Channel, door: Door, entropy: Callable[[int], bytes]) -> None:
    """Answer one visit. Raises OSError, BadBytes and Refused; the visitor is told the last two."""
    try:
        kind, body = channel.hear(ID_BYTES)
        if kind == ASK and len(body) == hashlib.sha256().digest_size:
            _asked(channel, body, door, entropy)
        elif kind == FETCH and len(body) == ID_BYTES:
            welcome = door.welcome_for(body)
            channel.say(*((NOT_YET,) if welcome is None else (WELCOME, welcome)))
        else:
            raise BadBytes("It does not knock as a laptop with herdsync does.")
    except (BadBytes, Refused) as fault:
        channel.say(REFUSAL, str(fault).encode()[:SENTENCE_BYTES])
        raise


def _asked(channel: Channel, promise: bytes, door: Door, entropy: Callable[[int], bytes]) -> None:
    own = entropy(NUMBER_BYTES)
    channel.say(NUMBER, own)
    kind, body = channel.hear(NUMBER_BYTES + REQUEST_BYTES)
    number, raw = body[:NUMBER_BYTES], body[NUMBER_BYTES:]
    if kind != REQUEST or not hmac.compare_digest(promise_of(number, raw), promise):
        raise BadBytes("It shows another request than it promised.")
    read_request(raw)
    door.knocked(raw, check_of(number, own, raw))
    channel.say(TAKEN)


# The knocking end.


def ask(address: Address, pending: Pending, entropy: Callable[[int], bytes]) -> str:
    """Leave a laptop's request with the one that listens; answers the six check digits. Raises Refused."""
    raw, number = write_request(pending), entropy(NUMBER_BYTES)
    with _visiting(address) as channel:
        channel.say(ASK, promise_of(number, raw))
        theirs = channel.hear_only(NUMBER, NUMBER_BYTES)
        if len(theirs) != NUMBER_BYTES:
            raise BadBytes("It says something that does not belong to joining a farm.")
        channel.say(REQUEST, number + raw)
        channel.hear_only(TAKEN, 0)
    return check_of(number, theirs, raw)


def fetch(address: Address, pending: Pending) -> Welcome | None:
    """The welcome for a laptop that asked, or None where nobody has let it in yet. Raises Refused."""
    request = read_request(write_request(pending))
    with _visiting(address) as channel:
        channel.say(FETCH, request.id)
        kind, body = channel.hear(WELCOME_BYTES)
        if kind == NOT_YET:
            return None
        if kind == REFUSAL:
            raise Refused(f"The laptop there refused: {sentence_in(body)}")
        return read_welcome(body, pending)


@contextmanager
def _visiting(address: Address) -> Iterator[Channel]:
    """A channel to the laptop that listens at an address; every fault becomes Refused."""
    try:
        plain = socket.create_connection((address.host, address.port), timeout=CONNECT_S)
    except OSError as fault:
        raise Refused(
            f"Nobody answers at {address}.",
            "Run 'herdsync watch --listen PORT' on the steward's laptop and see that both are on one "
            "network.",
        ) from fault
    try:
        with plain:
            plain.settimeout(VISIT_S)
            plain.sendall(KNOCK)
            with anyone().wrap_socket(plain) as wrapped:
                yield Channel(wrapped)
    except OSError as fault:
        raise Refused(
            f"Who answers at {address} does not let laptops in: {meaning(fault)}.",
            "See that it is the steward's laptop and of this version, or ask through a folder or stick.",
        ) from fault
    except BadBytes as fault:
        raise Refused(f"Asking at {address} came to nothing: {fault}") from fault
