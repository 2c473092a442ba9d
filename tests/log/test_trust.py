"""Who may write: a pure function of the set of entries, that nobody but the steward can widen."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.faults import BadBytes
from herdsync.log.entry import NO_ID, Entry
from herdsync.log.stewardship import members_of
from herdsync.log.trust import (
    ADMIT,
    AUTHORITY_VERBS,
    FOUND,
    HELPER,
    KEEPER,
    READER,
    admitting_of,
    founding_of,
    may,
)
from tests.log.plain import key_of, written

STEWARD, BARN, JUN, RECOVERY = (key_of(name) for name in ("house", "barn", "jun", "recovery"))
IDENTITY = b"\x01" + bytes(31)


def founding(**changed: Any) -> Entry:
    payload = {
        "farm": "Quillmoor Dairy",
        "keeper": "Oda",
        "device": "house",
        "seal": STEWARD.seal_public,
        "recovery": RECOVERY.public,
        "recovery_seal": RECOVERY.seal_public,
    }
    return written(
        STEWARD.public, verb=FOUND, kind="membership", farm=NO_ID, payload=payload | changed
    )


FOUNDING = founding()


def admission(
    name: str,
    role: str = "keeper",
    by: Any = STEWARD,
    after: Entry | None = FOUNDING,
    **changed: Any,
) -> Entry:
    key = key_of(name)
    payload = {
        "key": key.public,
        "seal": key.seal_public,
        "keeper": name.title(),
        "device": name,
        "role": role,
        "request": b"",
        "proof": bytes(64),
    }
    own = after if after is not None and after.header.device == by.public else None
    parents = [after] if after is not None and own is None else []
    return written(
        by.public, own, parents, verb=ADMIT, kind="membership", farm=FOUNDING.id,
        payload=payload | changed,
    )  # fmt: skip


def roles(entries: list[Entry]) -> dict[bytes, str]:
    members = members_of(entries)
    assert members is not None
    return {key: member.role for key, member in members.by_key.items()}


def test_a_farm_has_its_founder_and_whom_the_founder_admits() -> None:
    barn = admission("barn")
    jun = admission("jun", "helper", after=barn)
    members = members_of([FOUNDING, barn, jun])
    assert members is not None
    assert (members.farm, members.steward) == ("Quillmoor Dairy", STEWARD.public)
    assert roles([FOUNDING, barn, jun]) == {
        STEWARD.public: KEEPER,
        BARN.public: KEEPER,
        JUN.public: HELPER,
    }
    assert members.by_key[JUN.public].admitted_by == jun.id
    assert members.recipients()[-1] == RECOVERY.seal_public
    assert set(members.recipients()[:-1]) == {
        STEWARD.seal_public, BARN.seal_public, JUN.seal_public,
    }  # fmt: skip


def test_there_are_no_members_without_a_founding() -> None:
    assert members_of([]) is None
    assert members_of([admission("barn")]) is None


def test_a_farm_begins_with_a_founding_alone() -> None:
    begun = written(STEWARD.public, verb=ADMIT, kind="membership", farm=NO_ID)
    with pytest.raises(BadBytes, match="founding"):
        members_of([begun])


@pytest.mark.parametrize("role", ["keeper", "helper", "reader"])
def test_an_admission_by_anyone_else_counts_for_nothing(role: str) -> None:
    barn = admission("barn", role)
    sneaked = admission("jun", by=BARN, after=barn)
    raised = admission("barn", "keeper", by=BARN, after=barn)
    outsider = admission("jun", by=JUN, after=None)
    entries = [FOUNDING, barn, sneaked, raised, outsider]
    assert roles(entries) == {STEWARD.public: KEEPER, BARN.public: role}


def test_a_second_admission_changes_nothing() -> None:
    first = admission("barn", "helper")
    second = admission("barn", "keeper", after=first)
    assert roles([FOUNDING, first, second])[BARN.public] == HELPER


@pytest.mark.parametrize("verb", sorted(AUTHORITY_VERBS))
@pytest.mark.parametrize("height", [0, 7])
def test_no_entry_of_a_member_unseats_the_farm(verb: str, height: int) -> None:
    # A member's log can fork from the start: such an entry may come before the founding in every order.
    other = min((key_of(f"member {number}") for number in range(20)), key=lambda key: key.public)
    assert other.public < STEWARD.public
    payload = {"key": IDENTITY, "farm": "Mine"}
    first = written(
        other.public, verb=verb, kind="membership", farm=FOUNDING.id, payload=payload, height=height
    )
    sound = admission("barn")
    entries = [first, FOUNDING, sound]
    assert roles(entries) == {STEWARD.public: KEEPER, BARN.public: KEEPER}


def test_another_farms_founding_does_not_count_beside_this_one() -> None:
    barn = admission("barn")
    stolen = admission("jun", by=BARN, after=None)
    assert roles([FOUNDING, barn, stolen]) == roles([FOUNDING, barn])


@given(st.randoms(use_true_random=False))
def test_the_order_of_arrival_means_nothing(chance: random.Random) -> None:
    barn = admission("barn")
    jun = admission("jun", "reader", after=barn)
    forked = admission("jun", "keeper", after=FOUNDING)
    sneaked = admission("eve", by=BARN, after=barn)
    broken = admission("ann", after=jun, role="owner")
    entries = [FOUNDING, barn, jun, forked, sneaked, broken]
    expected = members_of(entries)
    chance.shuffle(entries)
    assert members_of(entries) == expected
    assert members_of([*entries, *entries[:2]]) == expected


WEAK = {
    "identity": IDENTITY,
    "order 2": b"\xec" + b"\xff" * 30 + b"\x7f",
    "order 8": bytes.fromhex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"),
    "not reduced": b"\xee" + b"\xff" * 30 + b"\x7f",
    "no point": (2).to_bytes(32, "little"),
}


@pytest.mark.parametrize("name", WEAK)
def test_weak_keys_are_not_admitted(name: str) -> None:
    weak = admission("barn", key=WEAK[name])
    with pytest.raises(BadBytes):
        admitting_of(weak)
    assert roles([FOUNDING, weak]) == {STEWARD.public: KEEPER}
    with pytest.raises(BadBytes):
        founding_of(founding(recovery=WEAK[name]))


@pytest.mark.parametrize(
    "changed",
    [
        {"role": "owner"}, {"role": ""}, {"keeper": ""}, {"keeper": "x" * 81}, {"device": 5},
        {"seal": bytes(31)}, {"proof": bytes(63)}, {"request": "text"}, {"key": b""},
    ],
    ids=str,
)  # fmt: skip
def test_malformed_admissions_are_passed_over(changed: dict[str, Any]) -> None:
    barn = admission("barn", **{"role": "keeper"} | changed)
    with pytest.raises(BadBytes):
        admitting_of(barn)
    assert roles([FOUNDING, barn, admission("jun", after=barn)]) == {
        STEWARD.public: KEEPER,
        JUN.public: KEEPER,
    }


def test_a_malformed_founding_is_refused() -> None:
    for wrong in (founding(farm=""), founding(seal=bytes(3)), founding(keeper=None)):
        with pytest.raises(BadBytes):
            founding_of(wrong)
    with pytest.raises(BadBytes):
        founding_of(admission("barn"))


def test_what_each_role_covers() -> None:
    verbs = ("record", "amend", "retract", "resolve", "same", "different")
    covered = {
        role: [{verb for verb in verbs if may(role, verb, own=own)} for own in (True, False)]
        for role in (KEEPER, HELPER, READER)
    }
    assert covered == {
        KEEPER: [set(verbs), set(verbs)],
        HELPER: [{"record", "amend", "retract"}, {"record"}],
        READER: [set(), set()],
    }
