"""Every stored and exchanged form of version 1 is read and written as it always was, byte for byte."""

from __future__ import annotations

import ssl
from pathlib import Path

import pytest

from herdsync import wall
from herdsync.exchange import bundle, knock, lid, lifeline, names, pairing, wire
from herdsync.exchange.certificates import device_key_in
from herdsync.faults import BadBytes, Refused
from herdsync.log.entry import keyed_record_id, read
from herdsync.log.recovery import entropy_of, recovery_key
from herdsync.log.signing import SigningKey
from herdsync.papers import openlines
from herdsync.papers.proving import _blocks, checked
from herdsync.store import keyring
from tests.exchange.laptops import key_of, seeds_of
from tests.golden import forms

KEPT = {
    name: bytes.fromhex(told)
    for name, told in (
        line.split() for line in (Path(__file__).parent / "forms_1.txt").read_text().splitlines()
    )
}
# Around what a machine reads there is text for people, which may be put better.
FOR_PEOPLE = {"proof", "paper-proof"}


@pytest.fixture(scope="module")
def written() -> dict[str, bytes]:
    return forms.forms()


def test_every_form_is_kept(written: dict[str, bytes]) -> None:
    assert written.keys() == KEPT.keys()


@pytest.mark.parametrize("name", sorted(KEPT.keys() - FOR_PEOPLE))
def test_a_form_is_written_as_it_always_was(name: str, written: dict[str, bytes]) -> None:
    assert written[name] == KEPT[name]


@pytest.mark.parametrize("name", sorted(FOR_PEOPLE))
def test_what_a_machine_reads_of_a_proof_is_written_as_it_always_was(
    name: str, written: dict[str, bytes]
) -> None:
    assert _blocks(written[name].decode()) == _blocks(KEPT[name].decode())


@pytest.mark.parametrize("reader", [forms.HOUSE, forms.BARN, forms.RECOVERY])
def test_the_kept_bundle_is_read(reader: SigningKey) -> None:
    raw = KEPT["bundle"]
    told = bundle.read(raw, forms.FOUNDING.id, reader)
    assert told.entries == forms.in_bundle()
    assert (told.statement.counter, told.statement.program, told.unread) == (7, 1, [])
    assert raw[:16] == b"HERDSYNC-BUNDLE\x01"
    assert names.named_as_bundle(KEPT["bundle-name"].decode())


def test_the_kept_lifeline_is_read_with_the_words_alone() -> None:
    assert lifeline.read(KEPT["lifeline"], forms.RECOVERY) == forms.FOUNDING
    with pytest.raises(BadBytes):
        lifeline.read(KEPT["lifeline"], forms.HOUSE)


def test_the_kept_request_and_welcome_are_read() -> None:
    request = pairing.read_request(KEPT["request"])
    pending = pairing.Pending.decode(KEPT["pending"])
    assert pending == forms.PENDING
    assert request.id == KEPT["request-id"]
    secret = pairing.secret_of(KEPT["code"].decode())
    assert pairing.code_fits(request, secret)
    assert pairing.secret_of(KEPT["picture"].decode()) == secret
    welcome = pairing.read_welcome(KEPT["welcome"], pending)
    assert (welcome.farm, welcome.founding) == (forms.FOUNDING.id, forms.FOUNDING)
    assert (welcome.admission, welcome.admitter) == (forms.ENTRIES[1].id, forms.HOUSE.public)
    digits = knock.check_of(*forms.NUMBERS, KEPT["request"])
    assert digits == KEPT["knock-digits"].decode()


@pytest.mark.parametrize("end", ["calling", "answering"])
def test_the_kept_session_is_read(end: str) -> None:
    frames = wire.Frames()
    frames.add(KEPT[f"session-{end}"])
    kinds = []
    while (frame := frames.next()) is not None:
        kinds.append(frame[0])
        if frame[0] == wire.GREETING:
            assert wire.greeting_of(frame).program == 1
        if frame[0] == wire.BATCH:
            assert wire.batch_in(frame[1:]).pieces
    assert kinds[0] == wire.GREETING
    assert {wire.FRONTIER, wire.WANTS, wire.BATCH} <= set(kinds)


