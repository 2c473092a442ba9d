"""Entries of no known form, doubled or lacking something, and what the records make of them."""

from __future__ import annotations

from typing import Any

import pytest

from herdsync.log.entry import AUTHORITY, CRITICAL
from herdsync.log.writer import Act
from herdsync.merge.payloads import AMEND, RECORD
from herdsync.merge.replica import Replica
from tests.farmyard import Yard, got
from tests.merge.dump import dump

CITED = b"c" * 16
BAD_FORM = "it changes a set in a form that is not known"


@pytest.mark.parametrize(
    ("register", "values", "why"),
    [
        ("stands", {"stands": "yes"}, "neither retracts nor restores"),
        ("stands", {"stands": True, "name": "Opal"}, "neither retracts nor restores"),
        ("stands", {}, "neither retracts nor restores"),
        ("name", {"sex": "doe"}, "where 'name' belongs"),
        ("groups", {"groups": ["show"]}, BAD_FORM),
        ("groups", {"groups": {"add": ["show"]}}, BAD_FORM),
        ("groups", {"groups": {"add": [], "drop": [], "more": []}}, BAD_FORM),
        ("groups", {"groups": {"add": "show", "drop": []}}, BAD_FORM),
        ("groups", {"groups": {"add": [], "drop": "show"}}, BAD_FORM),
        ("groups", {"groups": {"add": [], "drop": ["show"]}}, "it removes from a set"),
        ("groups", {"groups": {"add": [], "drop": [["show"]]}}, "it removes from a set"),
        ("groups", {"groups": {"add": [], "drop": [["show", CITED]]}}, "it removes from a set"),
        ("groups", {"groups": {"add": [], "drop": [["show", ["c"]]]}}, "it removes from a set"),
        (
            "groups",
            {"groups": {"add": [], "drop": [["show", [CITED], 1]]}},
            "it removes from a set",
        ),
        ("groups", {"groups": {"add": [7], "drop": []}}, "groups"),
        ("groups", {"groups": {"add": [], "drop": [[7, [CITED]]]}}, "groups"),
    ],
)
def test_a_change_of_no_known_form_changes_nothing(
    yard: Yard, register: str, values: dict[str, Any], why: str
) -> None:
    agate = yard.animal("Agate", groups=["show"])
    payload = {"of": agate, "claims": {register: [values, []]}}
    yard.devices["house"].write(Act(AMEND, "animal", payload))
    (unread,) = yard.shelf().every_unread()
    assert why in unread.why
    record = got(yard, agate)
    assert (record.stands, record.values("name"), record.value("groups")) == (
        True,
        ["Agate"],
        ["show"],
    )


def test_a_change_of_a_set_in_its_known_form_is_read(yard: Yard) -> None:
    agate = yard.animal("Agate", groups=["show"])
    change = {"add": ["milkers"], "drop": [["show", [got(yard, agate).first.entry]]]}
    payload = {"of": agate, "claims": {"groups": [{"groups": change}, []]}}
    yard.devices["house"].write(Act(AMEND, "animal", payload))
    assert yard.shelf().every_unread() == []
    assert got(yard, agate).value("groups") == ["milkers"]


def test_a_keyed_record_begun_twice_in_one_batch_says_both(yard: Yard) -> None:
    zone = yard.write("house", "setting", key="zone", value="UTC")
    yard.write("house", "setting", key="zone", value="Europe/Berlin")
    yard.meet()
    assert sorted(got(yard, zone, "barn").values("value")) == ["Europe/Berlin", "UTC"]
    assert dump(yard.shelf("barn")) == dump(yard.shelf("house"))


