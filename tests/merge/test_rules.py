"""Disagreements between records: possible same acts, and what cannot be in a herd."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.kinds import CATALOGUE
from herdsync.merge.conflicts import Conflict
from herdsync.merge.pedigree import folded, knots
from tests.farmyard import Yard


def open_of(yard: Yard, kind: str) -> list[Conflict]:
    return [one for one in yard.conflicts() if one.kind == kind]


def rules(yard: Yard) -> list[str]:
    return sorted(one.field for one in open_of(yard, "rule"))


def apart(
    yard: Yard, kind: str, house: dict[str, Any], barn: dict[str, Any]
) -> tuple[bytes, bytes]:
    """Two acts by two laptops that had not seen each other's."""
    ids = (yard.write("house", kind, **house), yard.write("barn", kind, **barn))
    yard.meet()
    return ids


# The rule of each kind as the design has it: nearest and farthest pair of times that still may be one
# act, and one that may not. Dates stand for whole days; times of a date's end and another's start count.
NEAR = {
    "weighing": ("2026-01-01", "2026-01-03", "2026-01-04"),
    "hoof-trim": ("2026-01-01T06:00:00Z", "2026-01-03T06:00:00Z", "2026-01-03T06:00:01Z"),
    "disbudding": ("2026-01-01", "2026-01-03", "2026-01-04"),
    "castration": ("2026-01-01", "2026-01-03", "2026-01-04"),
    "tattoo": ("2026-01-01", "2026-01-03", "2026-01-04"),
    "dose": ("2026-01-01T06:00:00Z", "2026-01-01T18:00:00Z", "2026-01-02T06:00:01Z"),
    "vaccination": ("2026-01-01T20:00:00Z", "2026-01-02T08:00:00Z", "2026-01-02T08:00:01Z"),
    "mating": ("2026-01-01T06:00:00Z", "2026-01-01T23:00:00Z", "2026-01-02T00:00:00Z"),
    "kidding": ("2026-01-01", "2026-01-31", "2026-02-01"),
    "milk": ("2026-01-01T06:00:00Z", "2026-01-01T23:00:00Z", "2026-01-02"),
    "leaving": ("2026-01-01", "2026-01-03", "2026-01-04"),
    "death": ("2026-01-01", "2026-01-03", "2026-01-04"),
}


def fields_of(yard: Yard, kind: str) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    given_by_kind: dict[str, Any] = {
        "weight_kg": [50, 0, "kg"], "milk_kg": [2, 0, "kg"], "stage": "done", "milking": "morning",
        "how": "sold",
    }  # fmt: skip
    for name, field in CATALOGUE[kind].fields.items():
        if name in ("animal", "doe"):
            fields[name] = yard.animal("Agate", sex="doe")
        elif name == "buck":
            fields[name] = yard.animal("Basalt", sex="buck")
        elif name == "product":
            fields[name] = yard.write("house", "product", substance="Quillsan")
        elif name in given_by_kind and (field.required or name in CATALOGUE[kind].pair.same_fields):  # type: ignore[union-attr]
            fields[name] = given_by_kind[name]
    yard.meet()
    return fields


def test_every_kind_with_a_rule_is_tried() -> None:
    ruled = {name for name, kind in CATALOGUE.items() if kind.pair is not None}
    assert ruled == {*NEAR, "animal"}


@pytest.mark.parametrize("kind", NEAR)
def test_near_acts_of_two_laptops_may_be_one(yard: Yard, kind: str) -> None:
    fields = fields_of(yard, kind)
    first, last, _ = NEAR[kind]
    ids = apart(yard, kind, fields | {"on": first}, fields | {"on": last})
    (conflict,) = open_of(yard, "pair")
    assert (conflict.record_kind, conflict.records) == (kind, sorted(ids))


@pytest.mark.parametrize("kind", NEAR)
def test_acts_farther_apart_are_two(yard: Yard, kind: str) -> None:
    fields = fields_of(yard, kind)
    first, _, after = NEAR[kind]
    apart(yard, kind, fields | {"on": first}, fields | {"on": after})
    assert open_of(yard, "pair") == []


@pytest.mark.parametrize("kind", NEAR)
def test_acts_on_two_animals_are_two(yard: Yard, kind: str) -> None:
    fields = fields_of(yard, kind)
    subject = CATALOGUE[kind].subject
    assert subject is not None
    other = fields | {subject: yard.animal("Opal", sex="doe")}
    apart(yard, kind, fields | {"on": NEAR[kind][0]}, other | {"on": NEAR[kind][0]})
    assert open_of(yard, "pair") == []