def test_the_kept_open_text_is_read() -> None:
    taken: list[bytes] = []
    reader = openlines.Reader(lambda entry: taken.append(entry.id))
    for line in KEPT["open-text"].splitlines(keepends=True):
        reader.line(line)
    assert (reader.whole, reader.faults) == (True, [])
    assert taken == [entry.id for entry in forms.ENTRIES]


def test_the_kept_proofs_hold() -> None:
    told = checked("proof.txt", KEPT["proof"].decode(), {})
    assert (told.holds, told.faults) == (True, [])
    papers = {1: forms.PAPER.content}
    assert checked("p.txt", KEPT["paper-proof"].decode(), papers).holds
    papers = {1: forms.PAPER.content + b" "}
    assert not checked("p.txt", KEPT["paper-proof"].decode(), papers).holds


def test_the_kept_certificate_is_of_the_device_key() -> None:
    assert device_key_in(KEPT["certificate"]) == forms.HOUSE.public
    assert ssl.DER_cert_to_PEM_cert(KEPT["certificate"]).startswith("-----BEGIN CERTIFICATE")


def test_the_kept_files_beside_a_key_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path))
    monkeypatch.setattr(wall, "machine", lambda: "a machine")
    for kind in ("key", "marker"):
        name, raw = KEPT[kind].split(forms.SPLIT, 1)
        (tmp_path / name.decode()).write_bytes(raw)
    farm, device = forms.FOUNDING.id, key_of("house").public
    assert keyring.secret_of(farm, device) == keyring.Secret(farm, *seeds_of("house"))
    marker = keyring.Marker(3, forms.ENTRIES[3].id, "a machine")
    assert keyring.marker_of(farm, device) == marker


def test_the_kept_words_give_the_same_keys() -> None:
    entropy = entropy_of(KEPT["recovery-words"].decode())
    key = recovery_key(entropy)
    assert key.public + key.seal_public == KEPT["recovery-keys"]
    assert keyed_record_id(forms.FOUNDING.id, "setting", "zone") == KEPT["keyed-record"]


def test_version_two_of_any_form_is_refused_in_one_sentence() -> None:
    request = bytearray(KEPT["request"])
    request[len(pairing.REQUEST_MAGIC)] = 2
    with pytest.raises(BadBytes, match=r"of version 2; this program knows version 1\."):
        pairing.read_request(bytes(request))
    raw = bytearray(KEPT["bundle"])
    raw[len(lid.MAGIC)] = 2
    with pytest.raises(BadBytes, match="bundle format 2; this program reads formats up to 1"):
        bundle.read(bytes(raw), forms.FOUNDING.id, forms.BARN)
    with pytest.raises(
        BadBytes, match=r"later format; this program reads formats up to 1\. Update"
    ):
        lifeline.read(b"HSL2" + KEPT["lifeline"][4:], forms.RECOVERY)
    greeting = bytearray(KEPT["session-calling"][4:])
    greeting[1 + len(wire.MAGIC)] = 2
    with pytest.raises(Refused, match="in version 2, this one in version 1"):
        wire.greeting_of(bytes(greeting))
    line = KEPT["open-text"].splitlines()[0].replace(b'"schema":1', b'"schema":2')
    with pytest.raises(BadBytes, match=r"schema 2; this program reads schema 1\. Update"):
        openlines.first_of(line)
    entry = forms.ENTRIES[2]
    later = entry.header_bytes[:1] + b"\x02" + entry.header_bytes[2:]
    with pytest.raises(BadBytes, match="format 2; this program reads formats up to 1"):
        read(later, entry.body_bytes, entry.signature)
