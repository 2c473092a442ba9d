"""What was written before version 1 was frozen is still read, and a farm of that time goes on."""

from __future__ import annotations

import hashlib
from pathlib import Path

import msgspec
import pytest

from herdsync.exchange import lifeline, pairing
from herdsync.faults import BadBytes
from herdsync.log.entry import Entry, read
from herdsync.log.proof import proof_text
from herdsync.papers.proving import checked
from herdsync.store.checking import check
from herdsync.store.keyring import Secret
from herdsync.store.store import Store
from tests.exchange import by_hand
from tests.golden import forms
from tests.golden.test_forms_kept import KEPT
from tests.log import golden
from tests.store.farms import everything, write


def before() -> list[Entry]:
    """The golden log of version 0."""
    text = (Path(golden.__file__).parent / "golden_0.txt").read_text()
    parts = [[bytes.fromhex(one) for one in line.split()[1:]] for line in text.splitlines()]
    return [read(header, body, signature) for _, header, body, signature, _ in parts]


def test_a_farm_of_version_nought_opens_and_goes_on_in_version_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    entries = before()
    # Up to where its log hands the farm over.
    own = [one for one in entries if one.header.device == golden.HOUSE.public][:9]
    seed = hashlib.sha256(b"golden house").digest()
    secret = Secret(own[0].id, seed, hashlib.sha256(seed).digest())
    store = Store.create(tmp_path / "farm", own[0], secret)
    assert store.take(own, "the stick").refused == []
    store.close()
    store = Store(tmp_path / "farm")
    entry = write(store, text="goes on")
    assert (entry.header.version, entry.header.previous) == (1, own[-1].id)
    assert {one.header.version for one in everything(store)} == {0, 1}
    with store.reading() as view:
        assert check(view).faults == []
    store.close()


def test_the_proof_of_an_entry_of_version_nought_holds() -> None:
    entries = before()
    text = proof_text("a dose", [("the dose", entries[2]), ("the founding", entries[0])])
    assert checked("proof.txt", text, {}).holds


def test_a_lifeline_of_version_nought_opens_and_a_request_is_refused_with_the_way() -> None:
    # Sealed under the tag alone, by primitives that share no code with the program.
    told = msgspec.msgpack.encode(
        [forms.HOUSE.public, msgspec.msgpack.decode(_inside(KEPT["lifeline"]))[1]]
    )
    sealed = by_hand.hpke_seal(
        told, forms.RECOVERY.seal_public, b"herdsync/1/lifeline\0", hashlib.sha256(b"0").digest()
    )
    assert lifeline.read(b"HSL0" + sealed, forms.RECOVERY) == forms.FOUNDING
    # A request lives for the days of a joining: one of version 0 is written anew.
    before = pairing.REQUEST_MAGIC + KEPT["request"][len(pairing.REQUEST_MAGIC) + 1 :]
    with pytest.raises(BadBytes, match=r"of version 0.*same version of herdsync on both"):
        pairing.read_request(before)


def _inside(raw: bytes) -> bytes:
    return by_hand.hpke_open(raw[4:], forms.RECOVERY.seal, b"herdsync/1/lifeline\x001")
