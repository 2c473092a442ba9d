"""Whatever bytes come over the line to a door or from one: a refusal, never a request."""

from __future__ import annotations

from typing import Any, cast

from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.exchange import knock
from herdsync.exchange.knock import Channel
from herdsync.exchange.pairing import REQUEST_BYTES, pend, write_request
from herdsync.faults import BadBytes, Refused
from tests.exchange.laptops import entropy_of

RAW = write_request(pend("Ravi", "barn", 0, entropy_of("barn")))
NUMBER = bytes(32)


class Line:
    """A connection that says what it was given, in pieces, and keeps what it is told."""

    def __init__(self, says: bytes, piece: int = 7) -> None:
        self._says, self._piece = says, piece
        self.told = b""

    def recv(self, most: int) -> bytes:
        size = min(most, self._piece)
        data, self._says = self._says[:size], self._says[size:]
        return data

    def sendall(self, data: bytes) -> None:
        self.told += data

    def settimeout(self, seconds: float) -> None:
        assert seconds > 0


class Door:
    """Keeps who knocked."""

    def __init__(self) -> None:
        self.requests: list[bytes] = []

    def knocked(self, raw: bytes, check: str) -> None:
        self.requests.append(raw)

    def welcome_for(self, request: bytes) -> bytes | None:
        return None


def channel_of(line: Line) -> Channel:
    return Channel(cast(Any, line))


def message(kind: int, body: bytes) -> bytes:
    return (len(body) + 1).to_bytes(4, "big") + bytes([kind]) + body


def visited(says: bytes, piece: int = 7) -> tuple[list[bytes], bytes]:
    """Who knocked, and what the visitor was told."""
    line, door = Line(says, piece), Door()
    try:
        knock.answer(channel_of(line), door, entropy_of("house"))
    except (OSError, BadBytes, Refused) as fault:
        assert isinstance(fault, OSError) or str(fault).endswith(".")
    return door.requests, line.told


def test_a_true_visit_leaves_its_request_however_its_bytes_arrive() -> None:
    says = message(knock.ASK, knock.promise_of(NUMBER, RAW)) + message(knock.REQUEST, NUMBER + RAW)
    for piece in (1, 7, 10_000):
        requests, told = visited(says, piece)
        assert requests == [RAW] and told.endswith(message(knock.TAKEN, b""))
    for end in range(len(says)):
        assert visited(says[:end])[0] == []


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200), st.sampled_from(range(9)), st.integers(0, 100))
def test_any_bytes_to_a_door_leave_no_request(body: bytes, kind: int, extra: int) -> None:
    for says in (body, message(kind, body), message(kind, body[:32].ljust(32, b"\0")) + body):
        requests, told = visited(says + bytes(extra))
        assert requests == []
        assert len(told) <= 2 * (knock.SENTENCE_BYTES + 64)


@settings(max_examples=300, deadline=None)
@given(st.integers(0, len(RAW) - 1), st.integers(1, 255))
def test_an_altered_request_is_never_left_under_its_promise(at: int, turn: int) -> None:
    altered = bytearray(RAW)
    altered[at] ^= turn
    ask = message(knock.ASK, knock.promise_of(NUMBER, RAW))
    assert visited(ask + message(knock.REQUEST, NUMBER + bytes(altered)))[0] == []


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=100), st.integers(0, 2**32 - 1), st.booleans())
def test_any_bytes_from_a_door_are_a_fault(body: bytes, length: int, framed: bool) -> None:
    says = message(knock.REFUSAL, body) if framed else length.to_bytes(4, "big") + body
    line = Line(says)
    try:
        heard = channel_of(line).hear_only(knock.WELCOME, REQUEST_BYTES)
    except (OSError, BadBytes, Refused) as fault:
        told = str(fault)
        assert not any(ord(one) < 32 for one in told)
    else:
        assert says.startswith((len(heard) + 1).to_bytes(4, "big") + bytes([knock.WELCOME]))
