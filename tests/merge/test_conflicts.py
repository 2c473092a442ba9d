"""Disagreements: one id on every laptop, over exactly the claims that differ, closed by citing them all."""

from __future__ import annotations

import hashlib

import pytest

from herdsync.log import canonical
from herdsync.log.writer import Act
from herdsync.merge.conflicts import Conflict, conflict_id, once
from herdsync.merge.payloads import RESOLVE
from tests.farmyard import Yard


@pytest.fixture
def yard() -> Yard:
    return Yard(devices={"house": "Oda", "barn": "Ravi", "loft": "Ravi"})


def disputed(yard: Yard) -> bytes:
    agate = yard.animal("Agate")
    yard.amend("house", agate, name="Opal")
    yard.amend("barn", agate, name="Mica")
    yard.meet()
    return agate


def only(yard: Yard, device: str = "") -> Conflict:
    (conflict,) = yard.conflicts(device)
    return conflict


def test_ids_are_equal_on_replicas_and_cover_the_claims(yard: Yard) -> None:
    agate = disputed(yard)
    conflicts = [only(yard, device) for device in yard.devices]
    assert yard.shelf().conflicts_with(agate) == [conflicts[0]]
    assert yard.shelf().conflicts_with(yard.animal("Opal")) == []
    assert conflicts[0] == conflicts[1] == conflicts[2]
    record = yard.records().get(agate)
    assert record is not None
    claims = sorted(claim.entry for claim in record.registers["name"].standing)
    assert sorted(claim.entry for claim in conflicts[0].claims) == claims
    told = b"herdsync/1/conflict\0" + canonical.encode(["field", "name", claims])
    assert conflicts[0].id == hashlib.sha256(told).digest()


def test_the_id_does_not_depend_on_the_order_of_claims() -> None:
    a, b = b"a" * 16, b"b" * 16
    assert conflict_id("field", "name", [a, b]) == conflict_id("field", "name", [b, a])
    assert conflict_id("field", "name", [a, b]) != conflict_id("field", "sex", [a, b])
    assert conflict_id("field", "name", [a, b]) != conflict_id("rule", "name", [a, b])
    assert conflict_id("field", "name", [a, b]) != conflict_id("field", "name", [a])


def test_resolving_closes_it_on_every_laptop(yard: Yard) -> None:
    agate = disputed(yard)
    conflict = only(yard)
    entry = yard.resolve("house", conflict, name="Opal", because="asked")
    yard.meet()
    for device in yard.devices:
        assert yard.conflicts(device) == []
        closed = {one.id: one for one in yard.shelf(device).every_conflict()}
        assert closed[conflict.id].closed_by == entry.record_id
        record = yard.records(device).get(agate)
        assert record is not None
        assert record.values("name") == ["Opal"]


