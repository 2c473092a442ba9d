"""Which of several standing values a record answers: where one is the safe one, that; else the last told.

The rule is the design's own; hours and dates here are invented.
"""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from herdsync.log.entry import RECORD_BYTES
from herdsync.merge.records import Record
from tests.farmyard import Yard

H48, H96 = [48, 0, "h"], [96, 0, "h"]


def apart(kind: str, field: str, told: tuple[Any, Any]) -> Record:
    """A record whose field two laptops amended apart, as both have it after they met."""
    yard = Yard()
    animal = yard.animal("Agate", sex="doe")
    product = yard.write("house", "product", substance="Quillsan")
    about: dict[str, Any] = {"animal": animal, "product": product, "on": "2026-01-02"}
    id = product if kind == "product" else yard.write("house", kind, **about)
    yard.meet()
    for device, value in zip(("house", "barn"), told, strict=True):
        yard.amend(device, id, **{field: value})
    yard.meet()
    records = [yard.records(device).get(id) for device in ("house", "barn")]
    assert records[0] == records[1]
    record = records[0]
    assert record is not None
    return record


@pytest.mark.parametrize(
    ("kind", "field", "told", "safe"),
    [
        ("dose", "milk_h", (H48, H96), H96),
        ("dose", "on", ("2026-01-02", "2026-01-04"), "2026-01-04"),
        ("product", "expiry", ("2026-05-01", "2026-04-01"), "2026-04-01"),
        ("product", "milk_never", (True, False), True),
    ],
)
def test_of_disputed_values_the_safe_one_counts_whoever_told_it(
    kind: str, field: str, told: tuple[Any, Any], safe: Any
) -> None:
    for first, second in itertools.permutations(told):
        record = apart(kind, field, (first, second))
        assert record.disputed(field)
        assert record.value(field) == safe
        assert sorted(map(str, record.values(field))) == sorted(map(str, told))


def test_without_a_safe_one_the_last_in_display_order_counts() -> None:
    for told in itertools.permutations(("Marlin", "Quillsan II")):
        record = apart("product", "substance", (told[0], told[1]))
        newest = max(record.registers["substance"].standing, key=lambda claim: claim.order)
        assert (
            record.value("substance")
            == newest.values["substance"]
            == record.values("substance")[-1]
        )


def test_a_record_is_disputed_as_soon_as_one_field_is() -> None:
    assert apart("dose", "milk_h", (H48, H96)).any_disputed
    assert not apart("dose", "milk_h", (H48, H48)).any_disputed


def test_what_nobody_told_is_the_default() -> None:
    record = apart("dose", "milk_h", (H48, H48))
    assert not record.disputed("milk_h")
    assert record.value("milk_h") == H48
    assert record.value("route") is None
    assert record.value("route", "none") == "none"
    assert record.values("route") == []


def test_a_record_is_told_from_another_by_all_it_says() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe")
    before = yard.records().get(agate)
    opal = yard.records().get(yard.animal("Opal", sex="doe"))
    assert before is not None and before == yard.records().get(agate)
    assert before != opal and before != "Agate"
    yard.amend("house", agate, name="Mica")
    assert before != yard.records().get(agate)


def test_its_place_is_where_it_began_and_its_newest_claim_the_last() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe")
    yard.meet()
    entry = yard.amend("barn", agate, name="Opal")
    yard.meet()
    record = yard.records().get(agate)
    assert record is not None
    assert record.first.entry == record.begun_in == agate
    assert record.order == record.first.order < record.last.order
    assert record.last.entry == entry.id[:RECORD_BYTES]
    assert record.begun_by == record.first.author
