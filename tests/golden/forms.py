"""Every stored and exchanged form as version 1 writes it, from fixed keys, clock and randomness.

``forms_1.txt`` beside this file holds their bytes for good; those of single entries stand in
``tests/log/golden_1.txt``. Run as a module, this prints that file anew: for a later version, which gets a
file of its own.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from unittest.mock import patch

from cryptography.hazmat.primitives import serialization

from herdsync import wall
from herdsync.exchange import bundle, knock, lid, lifeline, names, pairing
from herdsync.exchange.certificates import certificate_of
from herdsync.exchange.frontier import Tip
from herdsync.exchange.load import Load
from herdsync.kinds.ids import text_id
from herdsync.log.entry import Entry, keyed_record_id
from herdsync.log.limits import FORMAT_VERSION
from herdsync.log.proof import proof_text
from herdsync.log.recovery import recovery_key, words_of
from herdsync.papers import openlines
from herdsync.papers.signed import Printed, proof_of
from herdsync.store import keyring
from tests.exchange import by_hand
from tests.exchange.laptops import (
    MemoryLaptop,
    admission_of,
    entropy_of,
    founding_of,
    key_of,
    note,
    seeds_of,
)
from tests.exchange.wires import wire
from tests.log import golden

ENTRIES = golden.entries()
FOUNDING = ENTRIES[0]
HOUSE, BARN, RECOVERY = golden.HOUSE, golden.BARN, golden.RECOVERY
PENDING = pairing.pend("Ravi", "barn", golden.CLOCK, entropy_of("golden pending"))
NUMBERS = bytes(range(32)), bytes(range(32, 64))
ENTROPY = bytes(range(32))
PAPER = Printed("agate-sale.txt", b"Agate, doe, born 2022-03-01.\n")
SPLIT = b"\n----\n"


@contextmanager
def fixed_sealing() -> Iterator[None]:
    """HPKE with an ephemeral key that follows from the reader's: its bytes repeat, as nothing real may."""

    def seal(secret: bytes, public: bytes, info: bytes) -> bytes:
        return by_hand.hpke_seal(secret, public, info, hashlib.sha256(b"e" + public).digest())

    with ExitStack() as patched:
        for owner in (lid, lifeline, pairing):
            patched.enter_context(patch.object(owner, "seal", seal))
        yield


def forms() -> dict[str, bytes]:
    """Each form by its name."""
    with fixed_sealing():
        return {
            "bundle": _bundle(),
            "bundle-name": names.bundle_name(FOUNDING.id, HOUSE.public, 7).encode(),
            "lifeline": lifeline.write(FOUNDING),
            "lifeline-name": lifeline.name_of(FOUNDING.id).encode(),
            **_joining(),
            **_session(),
            "certificate": certificate_of(HOUSE._sign).public_bytes(serialization.Encoding.DER),
            "open-text": b"".join(openlines.lines_of(first(), ENTRIES, [])),
            "proof": proof().encode(),
            "paper-proof": paper_proof().encode(),
            **_beside_the_key(),
            "recovery-words": words_of(ENTROPY).encode(),
            "recovery-keys": recovery_key(ENTROPY).public + recovery_key(ENTROPY).seal_public,
            "keyed-record": keyed_record_id(FOUNDING.id, "setting", "zone"),
        }


def first() -> openlines.First:
    """What the open text says it is."""
    farm = text_id(FOUNDING.id)
    return openlines.First(openlines.WHAT, openlines.SCHEMA, farm, "Quillmoor Dairy", len(ENTRIES))


def proof() -> str:
    """The proof of a dose: the entry and what let its laptop in."""
    return proof_text("a dose", [("the dose", ENTRIES[2]), ("the founding", FOUNDING)])


def paper_proof() -> str:
    """The proof that goes with a paper."""
    entries = proof_text("whose key that is", [("the founding", FOUNDING)])
    own = "agate-sale-proof.txt"
    return proof_of(own, [PAPER], HOUSE.public, HOUSE.sign, "Oda's laptop 'house'", entries)


def in_bundle() -> list[Entry]:
    """The entries of the golden bundle: two runs of two laptops."""
    barn = next(one for one in ENTRIES if one.header.device == BARN.public)
    return [*ENTRIES[:9], barn]


def _bundle() -> bytes:
    load = Load()
    for entry in in_bundle():
        assert load.add(entry, 100_000)
    tips = sorted(Tip(e.header.device, e.header.sequence, e.id) for e in in_bundle()[-2:])
    said = bundle.Statement(FOUNDING.id, HOUSE.public, 7, FORMAT_VERSION, tips, golden.CLOCK)
    readers = [HOUSE.seal_public, BARN.seal_public, RECOVERY.seal_public]
    return bundle.write(load, said, readers, HOUSE, entropy_of("golden bundle"))


def _joining() -> dict[str, bytes]:
    raw = pairing.write_request(PENDING)
    request = pairing.read_request(raw)
    welcome = pairing.write_welcome(request, PENDING.secret, FOUNDING, ENTRIES[1].id, HOUSE.public)
    return {
        "pending": PENDING.encode(),
        "request": raw,
        "request-id": request.id,
        "code": pairing.code_of(PENDING.secret).encode(),
        "picture": pairing.picture_text(PENDING, "stick").encode(),
        "joiner-tag": pairing.joiner_tag(PENDING.key().public),
        "welcome": welcome,
        "knock": knock.KNOCK,
        "knock-promise": knock.promise_of(NUMBERS[0], raw),
        "knock-digits": knock.check_of(*NUMBERS, raw).encode(),
    }


def _session() -> dict[str, bytes]:
    """All that two laptops say to each other, each having written something the other lacks."""
    founding = founding_of("house")
    house, barn = MemoryLaptop("house", founding), MemoryLaptop("barn", founding)
    admission = house.write(admission_of("barn"))
    barn.memory.take([admission], "the stick")
    for number in range(3):
        house.write(note(f"house {number}"))
        barn.write(note(f"barn {number}"))
    met = wire(house, barn).run()
    assert met.faults == [] and house.ids() == barn.ids()
    return {f"session-{end}": bytes(said) for end, said in met.said.items()}


def _beside_the_key() -> dict[str, bytes]:
    """The files beside a device's key, each with its name: the seeds, and the marker written twice."""
    device = key_of("house").public
    secret = keyring.Secret(FOUNDING.id, *seeds_of("house"))
    marker = keyring.Marker(3, ENTRIES[3].id, "a machine")
    with (
        tempfile.TemporaryDirectory() as folder,
        patch.object(keyring, "keys_folder", lambda: Path(folder)),
        patch.object(wall, "machine", lambda: "a machine"),
    ):
        keyring.keep_secret(device, secret)
        keyring.keep_marker(FOUNDING.id, device, marker)
        found = sorted(Path(folder).iterdir())
        return {
            path.suffix[1:]: SPLIT.join([path.name.encode(), path.read_bytes()]) for path in found
        }


def lines() -> list[str]:
    """A line a form: its name and its bytes in hex."""
    return [f"{name} {raw.hex()}" for name, raw in forms().items()]


if __name__ == "__main__":
    print("\n".join(lines()))
