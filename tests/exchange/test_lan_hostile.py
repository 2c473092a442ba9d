"""Whoever calls a laptop that listens, what they can make it do is bounded, and they are named."""

from __future__ import annotations

import contextlib
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from herdsync.exchange import lan, listening, wire
from herdsync.exchange.certificates import certificate_of
from herdsync.exchange.frontier import Tip, Want, tips_of
from herdsync.exchange.lan import call
from herdsync.faults import Refused
from tests.exchange.laptops import (
    note,
)
from tests.exchange.porch import (
    HERE,
    WAIT_S,
    Porch,
    ed25519,
    greeting,
    line_of,
    member_line,
    raw_context,
    show,
    until_closed,
)
from tests.exchange.test_session import memory_farm


def test_silent_plain_and_random_callers_are_told_off(
    porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listening, "HANDSHAKE_S", 0.3)
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
    monkeypatch.setattr(listening, "CONNECTIONS_PER_HOST", 2)
    monkeypatch.setattr(listening, "HANDSHAKE_S", 1.0)
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