@pytest.mark.parametrize("kind", NEAR)
def test_acts_written_knowing_the_other_are_two_save_doses(yard: Yard, kind: str) -> None:
    fields = fields_of(yard, kind) | {"on": NEAR[kind][0]}
    yard.write("house", kind, **fields)
    yard.meet()
    yard.write("barn", kind, **fields)
    yard.meet()
    doses = kind in ("dose", "vaccination")
    assert len(open_of(yard, "pair")) == (1 if doses else 0)


@pytest.mark.parametrize("kind", NEAR)
def test_one_person_at_one_laptop_means_two_acts(yard: Yard, kind: str) -> None:
    fields = fields_of(yard, kind) | {"on": NEAR[kind][0]}
    for _ in range(2):
        yard.write("house", kind, **fields)
    assert open_of(yard, "pair") == []


@pytest.mark.parametrize("kind", ["milk", "mating", "dose", "tattoo"])
def test_what_else_must_agree(yard: Yard, kind: str) -> None:
    fields = fields_of(yard, kind) | {"on": NEAR[kind][0]}
    others: dict[str, Any] = {
        "milk": {"milking": "evening"},
        "mating": {"buck": yard.animal("Flint", sex="buck")},
        "dose": {"product": yard.write("house", "product", substance="Other")},
        "tattoo": {"stage": "planned"},
    }
    yard.meet()
    apart(yard, kind, fields, fields | others[kind])
    assert open_of(yard, "pair") == []


@pytest.mark.parametrize("kind", ["note", "feed", "check", "illness"])
def test_kinds_that_are_never_one(kind: str) -> None:
    assert kind not in CATALOGUE or CATALOGUE[kind].pair is None


def test_same_closes_the_question_and_so_does_different(yard: Yard) -> None:
    fields = fields_of(yard, "dose") | {"on": "2026-01-01"}
    a, b = apart(yard, "dose", fields, fields)
    (asked,) = open_of(yard, "pair")
    yard.different("house", a, b)
    yard.meet()
    assert open_of(yard, "pair") == []
    assert {one.id for one in yard.shelf().every_conflict() if not one.open} == {asked.id}
    yard.same("barn", a, b)
    yard.meet()
    assert open_of(yard, "pair") == []
    joined = yard.records().get(a)
    assert joined is not None
    assert joined.ids == sorted([a, b])


def test_a_retracted_act_is_no_longer_asked_about(yard: Yard) -> None:
    fields = fields_of(yard, "dose") | {"on": "2026-01-01"}
    a, _ = apart(yard, "dose", fields, fields)
    yard.retract("house", a)
    yard.meet()
    assert yard.conflicts() == []


@pytest.mark.parametrize(
    "marks",
    [
        {"tattoo_right": "QMR", "tattoo_left": "A1"}, {"tattoo_tail": "X9"}, {"tag": "UK123"},
        {"chip": "826000000000001"}, {"registry_no": "S-77"},
    ],
    ids=lambda marks: next(iter(marks)),
)  # fmt: skip
def test_one_animal_entered_on_two_laptops(yard: Yard, marks: dict[str, str]) -> None:
    apart(yard, "animal", marks | {"name": "Agate"}, marks)
    assert len(open_of(yard, "pair")) == 1


def test_kids_of_one_kidding_entered_on_two_laptops(yard: Yard) -> None:
    kid = {"dam": yard.animal("Agate"), "born": "2026-01-02", "sex": "doe"}
    apart(yard, "animal", kid, kid | {"name": "Shale"})
    assert len(open_of(yard, "pair")) == 1


@pytest.mark.parametrize(
    "other",
    [{"sex": "buck"}, {"born": "2026-01-03"}, {"sex": "unknown"}, {"name": "Onyx"}],
    ids=str,
)
def test_kids_that_are_not_one(yard: Yard, other: dict[str, str]) -> None:
    kid = {"dam": yard.animal("Agate"), "born": "2026-01-02", "sex": "doe", "name": "Shale"}
    apart(yard, "animal", kid, kid | other)
    assert open_of(yard, "pair") == []


def test_twins_written_by_one_laptop_are_two(yard: Yard) -> None:
    kid: dict[str, Any] = {"dam": yard.animal("Agate"), "born": "2026-01-02", "sex": "doe"}
    for _ in range(2):
        yard.write("house", "animal", **kid)
    assert open_of(yard, "pair") == []