def test_what_cannot_be_read_bears_on_safety_where_it_says_so(yard: Yard) -> None:
    agate, opal = yard.animal("Agate"), yard.animal("Opal")
    for animal, flags in ((agate, 1), (opal, 0)):
        payload = {"fields": {"milk": animal}}
        act = Act(RECORD, "cheese-making", payload, flags=flags, subjects=frozenset({animal}))
        yard.devices["house"].write(act)
    assert [
        one.critical
        for one in sorted(yard.shelf().every_unread(), key=lambda one: one.subjects != [agate])
    ] == [True, False]
    assert yard.records().unreadable() == {agate}


def test_who_only_reads_begins_nothing_that_counts(yard: Yard) -> None:
    yard.admit("gate", "Kim", role="reader")
    agate = yard.animal("Agate")
    trim = yard.write("gate", "hoof-trim", animal=agate, on="2026-03-31")
    yard.meet()
    record = got(yard, trim, "house")
    assert (record.vouched, record.counts) == (False, False)
    assert record.counts_for_safety_alone


def test_a_beginning_without_what_its_kind_needs_is_unreadable(yard: Yard) -> None:
    yard.write("house", "hoof-trim", on="2026-03-31")
    (unread,) = yard.shelf().every_unread()
    assert "animal" in unread.why
    # Of a record that its key names, others may tell the rest.
    zone = yard.write("house", "setting", key="zone")
    assert len(yard.shelf().every_unread()) == 1
    assert got(yard, zone).values("key") == ["zone"]


def test_a_set_is_read_as_its_elements_whoever_told_it_first(yard: Yard) -> None:
    bare, twice = yard.animal("Agate"), yard.animal("Opal", groups=["show", "milkers", "show"])
    assert (got(yard, bare).value("groups"), got(yard, bare).values("groups")) == ([], [])
    assert sorted(got(yard, twice).value("groups")) == ["milkers", "show"]


def test_what_is_not_here_was_seen_by_nobody_here(yard: Yard) -> None:
    first = yard.animal("Agate")
    second = yard.amend("house", first, name="Opal").record_id
    house = yard.devices["house"].replica
    assert house.saw(second, first) and not house.saw(first, second)
    assert not house.saw(b"?" * 16, first) and not house.saw(second, b"?" * 16)


def test_who_is_put_out_later_takes_back_what_was_folded_before(yard: Yard) -> None:
    trim = yard.write("barn", "hoof-trim", animal=yard.animal("Agate"), on="2026-03-31")
    yard.meet()
    assert got(yard, trim, "house").vouched
    told = {"key": yard.devices["barn"].key.public, "last": []}
    yard.devices["house"].write(Act("remove", "membership", told, flags=AUTHORITY | CRITICAL))
    assert not got(yard, trim, "house").vouched


def test_taking_tells_how_many_were_new(yard: Yard) -> None:
    yard.animal("Agate")
    entries = list(yard.devices["house"].replica.entries.values())
    replica = Replica()
    # In any order: what has to wait for another is taken with it.
    assert replica.take([*entries[1:], *entries]) == len(entries)
    assert (replica.take(entries), replica.parked) == (0, {})


def test_what_counts_for_safety_alone_is_asked_for_by_itself(yard: Yard) -> None:
    agate = yard.animal("Agate")
    kept = yard.write("house", "dose", animal=agate, product=yard.animal("Opal"), on="2026-03-31")
    gone = yard.write("house", "dose", animal=agate, product=b"p" * 16, on="2026-03-31")
    yard.retract("house", gone, because="")
    shelf = yard.shelf()
    assert [one.id for one in shelf.safety_only(agate, "dose")] == [gone]
    assert {one.id for one in shelf.ever_naming(agate, "dose")} == {kept, gone}


def test_the_records_changed_last_come_in_the_order_of_their_change(yard: Yard) -> None:
    agate, opal, mica = (yard.animal(name) for name in ("Agate", "Opal", "Mica"))
    yard.amend("house", agate, name="Beryl")
    shelf = yard.shelf()
    assert [one.id for one in shelf.changed_last(2)] == [mica, agate]
    assert [one.id for one in shelf.changed_last(9)] == [opal, mica, agate]