def test_a_late_claim_opens_a_new_conflict_after_the_closed_one(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.amend("house", agate, name="Opal")
    yard.amend("barn", agate, name="Mica")
    yard.amend("loft", agate, name="Beryl")
    yard.meet("house", "barn")
    first = only(yard, "house")
    yard.resolve("house", first, name="Opal")
    yard.meet("house", "barn", "loft")
    second = only(yard)
    assert second.id != first.id
    assert second.after == first.id
    assert {c.values["name"] for c in second.claims} == {"Opal", "Beryl"}
    assert [only(yard, device) for device in yard.devices] == [second] * 3


def test_a_third_account_makes_the_conflict_another_one(yard: Yard) -> None:
    agate = disputed(yard)
    first = only(yard)
    payload = {"of": agate, "claims": {"name": [{"name": "Beryl"}, []]}}
    yard.devices["loft"].write(Act("amend", "animal", payload))
    yard.meet()
    second = only(yard)
    assert (len(second.claims), second.after) == (3, first.id)


def test_resolutions_apart_that_differ_are_a_conflict_again(yard: Yard) -> None:
    agate = disputed(yard)
    conflict = only(yard)
    yard.resolve("house", conflict, name="Opal")
    yard.resolve("barn", conflict, name="Mica")
    yard.meet()
    again = only(yard)
    assert again.id != conflict.id
    assert again.after == conflict.id
    assert {one.id for one in yard.shelf().every_conflict() if not one.open} == {conflict.id}
    yard.resolve("loft", again, name="Agate")
    yard.meet()
    assert yard.conflicts() == []
    record = yard.records().get(agate)
    assert record is not None
    assert record.values("name") == ["Agate"]


def test_resolutions_apart_that_agree_end_it(yard: Yard) -> None:
    disputed(yard)
    conflict = only(yard)
    for device in ("house", "barn"):
        yard.resolve(device, conflict, name="Opal")
    yard.meet()
    assert yard.conflicts() == []


def marked_twice(yard: Yard) -> Conflict:
    yard.write("house", "animal", name="Agate", tag="q7")
    yard.write("barn", "animal", name="Opal", tag="Q 07")
    yard.meet()
    return only(yard)


def test_a_broken_rule_is_let_stand_by_name(yard: Yard) -> None:
    conflict = marked_twice(yard)
    assert (conflict.kind, conflict.field) == ("rule", "one mark on two animals")
    entry = yard.accept("barn", conflict)
    yard.meet()
    for device in yard.devices:
        assert yard.conflicts(device) == []
        closed = {one.id: one for one in yard.shelf(device).every_conflict()}
        assert closed[conflict.id].closed_by == entry.record_id


def test_of_two_acceptances_every_laptop_names_the_same(yard: Yard) -> None:
    conflict = marked_twice(yard)
    ids = [yard.accept(device, conflict).record_id for device in ("house", "barn")]
    yard.meet()
    named = {yard.shelf(device).every_conflict()[0].closed_by for device in yard.devices}
    assert named == {min(ids)}


def test_a_helper_lets_no_broken_rule_stand(yard: Yard) -> None:
    yard.admit("shed", "Jun", role="helper")
    yard.meet()
    conflict = marked_twice(yard)
    yard.meet()
    yard.accept("shed", conflict)
    yard.meet()
    assert [one.id for one in yard.conflicts()] == [conflict.id]


def test_an_acceptance_resolves_no_question_of_fact(yard: Yard) -> None:
    # A field in dispute is resolved by saying what is right, never by waving it through.
    disputed(yard)
    conflict = only(yard)
    payload = {"conflict": conflict.id, "because": "it is so"}
    yard.devices["house"].write(Act(RESOLVE, "animal", payload))
    assert only(yard, "house").id == conflict.id


def test_an_acceptance_may_come_before_what_it_accepts(yard: Yard) -> None:
    one = yard.write("house", "animal", name="Agate", tag="q7")
    other = yard.write("barn", "animal", name="Opal", tag="q7")
    expected = conflict_id("rule", "one mark on two animals", [one, other])
    yard.devices["loft"].write(Act(RESOLVE, "animal", {"conflict": expected, "because": "known"}))
    yard.meet()
    assert yard.conflicts() == []
    assert [c.id for c in yard.shelf().every_conflict()] == [expected]


def test_two_shared_marks_are_one_conflict_that_names_both(yard: Yard) -> None:
    for device, name in (("house", "Agate"), ("barn", "Opal")):
        yard.write(device, "animal", name=name, tag="7", tattoo_right="QMR", tattoo_left="A1")
    yard.meet()
    conflict = only(yard)
    assert conflict.says == "Two animals bear one mark: tag 7, tattoo QMR A1."


def test_of_two_tellings_of_one_conflict_the_open_one_counts_else_the_first() -> None:
    def told(says: str, closed_by: bytes = b"") -> Conflict:
        return Conflict(b"1" * 32, "rule", "animal", "loop", [], [], says=says, closed_by=closed_by)

    still, again, shut, closed = told("a"), told("b"), told("c", b"x"), told("d", b"x")
    assert once([still, again]) == [still]
    assert once([still, shut]) == once([shut, still]) == [still]
    assert once([shut, closed]) == [shut]


def test_a_first_conflict_follows_none(yard: Yard) -> None:
    disputed(yard)
    assert only(yard).after == b""


def test_who_changes_their_mind_about_two_records_disagrees_with_nobody(yard: Yard) -> None:
    one, other = yard.animal("Agate"), yard.animal("Agate")
    yard.same("house", one, other)
    yard.different("house", one, other)
    yard.same("house", one, other)
    assert list(yard.shelf("house").every_conflict()) == []


@pytest.mark.parametrize("verb", ["amend", "resolve"])
def test_only_who_resolves_two_or_more_claims_ends_a_conflict_that_is_followed(
    yard: Yard, verb: str
) -> None:
    agate = disputed(yard) if verb == "amend" else yard.animal("Agate")
    record = yard.records("house").get(agate)
    assert record is not None
    cites = [claim.entry for claim in record.registers["name"].standing]
    payload = {"of": agate, "claims": {"name": [{"name": "Beryl"}, cites]}}
    yard.devices["house"].write(Act(verb, "animal", payload))
    yard.amend("barn", agate, name="Jasper")
    yard.meet()
    assert (len(cites), only(yard).after) == (2 if verb == "amend" else 1, b"")
