"""Whoever knocks, and whoever answers in a farm's stead: bounded, refused in a sentence, seen."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from herdsync.exchange import knock, listening, threshold
from herdsync.exchange.addresses import Address
from herdsync.exchange.knock import KNOCK, REQUEST, promise_of
from herdsync.exchange.pairing import Pending, pend, write_request, write_welcome
from herdsync.exchange.tls import Contexts
from herdsync.faults import BadBytes, Fault, Refused
from tests.exchange.laptops import MemoryLaptop, admission_of, entropy_of, founding_of, key_of
from tests.exchange.porch import FOUNDING, HERE, Porch, visiting, without
from tests.exchange.relay import Relay

BARN = pend("Ravi", "barn", 0, entropy_of("barn"))


@pytest.fixture(autouse=True)
def _one_host(monkeypatch: pytest.MonkeyPatch) -> None:
    """All visits come from one host here, and one may be over before it is counted out."""
    monkeypatch.setattr(listening, "CONNECTIONS_PER_HOST", listening.CONNECTIONS)


def steward(porch: Callable[..., Porch]) -> tuple[MemoryLaptop, Porch]:
    house = MemoryLaptop("house", FOUNDING)
    return house, porch(house)


def test_what_is_no_knock_is_refused_in_a_sentence(porch: Callable[..., Porch]) -> None:
    house, there = steward(porch)
    raw = write_request(BARN)
    visits: list[tuple[int, bytes, int, bytes]] = [
        (knock.ASK, b"short", 0, b""),
        (knock.FETCH, b"", 0, b""),
        (knock.TAKEN, bytes(32), 0, b""),
        (knock.ASK, bytes(32), REQUEST, bytes(32) + raw),
        (knock.ASK, promise_of(bytes(32), raw), REQUEST, bytes(31) + b"\x01" + raw),
        (knock.ASK, promise_of(bytes(32), raw[:-1]), REQUEST, bytes(32) + raw[:-1]),
        (knock.ASK, promise_of(bytes(32), b""), REQUEST, bytes(32)),
        (knock.ASK, promise_of(bytes(32), raw), knock.FETCH, bytes(32) + raw),
    ]
    for kind, body, then, more in visits:
        with visiting(there.listener.port) as channel:
            channel.say(kind, body)
            heard, told = channel.hear(1_000)
            if then:
                assert heard == knock.NUMBER
                channel.say(then, more)
                heard, told = channel.hear(1_000)
            assert heard == knock.REFUSAL and told.decode().endswith(".")
    assert all(one.why and not one.check for one in there.wait(2))
    assert house.memory.noted("knocked") is None


def test_visits_are_bounded_in_size_time_and_number(
    porch: Callable[..., Porch], monkeypatch: pytest.MonkeyPatch
) -> None:
    house, there = steward(porch)
    port = there.listener.port
    with visiting(port) as channel:
        channel._wrapped.sendall(b"\x7f\xff\xff\xff" + bytes(100))
        assert channel.hear(1_000)[0] == knock.REFUSAL
    with monkeypatch.context() as patch:
        patch.setattr(knock, "VISIT_S", 0.3)
        with visiting(port) as channel, pytest.raises((OSError, BadBytes)):
            channel._deadline += 20
            channel.hear(1_000)
    with socket.create_connection((HERE, port), timeout=10) as plain:
        plain.sendall(b"HEAD / HTTP/1.1\r\n\r\n")
        with contextlib.suppress(ConnectionResetError):
            assert plain.recv(1) == b""
    for number in range(threshold.KNOCKS):
        knock.ask(there.address, pend("Ravi", f"barn {number}", 0, entropy_of(f"{number}")), bytes)
    with pytest.raises(Refused, match="asked here already"):
        knock.ask(there.address, BARN, entropy_of("x"))
    waiting = threshold.Threshold(house.ledger).waiting()
    assert len(waiting) == threshold.WAITING_OF_A_HOST
    assert waiting[-1][0].asking.device == f"barn {threshold.KNOCKS - 1}"


def test_requests_of_many_hosts_leave_room_for_the_newest() -> None:
    house = MemoryLaptop("house", FOUNDING)
    door = threshold.Threshold(house.ledger)
    for number in range(12):
        raw = write_request(pend("Ravi", f"{number}", 0, entropy_of(f"{number}")))
        door.knocked(raw, "000 000", f"192.0.2.{number}")
    kept = [one.asking.device for one, _ in door.waiting()]
    assert kept == [str(number) for number in range(4, 12)]


def test_a_line_cut_anywhere_is_a_sentence_and_asking_again_goes_on(
    porch: Callable[..., Porch],
) -> None:
    house, there = steward(porch)
    code = pend("Ravi", "barn", 0, entropy_of("barn"))
    for most in (0, 10, 100, 600, 900, 1_400):
        with pytest.raises(Refused):
            knock.ask(Relay(there.address, most).address, code, entropy_of(f"{most}"))
    check = knock.ask(Relay(there.address).address, code, entropy_of("whole"))
    ((request, shown),) = threshold.Threshold(house.ledger).waiting()
    assert shown == check
    raw = write_welcome(request, code.secret, FOUNDING, bytes(32), key_of("house").public)
    threshold.Threshold(house.ledger).welcome(request, raw)
    for most in (0, 600, 1_000, 1_500):
        with pytest.raises(Refused):
            knock.fetch(Relay(there.address, most).address, code)
    welcome = knock.fetch(there.address, code)
    assert welcome is not None and welcome.farm == FOUNDING.id


def test_who_stands_between_with_the_code_shows_other_digits(porch: Callable[..., Porch]) -> None:
    """A laptop in the middle answers the new one itself, and asks the steward with keys of its own."""
    house, there = steward(porch)
    between = porch(MemoryLaptop("house", FOUNDING))
    seen = knock.ask(between.address, BARN, entropy_of("barn asks"))
    thief = Pending(bytes(32), bytes([1]) * 32, BARN.secret, "Ravi", "barn", 0)
    knock.ask(there.address, thief, entropy_of("thief asks"))
    ((_, shown),) = threshold.Threshold(house.ledger).waiting()
    assert shown != seen


@pytest.mark.parametrize("junk", [b"", b"\x00\x00\x00\x01\x07", b"\x00\x00\x00\x00", bytes(5_000)])
def test_who_answers_with_junk_ends_in_a_sentence(junk: bytes, tmp_path: Path) -> None:
    """A listener that speaks TLS and then anything at all."""
    context = Contexts(bytes(32), tmp_path, entropy_of("junk")).answering_anyone()
    with socket.create_server((HERE, 0)) as server:

        def serve() -> None:
            for _ in range(2):
                caller, _ = server.accept()
                with caller:
                    caller.recv(len(KNOCK))
                    with context.wrap_socket(caller, server_side=True) as wrapped:
                        wrapped.sendall(junk)
                        wrapped.recv(100)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        address = Address(HERE, server.getsockname()[1])
        asks: list[Callable[[], object]] = [
            lambda: knock.ask(address, BARN, entropy_of("x")),
            lambda: knock.fetch(address, BARN),
        ]
        for one in asks:
            with pytest.raises(Fault) as fault:
                one()
            assert isinstance(fault.value, Refused) and str(fault.value).endswith(".")
        thread.join(10)


def test_a_welcome_of_another_farm_is_not_taken_over_the_network(
    porch: Callable[..., Porch],
) -> None:
    house, there = steward(porch)
    knock.ask(there.address, BARN, entropy_of("asks"))
    door = threshold.Threshold(house.ledger)
    ((request, _),) = door.waiting()
    other = founding_of("elsewhere", "Another Farm")
    door.welcome(request, write_welcome(request, bytes(10), other, bytes(32), bytes(32)))
    with pytest.raises(Refused, match="does not have this laptop's code"):
        knock.fetch(there.address, BARN)


def test_a_laptop_put_out_cannot_knock_itself_back_in(porch: Callable[..., Porch]) -> None:
    house, there = steward(porch)
    house.write(admission_of("barn"))
    members = without(house.ledger.members(), BARN.key().public)
    house.memory.members = lambda: members  # type: ignore[method-assign]
    with pytest.raises(Refused, match="put out"):
        knock.ask(there.address, BARN, entropy_of("asks"))


def test_nobody_there_is_a_sentence() -> None:
    with socket.create_server((HERE, 0)) as server:
        address = Address(HERE, server.getsockname()[1])
    with pytest.raises(Refused, match="Nobody answers"):
        knock.ask(address, BARN, entropy_of("x"))
