"""The catalogue as a whole: every kind explained, bonds and pair rules sound, fields as promised."""

from __future__ import annotations

import re

import pytest

from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE, Kind, kind_named
from herdsync.kinds.forms import Key, Ref
from herdsync.kinds.procedures import FOLLOWED

KINDS = list(CATALOGUE.values())

# What everybody who writes records by these names relies on.
PROMISED = {
    "animal": "name sex born breed size horns_born sire dam kidding tattoo_right tattoo_left "
    "tattoo_tail tag chip registry_no kept_as standing",
    "pen": "name",
    "pen-move": "animal pen on",
    "hoof-trim": "animal on front_left front_right hind_left hind_right note",
    "disbudding": "animal on applications",
    "castration": "animal on method complete",
    "check": "animal on of what finding",
    "weighing": "animal on weight_kg how",
    "product": "substance strength_mg_per_ml milk_h meat_d counted_from lot expiry said_by",
    "dose": "animal on product amount_ml route site course milk_h meat_d said_by because",
    "mating": "doe buck on until how",
    "pregnancy-check": "doe on result how",
    "kidding": "doe on ease",
    "milk": "doe on milking milk_kg sold",
    "leaving": "animal on how to",
    "note": "about text",
}

HAZARDOUS = ("dose", "vaccination", "disbudding", "castration", "hoof-trim", "scurs", "product")
BONDS = {
    "pen-move": {"pen", "on"},
    "weighing": {"weight_kg", "how", "girth_cm", "length_cm"},
    "dose": {"product", "amount_ml", "milk_h", "meat_d"},
    "mating": {"on", "until"},
}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_kind_and_field_is_explained(kind: Kind) -> None:
    assert re.fullmatch(r"[a-z0-9-]{3,64}", kind.name)
    assert kind.title and kind.version == 1
    assert kind.help.endswith(".") and "\n" not in kind.help
    for name, field in kind.fields.items():
        assert name == field.name and re.fullmatch(r"[a-z][a-z0-9_]*", name)
        assert field.help.endswith(".") and len(field.help) < 120
        assert field.form.word and field.form.takes
    sentences = [field.help for field in kind.fields.values()]
    assert len(set(sentences)) == len(sentences)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_what_a_kind_says_of_its_fields_is_so(kind: Kind) -> None:
    named = [*kind.names, *kind.marks]
    if kind.pair:
        named += [*kind.pair.same_fields, *(name for some in kind.pair.any_of for name in some)]
    assert set(named) <= set(kind.fields)
    if kind.subject:
        assert isinstance(kind.fields[kind.subject].form, Ref)
    if kind.keyed:
        assert isinstance(kind.fields[kind.keyed].form, Key)
        assert kind.fields[kind.keyed].required
    timed = [name for name, field in kind.fields.items() if field.default_now]
    assert timed == ([kind.on] if kind.on else [])
    assert kind.on in (None, "on")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_registers_part_the_fields(kind: Kind) -> None:
    gathered = [name for names in kind.registers.values() for name in names]
    assert sorted(gathered) == sorted(kind.fields)
    bonds = {name for name in kind.registers if name not in kind.fields}
    for name, names in kind.registers.items():
        assert name in bonds or names == (name,)
    expected = BONDS.get(kind.name)
    if expected:
        assert expected in [set(kind.registers[bond]) for bond in bonds]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_references_lead_to_kinds_that_exist(kind: Kind) -> None:
    for name in kind.refs:
        form = kind.fields[name].form
        assert isinstance(form, Ref)
        assert form.kind == "" or form.kind in CATALOGUE


@pytest.mark.parametrize(("name", "fields"), PROMISED.items())
def test_promised_fields(name: str, fields: str) -> None:
    assert set(fields.split()) <= set(CATALOGUE[name].fields)


@pytest.mark.parametrize("name", HAZARDOUS)
def test_hazardous_work_carries_its_caution(name: str) -> None:
    assert len(CATALOGUE[name].caution) > 80


@pytest.mark.parametrize("name", [name for name in HAZARDOUS if name != "hoof-trim"])
def test_caution_defers_to_veterinarian_label_and_law(name: str) -> None:
    caution = CATALOGUE[name].caution
    assert "veterinarian" in caution and "label" in caution and "law" in caution


@pytest.mark.parametrize("name", ["dose", "vaccination", "product"])
@pytest.mark.parametrize("field", ["milk_h", "meat_d"])
def test_withholding_takes_the_longer_of_two_claims(name: str, field: str) -> None:
    spec = CATALOGUE[name].fields[field]
    unit = "h" if field == "milk_h" else "d"
    assert spec.strictest([[96, 0, unit], [12, 0, unit]]) == [96, 0, unit]
    assert spec.strictest([[5, 0, "d"], [96, 0, "h"]]) == [5, 0, "d"]
    assert spec.strictest([[3, 0, "d"], [96, 0, "h"]]) == [96, 0, "h"]


def test_other_strict_orders_take_the_safe_end() -> None:
    dose, product = CATALOGUE["dose"].fields, CATALOGUE["product"].fields
    assert dose["on"].strictest(["2026-02-22", "2026-02", "2026-02-22T06:30:00Z"]) == "2026-02"
    assert product["expiry"].strictest(["2027-01-01", "2026-06-01"]) == "2026-06-01"
    assert product["milk_never"].strictest([True, False]) is True
    assert CATALOGUE["castration"].fields["complete"].strictest([True, False]) is False
    assert product["counted_from"].strictest(["later-of-both", "kidding"]) == "later-of-both"


def test_without_a_strict_order_the_last_counts_and_ties_go_to_the_last() -> None:
    assert CATALOGUE["animal"].fields["name"].strictest(["Agate", "Opal"]) == "Opal"
    equal = CATALOGUE["dose"].fields["milk_h"].strictest([[4, 0, "d"], [96, 0, "h"]])
    assert equal == [96, 0, "h"]


def test_pair_rules() -> None:
    dose = CATALOGUE["dose"].pair
    assert dose and dose.within_hours == 12 and dose.or_same_date and dose.even_if_seen
    for name in ("hoof-trim", "disbudding", "castration", "tattoo", "weighing"):
        rule = CATALOGUE[name].pair
        assert rule and rule.within_hours == 48 and not rule.even_if_seen
    milk = CATALOGUE["milk"].pair
    assert milk and milk.same_fields == ("doe", "milking") and milk.or_same_date
    kidding = CATALOGUE["kidding"].pair
    assert kidding and kidding.within_hours == 720
    animal = CATALOGUE["animal"].pair
    assert animal and ("dam", "born", "sex") in animal.any_of
    for name in ("note", "feed", "feeding", "check"):
        assert CATALOGUE[name].pair is None


def test_procedures_a_check_may_follow_exist() -> None:
    assert set(FOLLOWED) <= set(CATALOGUE)


def test_a_kind_is_found_or_the_nearest_named() -> None:
    assert kind_named("hoof-trim") is CATALOGUE["hoof-trim"]
    with pytest.raises(Refused, match="hoof-trim"):
        kind_named("hooftrim")
    with pytest.raises(Refused, match="Kinds are"):
        kind_named("\x1b" * 5000)
