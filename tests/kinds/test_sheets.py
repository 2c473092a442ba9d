"""Whole sheets: what keepers type becomes stored fields; hostile fields never crash the check."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.faults import BadBytes, Refused
from herdsync.kinds import CATALOGUE, check_fields, parse_fields
from tests.kinds.reading import Barn, id_of

BARN = Barn()
AGATE = id_of("Agate")

LEAVES = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=30)
    | st.binary(max_size=20)
    | st.just(AGATE)
    | st.sampled_from(["kg", "2026-02-22", "2026-02-22T06:30:00Z", "0000-00", "9999-12-31"])
    | st.just(2**64 - 1)
)
WIRE = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_leaves=8,
) | st.tuples(
    st.integers(-(10**16), 10**16), st.integers(-12, 12), st.sampled_from(["kg", "h", "d", "?"])
).map(list)
ALL_FIELDS = sorted({name for kind in CATALOGUE.values() for name in kind.fields})


def test_a_weighing_keeps_the_keepers_unit() -> None:
    kind = CATALOGUE["weighing"]
    typed = {"animal": "Agate", "weight_kg": "44lb", "how": "tape", "on": "2026-02-22"}
    fields = parse_fields(kind, typed, BARN, partial=False)
    assert fields == {
        "animal": AGATE,
        "on": "2026-02-22",
        "weight_kg": [44, 0, "lb"],
        "how": "girth-tape",
    }
    check_fields(kind, fields, partial=False)


def test_a_time_left_out_is_now_but_not_in_an_amendment() -> None:
    kind = CATALOGUE["hoof-trim"]
    fields = parse_fields(kind, {"animal": "Agate"}, BARN, partial=False)
    assert fields["on"] == "2026-02-22T06:30:00+01:00"
    assert parse_fields(kind, {"front_left": "ok"}, BARN, partial=True) == {"front_left": "ok"}


def test_a_set_is_typed_with_commas_and_kept_in_order() -> None:
    typed = {"name": "Agate", "groups": "show, dry does,show"}
    fields = parse_fields(CATALOGUE["animal"], typed, BARN, partial=False)
    assert fields["groups"] == ["dry does", "show"]
    field = CATALOGUE["animal"].fields["groups"]
    assert field.answer(["dry does", "show"]) == ["dry does", "show"]
    assert field.show(["dry does", "show"], str) == "dry does, show"


@pytest.mark.parametrize(
    ("kind", "typed", "says"),
    [
        ("weighing", {"animal": "Agate"}, "needs weight_kg"),
        ("weighing", {"animal": "Agate", "weigt_kg": "4"}, "Did you mean weight_kg"),
        ("weighing", {"animal": "Agate", "zzz": "4"}, "Its fields are"),
        ("weighing", {"animal": "Agate", "weight_kg": "-4"}, "weight_kg: -4 cannot be right"),
        ("weighing", {"animal": "Nobody", "weight_kg": "4"}, "animal: No animal"),
        ("hoof-trim", {"animal": "Agate", "on": "2026-02-30"}, "on: '2026-02-30' cannot be"),
        ("animal", {}, "Nothing was written"),
        ("animal", {"chip": "123"}, "chip: An electronic code has 15 digits"),
        ("animal", {"groups": "a,,b"}, "groups: Nothing was written"),
        ("skip", {"work": "abc"}, "needs because"),
    ],
)
def test_refusals_name_field_and_mend(kind: str, typed: dict[str, str], says: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_fields(CATALOGUE[kind], typed, BARN, partial=False)
    assert says in str(refused.value)
    assert refused.value.mend


def test_names_a_newer_program_knows_are_left_alone() -> None:
    fields = {"animal": AGATE, "on": "2026-02-22", "gait": {"any": [1.5, None]}}
    check_fields(CATALOGUE["hoof-trim"], fields, partial=False)


def test_a_fault_names_kind_and_field() -> None:
    with pytest.raises(BadBytes, match=r"hoof trim, on: The calendar has no such day\."):
        check_fields(CATALOGUE["hoof-trim"], {"on": "2026-02-30"}, partial=True)
    with pytest.raises(BadBytes, match=r"hoof trim needs on\."):
        check_fields(CATALOGUE["hoof-trim"], {"animal": AGATE}, partial=False)
    check_fields(CATALOGUE["hoof-trim"], {}, partial=True)


def test_a_set_may_list_what_a_change_adds_and_drops() -> None:
    check_fields(CATALOGUE["animal"], {"groups": ["show", "dry does", "show"]}, partial=True)
    with pytest.raises(BadBytes):
        check_fields(CATALOGUE["animal"], {"groups": "show"}, partial=True)
    with pytest.raises(BadBytes):
        check_fields(CATALOGUE["animal"], {"groups": ["x"] * 201}, partial=True)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None, max_examples=300)
@given(
    st.sampled_from(sorted(CATALOGUE)),
    st.dictionaries(st.sampled_from(ALL_FIELDS) | LEAVES, WIRE, max_size=6) | WIRE,
    st.booleans(),
)
def test_hostile_fields_are_set_aside_and_crash_nothing(
    name: str, fields: Any, partial: bool
) -> None:
    try:
        check_fields(CATALOGUE[name], fields, partial=partial)
    except BadBytes as fault:
        assert str(fault).isprintable() and len(str(fault)) < 300
        return
    _use(name, fields)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None, max_examples=300)
@given(st.data())
def test_what_passes_the_check_can_be_answered_shown_and_ranked(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(CATALOGUE)))
    field = data.draw(st.sampled_from(sorted(CATALOGUE[name].fields)))
    value = data.draw(WIRE)
    try:
        check_fields(CATALOGUE[name], {field: value}, partial=True)
    except BadBytes:
        return
    _use(name, {field: value})


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_whatever_a_keeper_types_is_taken_whole_or_refused(data: st.DataObject) -> None:
    kind = CATALOGUE[data.draw(st.sampled_from(sorted(CATALOGUE)))]
    words = st.text(max_size=12) | st.sampled_from(
        ["Agate", "Clearwell", "today", "44 lb", "3", "yes", "ok", "2026-02-22", "4d", "96 h"]
    )
    typed = data.draw(st.dictionaries(st.sampled_from(sorted(kind.fields)), words, max_size=5))
    try:
        fields = parse_fields(kind, typed, BARN, partial=False)
    except Refused as refused:
        assert refused.what and refused.mend
        return
    check_fields(kind, fields, partial=False)
    _use(kind.name, fields)


def _use(name: str, fields: dict[str, Any]) -> None:
    for field_name, value in fields.items():
        field = CATALOGUE[name].fields.get(field_name)
        if field is None:
            continue
        json.dumps(field.answer(value), allow_nan=False)
        assert isinstance(field.show(value, lambda raw: raw.hex()), str)
        if not field.many:
            assert field.strictest([value, value]) == value