MARKED_TWICE = [
    ({"tag": "Q7"}, {"tag": "q 007"}, True),
    ({"tag": "7"}, {"tag": "8"}, False),
    (
        {"tattoo_right": "QMR", "tattoo_left": "A1"},
        {"tattoo_right": "QMR", "tattoo_left": "A2"},
        False,
    ),
    (
        {"tattoo_right": "QMR", "tattoo_left": "A1"},
        {"tattoo_right": "QMR", "tattoo_left": "A01"},
        True,
    ),
    ({"tattoo_right": "QMR"}, {"tattoo_right": "QMR"}, False),
    ({"tattoo_left": "A1"}, {"tattoo_left": "A1"}, True),
    ({"chip": "826000000000001"}, {"tag": "826000000000001"}, False),
]


@pytest.mark.parametrize(("one", "other", "broken"), MARKED_TWICE, ids=str)
def test_one_mark_on_two_animals(
    yard: Yard, one: dict[str, str], other: dict[str, str], broken: bool
) -> None:
    apart(yard, "animal", one | {"name": "Agate"}, other | {"name": "Opal"})
    assert rules(yard) == (["one mark on two animals"] if broken else [])


def test_mending_a_mark_closes_it(yard: Yard) -> None:
    a, _ = apart(yard, "animal", {"name": "Agate", "tag": "7"}, {"name": "Opal", "tag": "7"})
    assert rules(yard) == ["one mark on two animals"]
    yard.amend("house", a, tag="8")
    assert rules(yard) == []


def test_how_marks_are_compared() -> None:
    assert folded(" q m r 007") == "QMR7"
    assert folded("A000") == "A000"
    assert folded("007") == "007"
    assert folded("12B034") == "12B34"


