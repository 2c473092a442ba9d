"""One sound sample of every form that is stored or exchanged, and the reader that decides about it.

A reader answers what it took the bytes for; for anything that is not the sound form it must raise
BadBytes or Refused, and nothing else, ever.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from herdsync.acts import rations
from herdsync.exchange import bundle, lifeline, pairing, wire
from herdsync.exchange.frontier import Tip, Want
from herdsync.exchange.load import Load
from herdsync.faults import BadBytes
from herdsync.kinds.ids import text_id
from herdsync.log import canonical
from herdsync.log.chain import Chains
from herdsync.log.entry import Entry, Place, pack, read, unpack
from herdsync.log.limits import FORMAT_VERSION
from herdsync.log.proof import proof_text
from herdsync.log.signing import entry_verifies
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.papers import openlines
from herdsync.papers.proving import checked
from herdsync.papers.rows import rows_of
from herdsync.papers.signed import Printed, proof_of
from herdsync.papers.standard_in import members_of
from herdsync.projections.plan import read_plan
from herdsync.projections.settings import DEFAULT_PLAN
from tests.exchange.laptops import entropy_of, founding_of, key_of, note

Reader = Callable[[bytes], object]

FOUNDING = founding_of("house")
KEY = key_of("house")
PENDING = pairing.pend("Jun", "shed", 0, entropy_of("pending"))
REQUEST = pairing.read_request(pairing.write_request(PENDING))


@dataclass(frozen=True)
class Form:
    """``proven``: no other bytes than the sound ones may be taken at all."""

    name: str
    sound: bytes
    reads: Reader
    proven: bool


def entry_after(founding: Entry, act: Act) -> Entry:
    """The second entry of the founder's log."""
    chains = Chains(lambda _: None)
    pen = Pen(founding.id, KEY, "", 1_767_250_800_000)
    return next_entry(chains, None, pen, act, bytes(16), None)


ENTRY = entry_after(FOUNDING, note("stands off her feed"))
PLACE = Place(FOUNDING.id, KEY.public, 0, bytes(32))


def _signed(entry: Entry) -> Entry:
    if not entry_verifies(entry):
        raise BadBytes("Its signature does not hold.")
    return entry


def _unsigned(raw: bytes) -> Entry:
    header, body = len(ENTRY.header_bytes), len(ENTRY.body_bytes)
    return read(raw[:header], raw[header : header + body], raw[header + body :])


def _walked(raw: bytes) -> object:
    """The quick verdict on canonical bytes must be that of the walk, byte by byte."""
    canonical.scan(raw)
    try:
        canonical._Scan(raw).run()
    except BadBytes as fault:
        raise AssertionError("the quick look passes what the walk refuses") from fault
    return canonical.decode(raw)


def _parts(raw: bytes) -> Entry:
    return _signed(_unsigned(raw))


def _bundle() -> bytes:
    load = Load()
    assert load.add(ENTRY, 100_000)
    tips = [Tip(KEY.public, 0, FOUNDING.id)]
    said = bundle.Statement(FOUNDING.id, KEY.public, 1, FORMAT_VERSION, tips, 0)
    return bundle.write(load, said, [KEY.seal_public], KEY, entropy_of("bundle"))


def _opened(raw: bytes) -> object:
    contents = bundle.read(raw, FOUNDING.id, KEY)
    if contents.unread:
        raise BadBytes("An entry of it was not read.")
    return [_signed(entry).id for entry in contents.entries]


def _fitting(raw: bytes) -> object:
    request = pairing.read_request(raw)
    if not pairing.code_fits(request, PENDING.secret):
        raise BadBytes("The code does not fit.")
    return request.id


def _line() -> bytes:
    return json.dumps(openlines._told(FOUNDING)).encode()


def _text() -> bytes:
    first = openlines.First(openlines.WHAT, openlines.SCHEMA, text_id(FOUNDING.id), "Quillmoor", 2)
    return b"".join(openlines.lines_of(first, [FOUNDING, ENTRY], []))


def _told_whole(raw: bytes) -> object:
    taken: list[bytes] = []
    reader = openlines.Reader(lambda entry: taken.append(_signed(entry).id))
    for line in raw.splitlines(keepends=True):
        reader.line(line)
    if reader.faults or not reader.whole:
        raise BadBytes("The file is not whole.")
    return taken


