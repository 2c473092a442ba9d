"""A record may carry the key of an imported line; any other key on a kind without keys is unreadable."""

from __future__ import annotations

import pytest

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import keyed_record_id
from herdsync.log.writer import Act
from herdsync.merge.payloads import RECORD, line_key
from tests.farmyard import Yard

NOTE = {"on": "2026-01-01", "text": "from the notebook"}


def begin(yard: Yard, device: str, key: str, **fields: str) -> None:
    payload = {"fields": NOTE | fields, "key": key}
    yard.devices[device].write(Act(RECORD, "note", payload, CATALOGUE["note"].version))


def test_two_laptops_make_claims_on_one_record() -> None:
    yard = Yard()
    key = line_key(["note", "text=from the notebook"])
    for device in ("house", "barn"):
        begin(yard, device, key)
    yard.meet()
    (record,) = yard.shelf("barn").of_kind("note")
    assert record.id == keyed_record_id(yard.farm, "note", key)
    assert yard.conflicts("barn") == []


def test_read_differently_they_disagree_openly() -> None:
    yard = Yard()
    key = line_key(["note", "one line"])
    begin(yard, "house", key, on="2026-03-04")
    begin(yard, "barn", key, on="2026-04-03")
    yard.meet()
    assert [one.field for one in yard.conflicts("house")] == ["on"]


@pytest.mark.parametrize(
    "key", ["", "line/", "line/" + "g" * 64, "line/" + "A" * 64, "prefix", "line/" + "0" * 65]
)
def test_no_other_key_is_taken(key: str) -> None:
    yard = Yard()
    begin(yard, "house", key)
    assert yard.shelf().of_kind("note") == []
    assert len(yard.shelf().every_unread()) == 1


def test_a_line_lacks_no_field_that_its_kind_needs() -> None:
    yard = Yard()
    payload = {"fields": {"on": "2026-01-01"}, "key": line_key(["note"])}
    yard.devices["house"].write(Act(RECORD, "note", payload, CATALOGUE["note"].version))
    assert yard.shelf().of_kind("note") == []


def test_the_parts_of_a_key_do_not_run_together() -> None:
    assert line_key(["a", "bc"]) != line_key(["ab", "c"])
