"""Claims, citations, bonds, sets, keyed records, retractions: what a record says after what was written."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import keyed_record_id
from herdsync.log.writer import Act
from herdsync.merge.payloads import AMEND, RECORD, STANDS, tie_id
from tests.farmyard import Yard, got
from tests.merge.dump import dump
from tests.merge.test_promises import folded

H48, H96, H120 = [48, 0, "h"], [96, 0, "h"], [120, 0, "h"]


def dose(yard: Yard, device: str = "house", **fields: Any) -> bytes:
    animal = yard.records().of_kind("animal")[0].id
    product = yard.records().of_kind("product")[0].id
    told: dict[str, Any] = {"animal": animal, "product": product, "on": "2026-01-02"}
    return yard.write(device, "dose", **told, **fields)


@pytest.fixture
def stocked(yard: Yard) -> Yard:
    yard.animal("Agate", sex="doe")
    yard.write("house", "product", substance="Quillsan")
    yard.meet()
    return yard


def test_an_amendment_ends_what_it_cites_and_nothing_else(yard: Yard) -> None:
    agate = yard.animal("Agate", sex="doe")
    yard.amend("house", agate, name="Agate of Quillmoor")
    record = got(yard, agate)
    assert record.values("name") == ["Agate of Quillmoor"]
    assert record.values("sex") == ["doe"]
    assert [claim.values for claim in record.registers["name"].ended] == [{"name": "Agate"}]


def test_amendments_apart_leave_both_values_and_a_conflict(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.amend("house", agate, name="Opal")
    yard.amend("barn", agate, name="Mica")
    yard.meet()
    for device in ("house", "barn"):
        record = got(yard, agate, device)
        assert sorted(record.values("name")) == ["Mica", "Opal"]
        assert record.disputed("name")
        assert record.value("name") == record.values("name")[-1]
    (conflict,) = yard.conflicts()
    assert (conflict.kind, conflict.field) == ("field", "name")


def test_equal_amendments_apart_agree(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.amend("house", agate, name="Opal")
    yard.amend("barn", agate, name="Opal")
    yard.meet()
    record = got(yard, agate)
    assert (record.value("name"), record.disputed("name"), yard.conflicts()) == ("Opal", False, [])
    assert len(record.registers["name"].standing) == 2
    yard.amend("house", agate, name="Agate")
    assert got(yard, agate).values("name") == ["Agate"]


def test_seeing_is_not_citing(yard: Yard) -> None:
    # Causal order proves that a claim was seen; only a citation ends it.
    agate = yard.animal("Agate")
    payload = {"of": agate, "claims": {"name": [{"name": "Opal"}, []]}}
    yard.devices["house"].write(Act(AMEND, "animal", payload))
    assert got(yard, agate).values("name") == ["Agate", "Opal"]


def test_a_citation_of_what_is_not_there_ends_nothing(yard: Yard) -> None:
    agate = yard.animal("Agate")
    name = {"name": [{"name": "Opal"}, [bytes(16)]], "sex": [{"sex": "doe"}, [agate]]}
    yard.devices["house"].write(Act(AMEND, "animal", {"of": agate, "claims": name}))
    assert got(yard, agate).values("name") == ["Agate", "Opal"]


def test_a_bond_is_one_conflict_and_its_fields_never_mix(stocked: Yard) -> None:
    given = dose(stocked, milk_h=H48, amount_ml=[2, 0, "mL"])
    stocked.meet()
    stocked.amend("house", given, milk_h=H96)
    stocked.amend("barn", given, amount_ml=[4, 0, "mL"])
    stocked.meet()
    record = got(stocked, given)
    standing = record.registers[record.register_of("milk_h")].standing
    told = [(c.values["milk_h"], c.values["amount_ml"]) for c in standing]
    assert sorted(told) == [(H48, [4, 0, "mL"]), (H96, [2, 0, "mL"])]
    assert [one.field for one in stocked.conflicts()] == ["given"]
    assert len({claim.values["product"] for claim in standing}) == 1


@pytest.mark.parametrize(
    ("kind", "together"),
    [
        ("dose", {"product", "amount_ml", "milk_h", "meat_d"}),
        ("pen-move", {"pen", "on"}),
        ("weighing", {"weight_kg", "how"}),
    ],
)
def test_what_is_bonded(kind: str, together: set[str]) -> None:
    assert any(together <= set(fields) for fields in CATALOGUE[kind].registers.values())


def test_a_field_cleared_by_one_and_told_by_the_other_is_disputed(yard: Yard) -> None:
    agate = yard.animal("Agate", tag="7")
    claim = got(yard, agate).registers["tag"].standing[0].entry
    yard.devices["house"].write(
        Act(AMEND, "animal", {"of": agate, "claims": {"tag": [{}, [claim]]}})
    )
    yard.amend("barn", agate, tag="8")
    yard.meet()
    record = got(yard, agate)
    assert record.disputed("tag")
    assert record.value("tag") == "8"
    assert [one.field for one in yard.conflicts()] == ["tag"]


def test_the_provisional_value_is_the_strictest(stocked: Yard) -> None:
    product = stocked.records().of_kind("product")[0].id
    for device, value in (("house", H120), ("barn", H48)):
        stocked.amend(device, product, milk_h=value)
    stocked.meet()
    for first, second in itertools.permutations(("house", "barn")):
        assert got(stocked, product, first).value("milk_h") == H120
        assert got(stocked, product, second).disputed("milk_h")


@pytest.mark.parametrize(
    ("kind", "field", "values", "strictest"),
    [
        ("product", "milk_h", (H48, [5, 0, "d"], H96), [5, 0, "d"]),
        ("product", "max_per_site_ml", ([5, 0, "mL"], [25, -1, "mL"]), [25, -1, "mL"]),
        ("product", "expiry", ("2026-05-01", "2026-04-30"), "2026-04-30"),
        ("product", "milk_never", (False, True), True),
        ("product", "counted_from", ("last-dose", "later-of-both", "kidding"), "later-of-both"),
        ("dose", "on", ("2026-01-02", "2026-01-01", "2026-01"), "2026-01"),
    ],
)
def test_what_is_strictest(
    kind: str, field: str, values: tuple[object, ...], strictest: object
) -> None:
    spec = CATALOGUE[kind].fields[field]
    for order in itertools.permutations(values):
        assert spec.strictest(list(order)) == strictest  # type: ignore[arg-type]


def grouped(yard: Yard, device: str, id: bytes, add: list[str], drop: list[str]) -> None:
    have = dict(got(yard, id, device).elements("groups"))
    change = {"add": add, "drop": [[one, sorted(have[one])] for one in drop]}
    payload = {"of": id, "claims": {"groups": [{"groups": change}, []]}}
    yard.devices[device].write(Act(AMEND, "animal", payload))


def test_in_sets_adding_wins_over_a_removal_that_had_not_seen_it(yard: Yard) -> None:
    agate = yard.animal("Agate", groups=["show"])
    grouped(yard, "house", agate, [], ["show"])
    grouped(yard, "barn", agate, ["show", "milkers"], [])
    assert got(yard, agate, "house").value("groups") == []
    yard.meet()
    record = got(yard, agate)
    assert sorted(record.value("groups")) == ["milkers", "show"]
    assert not record.disputed("groups")
    assert not record.any_disputed
    assert yard.conflicts() == []
    grouped(yard, "house", agate, [], ["show"])
    yard.meet()
    assert got(yard, agate, "barn").value("groups") == ["milkers"]


def test_removals_apart_of_one_element_agree(yard: Yard) -> None:
    agate = yard.animal("Agate", groups=["show"])
    for device in ("house", "barn"):
        grouped(yard, device, agate, [], ["show"])
    yard.meet()
    assert got(yard, agate).value("groups") == []


def test_keyed_records_meet_in_one(yard: Yard) -> None:
    zone = yard.write("house", "setting", key="zone", value="UTC")
    again = yard.write("barn", "setting", key="zone", value="Europe/Berlin")
    assert zone == again == keyed_record_id(yard.farm, "setting", "zone")
    yard.meet()
    record = got(yard, zone)
    assert sorted(record.values("value")) == ["Europe/Berlin", "UTC"]
    assert [one.field for one in yard.conflicts()] == ["value"]
    assert len(yard.records().of_kind("setting")) == 1


@pytest.mark.parametrize(
    "payload",
    [
        {"fields": {"key": "zone", "value": "UTC"}},
        {"key": "letters", "fields": {"key": "zone", "value": "UTC"}},
        {"key": "zone", "fields": {"value": "UTC"}},
        {"key": "zone", "fields": {"key": ["zone"], "value": "UTC"}},
    ],
    ids=["no key", "another key", "no key told", "key of another form"],
)
def test_a_key_that_is_not_the_fields_own_is_unreadable(
    yard: Yard, payload: dict[str, object]
) -> None:
    # Else one setting could stand under another's id, or twice.
    yard.devices["house"].write(Act(RECORD, "setting", payload))
    assert yard.records().of_kind("setting") == []
    assert len(yard.shelf().every_unread()) == 1


def test_the_key_of_a_keyed_record_cannot_be_amended(yard: Yard) -> None:
    zone = yard.write("house", "setting", key="zone", value="UTC")
    payload = {"of": zone, "claims": {"key": [{"key": "letters"}, [got(yard, zone).first.entry]]}}
    yard.devices["house"].write(Act(AMEND, "setting", payload))
    assert got(yard, zone).values("key") == ["zone"]
    assert len(yard.shelf().every_unread()) == 1


def test_no_field_of_an_act_says_whether_it_stands(yard: Yard) -> None:
    payload = {"fields": {"name": "Agate", STANDS: False}}
    yard.devices["house"].write(Act(RECORD, "animal", payload))
    assert yard.records().of_kind("animal") == []
    assert len(yard.shelf().every_unread()) == 1


def test_a_retraction_takes_back_and_a_restoring_brings_back(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.retract("house", agate)
    assert not got(yard, agate).stands
    assert yard.records().of_kind("animal") == []
    yard.restore("house", agate)
    assert got(yard, agate).stands
    assert yard.conflicts() == []


def test_an_amendment_beside_a_retraction_keeps_the_record_and_asks(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.retract("house", agate)
    yard.amend("barn", agate, name="Opal")
    yard.meet()
    assert got(yard, agate).stands
    (conflict,) = yard.conflicts()
    assert (conflict.kind, conflict.field) == ("retract", STANDS)
    yard.retract("barn", agate)
    yard.meet()
    assert not got(yard, agate).stands
    assert yard.conflicts() == []


def test_a_retraction_that_saw_the_amendment_needs_no_question(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.amend("barn", agate, name="Opal")
    yard.meet()
    yard.retract("house", agate)
    yard.meet()
    assert not got(yard, agate).stands
    assert yard.conflicts() == []


def test_retracted_and_restored_apart_is_a_conflict_and_stands(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.retract("house", agate)
    yard.meet()
    yard.restore("house", agate)
    yard.retract("house", agate)
    yard.restore("barn", agate)
    yard.meet()
    assert got(yard, agate).stands
    assert [one.field for one in yard.conflicts()] == [STANDS]


def test_a_helper_may_record_and_mend_its_own_and_no_more(yard: Yard) -> None:
    yard.admit("shed", "Jun", role="helper")
    yard.meet()
    agate = yard.animal("Agate")
    own = yard.write("shed", "note", text="limps", on="2026-01-01")
    yard.amend("shed", own, text="limps on the left")
    yard.amend("shed", agate, name="Opal")
    yard.retract("shed", agate)
    yard.meet()
    assert got(yard, own).values("text") == ["limps on the left"]
    record = got(yard, agate)
    assert (record.values("name"), record.stands) == (["Agate"], True)
    assert record.safety_values("name") == ["Agate", "Opal"]
    assert [c.vouched for c in record.registers["name"].unvouched] == [False]


def test_nobody_owns_a_keyed_record_that_two_have_begun(yard: Yard) -> None:
    yard.admit("shed", "Jun", role="helper")
    yard.meet()
    zone = yard.write("shed", "setting", key="zone", value="UTC")
    yard.amend("shed", zone, value="Europe/Berlin")
    yard.write("house", "setting", key="zone", value="Asia/Tokyo")
    yard.meet()
    values = got(yard, zone).values("value")
    assert sorted(values) == ["Asia/Tokyo", "UTC"]


def test_records_of_a_newer_program_are_listed_and_carried(yard: Yard) -> None:
    agate = yard.animal("Agate")
    newer = Act(
        RECORD, "cheese-making", {"fields": {"milk": agate}}, flags=1, subjects=frozenset({agate})
    )
    later = Act(
        RECORD, "dose", {"fields": {"mode": 7}}, kind_version=2, subjects=frozenset({agate})
    )
    entries = [yard.devices["barn"].write(act) for act in (newer, later)]
    yard.meet()
    house = yard.devices["house"].replica
    listed = {one.entry: one for one in yard.shelf("house").every_unread()}
    assert set(listed) == {entry.id for entry in entries}
    assert all("newer program" in one.why for one in listed.values())
    assert yard.records("house").unreadable() == {agate}
    carried = [house.entries[entry.id] for entry in entries]
    assert [(e.header_bytes, e.body_bytes, e.signature) for e in carried] == [
        (e.header_bytes, e.body_bytes, e.signature) for e in entries
    ]


def test_an_unknown_field_of_a_newer_program_is_kept_and_shown(yard: Yard) -> None:
    id = yard.write("barn", "animal", name="Agate", moods=["calm"])
    yard.meet()
    record = got(yard, id, "house")
    assert record.values("moods") == [["calm"]]
    assert record.field_names() == ["name", "moods"]


def test_a_payload_is_never_taken_for_what_it_is_not(yard: Yard) -> None:
    # 22 letters of base64 are 16 bytes to a lenient reader.
    agate = yard.animal("Agate")
    payload = {"of": "AAAAAAAAAAAAAAAAAAAAAA==", "claims": {}}
    yard.devices["house"].write(Act(AMEND, "animal", payload))
    assert [one.why.split(" (")[0] for one in yard.shelf().every_unread()] == [
        "its payload is not that of 'amend'"
    ]
    assert got(yard, agate).stands


def test_an_entry_aimed_at_a_pair_of_records_hurts_nothing(yard: Yard) -> None:
    a, b = yard.animal("Agate"), yard.animal("Agate")
    yard.same("house", a, b)
    payload = {"of": tie_id(a, b), "claims": {"name": [{"name": "Opal"}, []]}}
    yard.devices["house"].write(Act(AMEND, "animal", payload))
    assert got(yard, a).ids == sorted([a, b])
    assert len(yard.shelf().every_unread()) == 1
    entries = list(yard.devices["house"].replica.entries.values())
    assert dump(folded(entries).shelf) == dump(yard.shelf())