def _proof() -> bytes:
    entries = proof_text("whose key that is", [("the founding", FOUNDING)])
    papers = [Printed("sheet.txt", PAPER)]
    return proof_of("proof.txt", papers, KEY.public, KEY.sign, "Oda", entries).encode()


def _proved(raw: bytes) -> object:
    """A proof that holds; what it tells people around what is signed may be anything."""
    told = checked("proof.txt", raw.decode("utf-8", "replace"), {1: PAPER})
    if not told.holds or [one.paper for one in told.papers] != ["sheet.txt"]:
        raise BadBytes("The proof does not hold.")
    return told.key


def _spoken(raw: bytes) -> object:
    frames = wire.Frames()
    frames.add(raw)
    found = []
    while (frame := frames.next()) is not None:
        kind, body = frame[0], frame[1:]
        readers: dict[int, Reader] = {
            wire.FRONTIER: wire.frontier_in, wire.WANTS: wire.wants_in, wire.BATCH: wire.batch_in,
            wire.DONE: wire.frontier_in, wire.SERVED: wire.ids_in, wire.REFUSAL: wire.refusal_in,
        }  # fmt: skip
        found.append(readers[kind](body) if kind in readers else wire.greeting_of(frame))
    return found


def _words() -> bytes:
    tips = [Tip(KEY.public, 5, FOUNDING.id)]
    told = wire.framed(wire.GREETING, wire.Greeting(FOUNDING.id, 0, 0, bytes(32)))
    told += wire.framed(wire.FRONTIER, tips)
    told += wire.framed(wire.WANTS, [Want(FOUNDING.id, [ENTRY.id], False)])
    return told + wire.framed(wire.REFUSAL, wire.Refusal("Not today."))


def _ration(raw: bytes) -> object:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ration.toml"
        path.write_bytes(raw)
        return rations.toml(path)


PLAN = (resources.files("herdsync.projections") / "plans" / f"{DEFAULT_PLAN}.toml").read_bytes()
PAPER = b"Agate, doe.\n"
RATION = b"""[[feed]]
name = "meadow hay"
amount_g = 1500
calcium_percent = 0.6
phosphorus_percent = 0.2
basis = "as fed"
"""
SHEET = b'name,sex,born\nAgate,doe,2020-03-01\n"Op\nal",doe,01.03.2021\n'
STANDARD = json.dumps(
    {"member": [{"resourceType": "animalCore", "identifier": {"id": "7"}}]}
).encode()
PLACED = Place(FOUNDING.id, KEY.public, ENTRY.header.sequence, ENTRY.header.previous)

FORMS = (
    Form("entry", ENTRY.header_bytes + ENTRY.body_bytes + ENTRY.signature, _parts, True),
    Form("packed entry", pack(ENTRY), lambda raw: _signed(unpack(raw, PLACED)), True),
    Form("bundle", _bundle(), _opened, True),
    Form("request to join", pairing.write_request(PENDING), _fitting, True),
    Form(
        "welcome",
        pairing.write_welcome(REQUEST, PENDING.secret, FOUNDING, bytes(32), bytes(32)),
        lambda raw: pairing.read_welcome(raw, PENDING),
        True,
    ),
    Form(
        "lifeline",
        lifeline.write(FOUNDING),
        lambda raw: lifeline.read(raw, key_of("recovery")),
        True,
    ),
    Form("open text", _text(), _told_whole, False),
    Form("proof", _proof(), _proved, False),
    Form("words of a session", _words(), _spoken, False),
    Form("line of open text", _line(), openlines.entry_of, False),
    Form("care plan", PLAN, read_plan, False),
    Form("ration", RATION, _ration, False),
    Form("sheet", SHEET, lambda raw: sum(not row.why for row in rows_of([raw])), False),
    Form("standard json", STANDARD, members_of, False),
    Form("pending request", PENDING.encode(), pairing.Pending.decode, False),
)
# The same bytes read up to where a signature would be asked for.
UNSIGNED = (
    Form("entry unsigned", FORMS[0].sound, _unsigned, False),
    Form("packed entry unsigned", pack(ENTRY), lambda raw: unpack(raw, PLACED), False),
    Form("value", ENTRY.body_bytes, _walked, False),
)
