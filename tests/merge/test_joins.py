"""Two records that are one: joining is symmetric and transitive, parting restores both; disputes show."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

import pytest

from herdsync.merge.conflicts import Conflict
from herdsync.merge.records import Record
from tests.farmyard import Yard
from tests.merge.dump import dump
from tests.merge.test_promises import folded


@pytest.fixture
def yard() -> Iterator[Yard]:
    made = Yard()
    yield made
    # Whatever was said, it must equal a fold of the same entries from nothing.
    for device in made.devices.values():
        whole = folded(sorted(device.replica.entries.values(), key=lambda entry: entry.order))
        assert dump(device.replica.shelf) == dump(whole.shelf)


def got(yard: Yard, id: bytes, device: str = "") -> Record:
    record = yard.records(device).get(id)
    assert record is not None
    return record


def pairs(yard: Yard, device: str = "") -> list[Conflict]:
    return [one for one in yard.conflicts(device) if one.kind == "pair"]


def test_either_id_means_the_one(yard: Yard) -> None:
    a, b = yard.animal("Agate", sex="doe"), yard.animal("Agate", breed="Saanen")
    yard.same("house", a, b)
    assert got(yard, a) == got(yard, b)
    assert got(yard, a).ids == sorted([a, b])
    assert yard.records().canonical(a) == yard.records().canonical(b) == min(a, b)
    assert len(yard.records().of_kind("animal")) == 1
    assert (got(yard, a).value("sex"), got(yard, a).value("breed")) == ("doe", "Saanen")
    assert yard.conflicts() == []


def test_joined_records_disagree_as_one_record_would(yard: Yard) -> None:
    a, b = yard.animal("Agate", sex="doe"), yard.animal("Opal", sex="doe")
    yard.same("house", b, a)
    (conflict,) = yard.conflicts()
    assert (conflict.kind, conflict.field) == ("field", "name")
    yard.resolve("house", conflict, name="Agate")
    assert yard.conflicts() == []
    assert got(yard, b).values("name") == ["Agate"]


@pytest.mark.parametrize("order", [*itertools.permutations(range(3))], ids=str)
def test_joining_is_symmetric_and_transitive(yard: Yard, order: tuple[int, ...]) -> None:
    ids = [yard.animal(name) for name in ("Agate", "Agate", "Agate")]
    a, b, c = (ids[place] for place in order)
    yard.same("house", a, b)
    yard.same("barn", c, b)
    yard.meet()
    assert got(yard, a).ids == got(yard, b).ids == got(yard, c).ids == sorted(ids)


def test_parting_restores_both(yard: Yard) -> None:
    a, b = yard.animal("Agate", sex="doe"), yard.animal("Opal", sex="buck")
    before = [got(yard, id) for id in (a, b)]
    yard.same("house", a, b)
    yard.different("house", a, b)
    assert [got(yard, id) for id in (a, b)] == before
    yard.same("house", b, a)
    assert got(yard, a).ids == sorted([a, b])


def test_what_was_amended_while_joined_stays_where_it_was_said(yard: Yard) -> None:
    a, b = yard.animal("Agate"), yard.animal("Agate")
    yard.same("house", a, b)
    yard.amend("house", a, name="Opal")
    assert got(yard, b).values("name") == ["Opal"]
    yard.different("house", a, b)
    assert sorted(got(yard, id).values("name") for id in (a, b)) == [["Agate"], ["Opal"]]


def test_records_of_two_kinds_are_never_one(yard: Yard) -> None:
    agate = yard.animal("Agate")
    note = yard.write("house", "note", text="limps", on="2026-01-01", about=agate)
    yard.same("house", agate, note)
    assert got(yard, agate).ids == [agate]
    assert got(yard, note).ids == [note]


def test_what_is_not_here_joins_nothing(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.same("house", agate, bytes(16))
    yard.same("house", agate, agate)
    assert got(yard, agate).ids == [agate]
    assert yard.conflicts() == []


def test_a_helper_joins_nothing(yard: Yard) -> None:
    yard.admit("shed", "Jun", role="helper")
    yard.meet()
    a, b = yard.animal("Agate"), yard.animal("Agate")
    yard.same("shed", a, b)
    yard.meet()
    assert got(yard, a).ids == [a]


@pytest.mark.parametrize("kind", ["note", "dose"])
def test_same_and_different_apart_part_and_ask(yard: Yard, kind: str) -> None:
    # Also for kinds whose rule proposes no pairs: a contradiction between keepers is always shown.
    agate = yard.animal("Agate")
    product = yard.write("house", "product", substance="Quillsan")
    by_kind: dict[str, dict[str, Any]] = {
        "note": {"text": "limps"},
        "dose": {"animal": agate, "product": product},
    }
    fields = by_kind[kind]
    a, b = (yard.write("house", kind, on=f"2026-01-{day}", **fields) for day in ("02", "20"))
    yard.meet()
    yard.same("house", a, b)
    yard.different("barn", a, b)
    yard.meet()
    for device in ("house", "barn"):
        (conflict,) = pairs(yard, device)
        assert "another that they are different" in conflict.says
        assert sorted(conflict.records) == sorted([a, b])
        assert got(yard, a, device).ids == [a]
    asked = pairs(yard)[0]
    yard.different("house", a, b)
    yard.meet()
    assert pairs(yard) == []
    assert [one.id for one in yard.shelf().every_conflict() if not one.open] == [asked.id]


def test_different_from_what_a_third_joins_is_shown(yard: Yard) -> None:
    a, b, c = (yard.animal("Agate") for _ in range(3))
    yard.same("house", a, b)
    yard.same("house", b, c)
    yard.different("barn", a, c)
    yard.meet()
    assert got(yard, a).ids == sorted([a, b, c])
    (conflict,) = pairs(yard)
    assert "the same as a third" in conflict.says
    assert sorted(conflict.records) == sorted([a, c])
    yard.different("house", b, c)
    assert got(yard, a).ids == sorted([a, b])
    assert [one for one in pairs(yard) if one.open] == []


def test_acts_follow_an_animal_that_is_joined(yard: Yard) -> None:
    a, b = yard.animal("Agate"), yard.animal("Agate")
    acts = [yard.write("house", "hoof-trim", animal=id, on="2026-01-02") for id in (a, b)]
    yard.same("house", a, b)
    for id in (a, b):
        assert [one.id for one in yard.records().naming(id)] == sorted(acts)
    yard.different("house", a, b)
    assert [[one.id for one in yard.records().naming(id)] for id in (a, b)] == [
        [one] for one in acts
    ]


def test_acts_on_one_animal_entered_twice_are_compared_once_it_is_known_as_one(yard: Yard) -> None:
    a, b = yard.animal("Agate"), yard.animal("Agate")
    yard.write("house", "hoof-trim", animal=a, on="2026-01-02")
    yard.write("barn", "hoof-trim", animal=b, on="2026-01-02")
    yard.meet()
    assert pairs(yard) == []
    yard.same("house", a, b)
    assert len(pairs(yard)) == 1
    yard.different("house", a, b)
    assert pairs(yard) == []


def test_doses_of_one_product_entered_twice_are_compared_once_it_is_known_as_one(
    yard: Yard,
) -> None:
    agate = yard.animal("Agate")
    products = [yard.write("house", "product", substance="Quillsan") for _ in range(2)]
    yard.meet()
    for device, product in zip(("house", "barn"), products, strict=True):
        yard.write(device, "dose", animal=agate, product=product, on="2026-01-02")
    yard.meet()
    assert pairs(yard) == []
    yard.same("barn", *products)
    yard.meet()
    assert [one.record_kind for one in pairs(yard)] == ["dose"]
    yard.different("barn", *products)
    yard.meet()
    assert pairs(yard) == []


def test_two_names_of_one_pen_are_one_pen(yard: Yard) -> None:
    agate = yard.animal("Agate")
    pens = [yard.write("house", "pen", name=name) for name in ("Byre", "the byre")]
    yard.meet()
    for device, pen in zip(("house", "barn"), pens, strict=True):
        yard.write(device, "pen-move", animal=agate, pen=pen, on="2026-01-02")
    yard.meet()
    assert [one.field for one in yard.conflicts()] == ["two pens at one time"]
    yard.same("house", *pens)
    assert [one.field for one in yard.conflicts()] == ["name"]


def test_kids_of_one_dam_entered_twice_are_compared(yard: Yard) -> None:
    dams = [yard.animal("Agate") for _ in range(2)]
    for device, dam in zip(("house", "barn"), dams, strict=True):
        yard.write(device, "animal", dam=dam, born="2026-01-02", sex="doe")
    yard.meet()
    assert pairs(yard) == []
    yard.same("house", *dams)
    assert [one.record_kind for one in pairs(yard)] == ["animal"]


def test_a_record_joined_late_brings_its_claims(yard: Yard) -> None:
    a = yard.animal("Agate")
    b = yard.write("barn", "animal", name="Agate", breed="Saanen")
    yard.meet()
    yard.same("house", a, b)
    yard.amend("barn", b, breed="Toggenburg")
    yard.meet()
    assert got(yard, a).values("breed") == ["Toggenburg"]
