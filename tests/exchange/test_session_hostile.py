"""What the other end of a session may say: other versions, forged entries, things that do not follow."""

from __future__ import annotations

import hashlib

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.exchange import frontier, session, wire
from herdsync.exchange.load import RunHead
from herdsync.exchange.session import Session
from herdsync.faults import BadBytes, Fault, Refused
from herdsync.log.entry import Entry, pack
from tests.exchange.conftest import Maker
from tests.exchange.laptops import founding_of, key_of, note
from tests.exchange.test_session import farm, memory_farm
from tests.exchange.wires import Wire
from tests.exchange.wires import wire as joined

FOUNDING = founding_of("house")


def greeted(met: Wire) -> Session:
    """The answering end once it has been greeted by a laptop that has other entries."""
    end = met.answering
    end.send()
    greeting = wire.Greeting(FOUNDING.id, 0, 0, bytes(32))
    end.receive(wire.framed(wire.GREETING, greeting))
    return end


def test_another_version_is_refused_in_one_sentence_by_both() -> None:
    house, barn = memory_farm("house", "barn")
    house.write(note("one"))
    for version, older in ((0, "The other laptop's"), (2, "This laptop's"), (255, "This laptop's")):
        met = joined(barn, house)
        hello = bytearray(met.answering.send())
        hello[5 + len(wire.MAGIC)] = version
        with pytest.raises(Refused, match=f"in version {version}, this one in version 1") as told:
            met.calling.receive(bytes(hello))
        assert older in str(told.value)
        # The other laptop is told our version all the same.
        assert met.calling.send()[5:].startswith(wire.MAGIC + b"\1")
    assert barn.ids() != house.ids()


def test_an_entry_of_a_newer_format_is_named_and_the_rest_goes_on() -> None:
    house, barn = memory_farm("house", "barn")
    end = greeted(joined(barn, house))
    tip = frontier.Tip(barn.ledger.key.public, 0, hashlib.sha256(b"newer").digest())
    end.receive(wire.framed(wire.FRONTIER, [tip]))
    sound = barn.write(note("sound"))
    newer = bytearray(pack(sound))
    newer[1] = 2
    for packed in (bytes(newer), pack(sound)):
        head = RunHead(barn.ledger.key.public, 0, bytes(32), 1)
        piece = msgspec.msgpack.encode([0, packed])
        end.receive(wire.framed(wire.BATCH, wire.Batch([head], [piece])))
    assert [one.what for one in end.refused] == ["laptop barn"]
    assert "format 2; this program reads formats up to 1" in end.refused[0].why
    assert end.received == 1 and sound.id in house.ids()


@pytest.mark.parametrize(
    ("frames", "why"),
    [
        ([wire.framed(wire.WANTS, [frontier.Want(bytes(32), [], False)])], "does not follow"),
        ([wire.framed(wire.SERVED, [])], "does not follow"),
        ([wire.framed(wire.DONE, [])], "does not follow"),
        ([wire.framed(wire.GREETING, wire.Greeting(FOUNDING.id, 0, 0, bytes(32)))], "not follow"),
        ([(0).to_bytes(4, "big")], "longer than anything"),
        ([(wire.MESSAGE_BYTES + 1).to_bytes(4, "big")], "longer than anything"),
        ([b"GET / HTTP/1.1\r\n"], "longer than anything"),
        ([b"\0\0\0\2\x01\xc1"], "form it should"),
        ([b"\0\0\0\2\x63\x90"], "does not follow"),
        ([wire.framed(wire.FRONTIER, [frontier.Tip(bytes(32), 0, bytes(32))] * 2)], "doubled"),
    ],
)
def test_what_does_not_belong_ends_the_session(frames: list[bytes], why: str) -> None:
    house, barn = memory_farm("house", "barn")
    end = greeted(joined(barn, house))
    with pytest.raises(BadBytes, match=why):
        for frame in frames:
            end.receive(frame)
    assert end.over and end.send()[4] == wire.REFUSAL


def test_another_farms_laptop_is_refused() -> None:
    house, _ = memory_farm("house", "barn")
    end = Session(house.ledger, key_of("barn").public, calling=False, clock_ms=0)
    with pytest.raises(BadBytes, match="another farm"):
        end.receive(wire.framed(wire.GREETING, wire.Greeting(bytes(32), 0, 0, bytes(32))))


def test_who_never_stops_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session, "IDLE_BATCHES", 2)
    house, barn = memory_farm("house", "barn")
    end = greeted(joined(barn, house))
    end.receive(wire.framed(wire.FRONTIER, [frontier.Tip(barn.ledger.key.public, 9, bytes(32))]))
    entry = barn.write(note("again and again"))
    head = RunHead(entry.header.device, 0, bytes(32), 1)
    batch = wire.Batch([head], [msgspec.msgpack.encode([0, pack(entry)])])
    with pytest.raises(BadBytes, match="goes on sending"):
        for _ in range(10):
            end.receive(wire.framed(wire.BATCH, batch))
    ask = wire.framed(wire.WANTS, [frontier.Want(FOUNDING.id, [], False)])
    house.write(note("something new"))
    met = joined(barn, house)
    caller = met.calling
    caller.receive(met.answering.send())
    caller.receive(wire.framed(wire.FRONTIER, []))
    with pytest.raises(BadBytes, match="asks again and again"):
        for _ in range(10):
            caller.receive(ask)


def test_a_forged_signature_is_refused_by_name(laptop: Maker) -> None:
    house, barn = farm(laptop, "house", "barn")
    end = greeted(joined(barn, house))
    entry = barn.write(note("sound"))
    bad = Entry(entry.id, entry.header, entry.body, entry.header_bytes, entry.body_bytes, bytes(64))
    end.receive(wire.framed(wire.FRONTIER, [frontier.Tip(entry.header.device, 0, entry.id)]))
    head = RunHead(entry.header.device, 0, bytes(32), 1)
    end.receive(
        wire.framed(wire.BATCH, wire.Batch([head], [msgspec.msgpack.encode([0, pack(bad)])]))
    )
    assert end.received == 0 and "signature" in end.refused[0].why
    assert entry.id not in house.ids()


def test_a_hostile_sentence_is_shown_harmless() -> None:
    house, barn = memory_farm("house", "barn")
    end = greeted(joined(barn, house))
    why = wire.framed(wire.REFUSAL, wire.Refusal("\x1b[2J\u202efarm"))
    with pytest.raises(Refused) as told:
        end.receive(why)
    assert "\x1b" not in str(told.value) and "\u202e" not in str(told.value)
    assert "laptop barn ended the exchange" in str(told.value)


@settings(max_examples=150, deadline=None)
@given(
    kind=st.integers(0, 9),
    body=st.binary(max_size=200)
    | st.recursive(
        st.none() | st.integers(-5, 2**40) | st.binary(max_size=40) | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=5),
        max_leaves=20,
    ).map(msgspec.msgpack.encode),
    size=st.integers(1, 50),
)
def test_any_message_is_taken_or_ends_in_a_sentence(kind: int, body: bytes, size: int) -> None:
    """In one piece or in many, the verdict is the same and nothing but a fault is raised."""
    verdicts = []
    for step in (1 << 20, size):
        house, barn = memory_farm("house", "barn")
        end = greeted(joined(barn, house))
        raw = (len(body) + 1).to_bytes(4, "big") + bytes([kind]) + body
        verdict = "taken"
        for at in range(0, len(raw), step):
            try:
                end.receive(raw[at : at + step])
            except Fault as fault:
                verdict = str(fault)
        verdicts.append(verdict)
    assert verdicts[0] == verdicts[1]
