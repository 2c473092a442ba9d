"""Two laptops on one network, over real sockets on loopback: who may meet, what nobody can bring about."""

from __future__ import annotations

import socket
import ssl
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec

from herdsync.exchange import lan, wire
from herdsync.exchange.addresses import Address
from herdsync.exchange.certificates import certificate_of
from herdsync.exchange.lan import Visit, call
from herdsync.exchange.listening import Listener
from herdsync.faults import Refused
from herdsync.log.entry import Entry, pack
from tests.exchange.conftest import Maker
from tests.exchange.laptops import (
    MemoryLaptop,
    StoreLaptop,
    founding_of,
    note,
)
from tests.exchange.porch import (
    FOUNDING,
    HERE,
    WAIT_S,
    Porch,
    certificate,
    ed25519,
    line_of,
    raw_context,
    show,
    without,
)
from tests.exchange.relay import Relay
from tests.exchange.test_session import farm, memory_farm

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
    assert at.wait(1)[0].who == "Ravi's laptop 'barn' from 127.0.0.1"


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