def test_acts_after_leaving(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.write("house", "leaving", animal=agate, on="2026-01-10", how="sold")
    yard.write("house", "hoof-trim", animal=agate, on="2026-01-10")
    yard.write("house", "note", about=agate, text="missed", on="2026-02-01")
    assert rules(yard) == []
    trim = yard.write("house", "hoof-trim", animal=agate, on="2026-01-11")
    assert rules(yard) == ["act after leaving"]
    back = yard.write("house", "arrival", animal=agate, on="2026-01-11")
    assert rules(yard) == []
    yard.retract("house", back)
    assert rules(yard) == ["act after leaving"]
    yard.amend("house", trim, on="2026-01-09")
    assert rules(yard) == []


def test_acts_before_coming_back_are_still_after_leaving(yard: Yard) -> None:
    agate = yard.animal("Agate")
    yard.write("house", "death", animal=agate, on="2026-01-10")
    yard.write("house", "arrival", animal=agate, on="2026-03-01")
    yard.write("house", "weighing", animal=agate, on="2026-02-01", weight_kg=[50, 0, "kg"])
    yard.write("house", "weighing", animal=agate, on="2026-04-01", weight_kg=[50, 0, "kg"])
    assert rules(yard) == ["act after leaving"]


# The youngest dam: conceiving from about 3 months (Extension Goat Handbook, NAL 1992, D-6), carrying
# 145 days at least (Storey's Guide to Raising Dairy Goats, 5th ed.): 235 days before 2 January 2026 is
# 12 May 2025.
PARENTS = [
    ({"dam": {"sex": "doe", "born": "2020-01-01"}}, []),
    ({"dam": {"sex": "buck", "born": "2020-01-01"}}, ["dam of the wrong sex"]),
    ({"sire": {"sex": "doe", "born": "2020-01-01"}}, ["sire of the wrong sex"]),
    ({"sire": {"sex": "intersex", "born": "2020-01-01"}}, []),
    ({"dam": {"sex": "unknown"}}, []),
    ({"dam": {"sex": "doe", "born": "2026-01-01"}}, ["dam too young"]),
    ({"sire": {"sex": "buck", "born": "2026-01-01"}}, []),
    ({"sire": {"sex": "buck", "born": "2026-01-02"}}, []),
    ({"sire": {"sex": "buck", "born": "2026-01-03"}}, ["sire too young"]),
    ({"sire": {"sex": "buck", "born": "2026-01"}}, []),
    ({"dam": {"sex": "doe", "born": "2025-05-13"}}, ["dam too young"]),
    ({"dam": {"sex": "doe", "born": "2025-05-12"}}, []),
]


@pytest.mark.parametrize(("parents", "broken"), PARENTS, ids=str)
def test_impossible_parents(
    yard: Yard, parents: dict[str, dict[str, str]], broken: list[str]
) -> None:
    told: dict[str, Any] = {
        field: yard.animal("Agate", **fields) for field, fields in parents.items()
    }
    yard.write("house", "animal", name="Onyx", born="2026-01-02", **told)
    assert rules(yard) == broken


def test_a_disputed_sex_breaks_no_rule(yard: Yard) -> None:
    dam = yard.animal("Agate", sex="unknown")
    yard.write("house", "animal", name="Onyx", dam=dam)
    yard.amend("house", dam, sex="buck")
    yard.amend("barn", dam, sex="doe")
    yard.meet()
    assert rules(yard) == []


@pytest.mark.parametrize("size", [1, 2, 3, 7])
def test_loops_of_descent(yard: Yard, size: int) -> None:
    ids = [yard.animal(f"Goat {place}") for place in range(size)]
    for place, id in enumerate(ids):
        parent: dict[str, Any] = {("dam", "sire")[place % 2]: ids[(place + 1) % size]}
        yard.amend("house", id, **parent)
    loops = [one for one in open_of(yard, "rule") if one.field == "pedigree loop"]
    assert [one.records for one in loops] == [sorted(ids)]
    yard.retract("house", ids[0])
    assert "pedigree loop" not in rules(yard)


@given(st.integers(1, 9), st.data())
def test_knots_against_closing_over_descent(size: int, data: st.DataObject) -> None:
    edge = st.tuples(st.integers(0, size - 1), st.integers(0, size + 1))
    edges = data.draw(st.sets(edge, max_size=18))
    names = [bytes([place]) for place in range(size + 2)]
    parents: dict[bytes, list[bytes]] = {names[place]: [] for place in range(size)}
    for child, parent in sorted(edges):
        parents[names[child]].append(names[parent])
    reach = {(a, b) for a, ups in parents.items() for b in ups}
    for through, a, b in itertools.product(names, names, names):
        if (a, through) in reach and (through, b) in reach:
            reach.add((a, b))
    expected = {
        frozenset(o for o in names if o == one or ((one, o) in reach and (o, one) in reach))
        for one in names
        if one in parents or any(one in ups for ups in parents.values())
    }
    assert {frozenset(knot) for knot in knots(parents)} == expected


def test_a_long_line_of_descent_needs_no_stack() -> None:
    line = [place.to_bytes(4, "big") for place in range(20_000)]
    parents = {child: [parent] for child, parent in itertools.pairwise(line)}
    parents[line[-1]] = [line[0]]
    assert [len(knot) for knot in knots(parents)] == [20_000]


def test_two_pens_on_one_day_apart(yard: Yard) -> None:
    agate = yard.animal("Agate")
    byre, loft = (yard.write("house", "pen", name=name) for name in ("Byre", "Loft"))
    yard.meet()
    moved = {"animal": agate, "on": "2026-01-02T06:00:00Z"}
    apart(yard, "pen-move", moved | {"pen": byre}, moved | {"pen": loft, "on": "2026-01-02"})
    assert rules(yard) == ["two pens at one time"]


def test_moves_that_do_not_contradict(yard: Yard) -> None:
    agate = yard.animal("Agate")
    byre, loft = (yard.write("house", "pen", name=name) for name in ("Byre", "Loft"))
    yard.meet()
    moved = {"animal": agate, "on": "2026-01-02"}
    apart(yard, "pen-move", moved | {"pen": byre}, moved | {"pen": byre})
    apart(
        yard,
        "pen-move",
        moved | {"pen": byre, "on": "2026-01-03"},
        moved | {"pen": loft, "on": "2026-01-04"},
    )
    yard.write("house", "pen-move", animal=agate, pen=loft, on="2026-01-05")
    yard.meet()
    yard.write("barn", "pen-move", animal=agate, pen=byre, on="2026-01-05")
    yard.meet()
    assert rules(yard) == []


def test_nothing_ever_blocks_recording(yard: Yard) -> None:
    agate = yard.animal("Agate", sex="doe")
    yard.amend("house", agate, dam=agate, sire=agate)
    yard.write("house", "death", animal=agate, on="2020-01-01")
    for _ in range(3):
        yard.write("house", "hoof-trim", animal=agate, on="2026-01-01")
    assert len(yard.records().naming(agate, "hoof-trim")) == 3
    assert {"pedigree loop", "act after leaving"} <= set(rules(yard))
