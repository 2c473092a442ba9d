"""Pairing: the code as it is read out, the request, the welcome, and who cannot slip in between."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.exchange import doorstep, pairing
from herdsync.exchange.folder import Folder
from herdsync.exchange.pairing import Pending, Request
from herdsync.faults import BadBytes, Fault, Refused
from herdsync.log import canonical
from herdsync.log.signing import verifies
from tests.exchange.laptops import entropy_of, founding_of, key_of

FOUNDING = founding_of("house")
ADMISSION = b"\x07" * 32
HOUSE = key_of("house").public
PENDING = pairing.pend("Ravi", "barn", 1_767_225_600_000, entropy_of("barn"))
CODE = pairing.code_of(PENDING.secret)
REQUEST_RAW = pairing.write_request(PENDING)
REQUEST = pairing.read_request(REQUEST_RAW)
WELCOME_RAW = pairing.write_welcome(REQUEST, PENDING.secret, FOUNDING, ADMISSION, HOUSE)


class Counted:
    """Wrong codes counted in memory."""

    def __init__(self) -> None:
        self.counts: Counter[bytes] = Counter()

    def wrong_codes(self, request: bytes) -> int:
        return self.counts[request]

    def count_wrong_code(self, request: bytes) -> None:
        self.counts[request] += 1


def other_code(number: int) -> str:
    return pairing.code_of(entropy_of(f"wrong {number}")(pairing.SECRET_BYTES))


# Douglas Crockford, "Base 32" (crockford.com/base32.html): symbol values and misread letters,
# from memory.
@pytest.mark.parametrize(
    ("secret", "code"),
    [
        (bytes(10), "0000-0000-0000-0000"),
        (b"\xff" * 10, "ZZZZ-ZZZZ-ZZZZ-ZZZZ"),
        (bytes(9) + b"\x12", "0000-0000-0000-000J"),
        ((31 << 75 | 10).to_bytes(10, "big"), "Z000-0000-0000-000A"),
    ],
)
def test_codes_have_sixteen_letters_in_fours(secret: bytes, code: str) -> None:
    assert pairing.code_of(secret) == code
    assert pairing.secret_of(code) == secret


@given(st.binary(min_size=10, max_size=10))
def test_every_code_means_its_secret(secret: bytes) -> None:
    assert pairing.secret_of(pairing.code_of(secret)) == secret


def test_a_code_is_taken_as_people_type_it() -> None:
    secret = pairing.secret_of("01AB-CDEF-GHJK-MN10")
    for typed in (
        "01abcdefghjkmn10",
        " 01ab cdef ghjk mn10 ",
        "oIab-cdef-ghjk-mnLO",
        "olAB--CDEF  GHJK\tMNiO",
    ):
        assert pairing.secret_of(typed) == secret


@pytest.mark.parametrize(
    "typed", ["", "01AB-CDEF-GHJK-MN1", "01AB-CDEF-GHJK-MN10X", "U" * 16, "É" * 16]
)
def test_what_cannot_be_a_code_is_told_and_not_counted(typed: str) -> None:
    tally = Counted()
    with pytest.raises(Refused, match="not counted"):
        doorstep.proven([REQUEST], typed, tally)
    assert not tally.counts


def test_a_request_says_who_asks_and_proves_its_keys() -> None:
    key = PENDING.key()
    assert (REQUEST.asking.key, REQUEST.asking.seal) == (key.public, key.seal_public)
    assert (REQUEST.asking.keeper, REQUEST.asking.device) == ("Ravi", "barn")
    assert pairing.code_fits(REQUEST, PENDING.secret)
    assert not pairing.code_fits(REQUEST, bytes(10))
    assert pairing.write_request(PENDING) == REQUEST_RAW
    assert PENDING.secret not in REQUEST_RAW


def test_an_admission_carries_the_request_and_its_proof() -> None:
    admitting = REQUEST.admitting("helper")
    assert (admitting.key, admitting.seal) == (REQUEST.asking.key, REQUEST.asking.seal)
    assert (admitting.keeper, admitting.device, admitting.role) == ("Ravi", "barn", "helper")
    assert verifies(admitting.key, admitting.proof, pairing.TAG_ASKING + admitting.request)


def test_an_altered_request_is_refused_or_its_code_no_longer_fits() -> None:
    for at in range(len(REQUEST_RAW)):
        altered = bytearray(REQUEST_RAW)
        altered[at] ^= 1 << at % 8
        try:
            request = pairing.read_request(bytes(altered))
        except BadBytes:
            continue
        assert not pairing.code_fits(request, PENDING.secret)


def test_a_carrier_cannot_put_its_own_keys_in() -> None:
    thief = pairing.pend("Ravi", "barn", PENDING.asked, entropy_of("thief"))
    swapped = pairing.read_request(pairing.write_request(thief))
    with pytest.raises(Refused, match="belongs to no request"):
        doorstep.proven([swapped], CODE, Counted())


def request_with(**told: object) -> bytes:
    key = PENDING.key()
    fields = {
        "version": pairing.VERSION,
        "key": key.public,
        "seal": key.seal_public,
        "keeper": "Ravi",
        "device": "barn",
        "asked": 0,
    } | told
    asking = canonical.encode(list(fields.values()))
    proof = key.sign(pairing.TAG_ASKING + asking)
    begin = pairing.REQUEST_MAGIC + bytes([pairing.VERSION])
    return begin + canonical.encode([asking, proof, bytes(32)])


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ({"version": 4}, "version 4"),
        ({"key": b"\x01" + bytes(31)}, "small order"),
        ({"key": key_of("other").public}, "not signed"),
        ({"seal": bytes(32)}, "small order"),
        ({"seal": b"short"}, "form"),
        ({"keeper": ""}, "form"),
        ({"keeper": "x" * 81}, "form"),
        ({"device": 7}, "form"),
        ({"asked": 2**60}, "form"),
        ({"more": 1}, "form"),
    ],
)
def test_an_unfit_request_is_refused(told: dict[str, object], why: str) -> None:
    assert pairing.read_request(request_with())
    with pytest.raises(BadBytes, match=why):
        pairing.read_request(request_with(**told))


@settings(max_examples=200, deadline=None)
@given(
    st.binary(max_size=300), st.sampled_from([b"", pairing.REQUEST_MAGIC, pairing.WELCOME_MAGIC])
)
def test_any_bytes_end_in_bad_bytes(raw: bytes, magic: bytes) -> None:
    with pytest.raises(BadBytes):
        pairing.read_request(magic + raw)
    with pytest.raises(BadBytes):
        pairing.read_welcome(magic + raw, PENDING)
    with pytest.raises(BadBytes):
        Pending.decode(raw)


def test_the_welcome_names_the_farm_to_its_laptop_alone() -> None:
    welcome = pairing.read_welcome(WELCOME_RAW, PENDING)
    assert (welcome.farm, welcome.founding) == (FOUNDING.id, FOUNDING)
    assert (welcome.admission, welcome.admitter) == (ADMISSION, HOUSE)
    assert b"Quillmoor" not in WELCOME_RAW and FOUNDING.id not in WELCOME_RAW
    other = pairing.pend("Jun", "shed", 0, entropy_of("shed"))
    with pytest.raises(BadBytes):
        pairing.read_welcome(WELCOME_RAW, other)


def test_an_altered_or_cut_welcome_is_refused() -> None:
    for at in range(len(WELCOME_RAW)):
        altered = bytearray(WELCOME_RAW)
        altered[at] ^= 1 << at % 8
        for raw in (bytes(altered), WELCOME_RAW[:at]):
            with pytest.raises(BadBytes):
                pairing.read_welcome(raw, PENDING)


def test_another_farm_cannot_take_the_laptop_in() -> None:
    other = founding_of("elsewhere", "Another Farm")
    forged = pairing.write_welcome(REQUEST, bytes(10), other, ADMISSION, HOUSE)
    with pytest.raises(BadBytes, match="does not have this laptop's code"):
        pairing.read_welcome(forged, PENDING)


def test_what_a_laptop_keeps_while_it_waits_comes_back_whole() -> None:
    assert Pending.decode(PENDING.encode()) == PENDING
    with pytest.raises(BadBytes, match=r"damaged.*join"):
        Pending.decode(PENDING.encode()[:-4])
    with pytest.raises(Refused):
        pairing.pend("", "barn", 0, entropy_of("x"))


def at(folder: Path) -> Folder:
    return Folder(folder, entropy_of("stick"))


def asked_in(folder: Path) -> list[Request]:
    return doorstep.requests_in(at(folder)).requests


def test_a_laptop_is_let_in_through_a_folder(stick: Path) -> None:
    assert doorstep.find_welcome(at(stick), PENDING).welcome is None
    name = doorstep.leave_request(at(stick), PENDING)
    assert doorstep.leave_request(at(stick), PENDING) == name
    (request,) = doorstep.proven(asked_in(stick), CODE.lower(), Counted())
    assert request == REQUEST
    first = doorstep.leave_welcome(at(stick), request, CODE, FOUNDING, ADMISSION, HOUSE)
    second = doorstep.leave_welcome(at(stick), request, CODE, FOUNDING, ADMISSION, HOUSE)
    assert first != second
    found = doorstep.find_welcome(at(stick), PENDING)
    assert found.welcome is not None and found.welcome.farm == FOUNDING.id
    doorstep.withdraw_request(at(stick), PENDING)
    doorstep.withdraw_request(at(stick), PENDING)
    assert asked_in(stick) == []


def test_each_of_several_laptops_has_its_own_code(stick: Path) -> None:
    shed = pairing.pend("Jun", "shed", PENDING.asked - 1, entropy_of("shed"))
    for pending in (PENDING, shed):
        doorstep.leave_request(at(stick), pending)
    tally = Counted()
    requests = asked_in(stick)
    assert [one.asking.device for one in requests] == ["shed", "barn"]
    (request,) = doorstep.proven(requests, pairing.code_of(shed.secret), tally)
    assert request.asking.device == "shed"
    assert not tally.counts
    doorstep.leave_welcome(
        at(stick), request, pairing.code_of(shed.secret), FOUNDING, ADMISSION, HOUSE
    )
    assert doorstep.find_welcome(at(stick), PENDING) == doorstep.Found(None, [])
    assert doorstep.find_welcome(at(stick), shed).welcome is not None


def test_a_code_that_two_laptops_ask_with_lets_neither_in(stick: Path) -> None:
    """Somebody overheard it and asks under it with keys of their own."""
    thief = pairing.pend("Ravi", "barn", PENDING.asked, entropy_of("thief"))
    thief = msgspec.structs.replace(thief, secret=PENDING.secret)
    for pending in (PENDING, thief):
        doorstep.leave_request(at(stick), pending)
    tally = Counted()
    with pytest.raises(Refused, match="someone else has it"):
        doorstep.proven(asked_in(stick), CODE, tally)
    assert not tally.counts


def test_a_picture_of_a_request_is_taken_for_its_code() -> None:
    for where in ("192.0.2.7:47100", "/media/stick", "[2001:db8::7]:47100"):
        told = pairing.picture_text(PENDING, where)
        assert told.isupper() and len(told) <= 80
        assert pairing.secret_of(told) == pairing.secret_of(told.lower()) == PENDING.secret


def test_three_wrong_codes_void_a_request_for_good(stick: Path) -> None:
    doorstep.leave_request(at(stick), PENDING)
    tally = Counted()
    said = []
    for number in range(3):
        with pytest.raises(Refused) as fault:
            doorstep.proven(asked_in(stick), other_code(number), tally)
        said.append(str(fault.value))
    assert "left before it is void: 2" in said[0] and "void: 1" in said[1]
    assert "is void" in said[2] and "new code" in said[2]
    with pytest.raises(Refused, match="void"):
        doorstep.proven(asked_in(stick), CODE, tally)
    # Renaming, doubling or changing its date makes no new request of it.
    (name,) = list(stick.iterdir())
    (stick / "fresh.request").write_bytes(name.read_bytes())
    with pytest.raises(Refused, match="void"):
        doorstep.proven(asked_in(stick), CODE, tally)


def test_faults_at_the_doorstep_are_told(stick: Path, tmp_path: Path) -> None:
    calls = (
        lambda: doorstep.leave_request(at(tmp_path / "gone"), PENDING),
        lambda: doorstep.requests_in(at(tmp_path / "gone")),
        lambda: doorstep.find_welcome(at(tmp_path / "gone"), PENDING),
        lambda: doorstep.proven([], CODE, Counted()),
        lambda: doorstep.leave_welcome(
            at(stick), REQUEST, other_code(1), FOUNDING, ADMISSION, HOUSE
        ),
    )
    for call in calls:
        with pytest.raises(Fault) as fault:
            call()
        assert isinstance(fault.value, Refused) and fault.value.mend
    name = doorstep.leave_request(at(stick), PENDING)
    (stick / name).write_bytes(b"something else")
    with pytest.raises(Refused, match="another file"):
        doorstep.leave_request(at(stick), PENDING)
    (stick / "huge.request").write_bytes(bytes(10**6))
    asked = doorstep.requests_in(at(stick))
    assert asked.requests == [] and len(asked.refused) == 2
    welcome = doorstep.leave_welcome(at(stick), REQUEST, CODE, FOUNDING, ADMISSION, HOUSE)
    (stick / welcome).write_bytes(WELCOME_RAW[:90])
    found = doorstep.find_welcome(at(stick), PENDING)
    assert found.welcome is None
    assert [one.what for one in found.refused] == [f"file {welcome}"]
