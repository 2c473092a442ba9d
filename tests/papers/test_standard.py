"""ICAR-ADE JSON v1.3: required fields and enumerations as the published schemas (v1.3.2, 2023) have them.

`herdsync.papers.standard` holds what was read in them:
icarAnimalCoreResource.json and the other resources, types/icarIdentifierType.json (id, scheme),
types/icarMetaDataType.json (source, modified), types/icarDateTimeType.json (RFC 3339 with Z), enums/*.json.
The models of the registry package ICAR-pydantic, made from the schemas of v1.4, check what goes out too.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync import founding
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.papers import standard as words
from herdsync.papers.standard_in import members_of
from herdsync.wall import Wall
from tests.cli.laptops import Laptops
from tests.papers.conftest import AT
from tests.papers.test_printing import fill

UTC_WITH_Z = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
# Where an enumeration stands in a resource, and its words.
ENUMS: dict[str, tuple[str, ...]] = {
    "gender": words.GENDER, "status": words.STATUS, "inseminationType": words.SERVICE_TYPES,
    "calvingEase": tuple(words.EASE.values()), "arrivalReason": words.ARRIVAL_REASONS,
    "departureKind": words.DEPARTURE_KINDS, "deathMethod": words.DEATH_METHODS,
    "productType": words.PRODUCTS, "lactationType": words.LACTATION_TYPES,
    "result": words.CHECK_RESULTS, "units": tuple(words.WEIGHT_UNITS),
    "doseUnits": tuple(words.DOSE_UNITS), "unitCode": ("KGM",), "specie": ("Goat",),
}  # fmt: skip
METHODS = {words.WEIGHT: words.WEIGHT_METHODS, words.PREGNANCY: words.CHECK_METHODS}


def lifetime(farm: Farm) -> None:
    """One record of every sort that the standard has a resource for."""
    fill(farm)
    told: list[tuple[str, dict[str, str]]] = [
        ("weighing", {"animal": "Agate", "on": "2026-05-01", "weight_kg": "120.5 lb", "how": "tape"}),
        ("weighing", {"animal": "Agate", "on": "2026-05-02", "weight_kg": "55 kg"}),
        ("hoof-trim", {"animal": "Agate", "on": "2026-05-20", "front_left": "ok"}),
        ("disbudding", {"animal": "Shale", "on": "2026-03-20"}),
        ("heat", {"doe": "Agate", "on": "2026-04-30"}),
        ("mating", {"doe": "Agate", "on": "2026-04-01", "how": "pen", "until": "2026-04-20"}),
        ("pregnancy-check", {"doe": "Agate", "on": "2026-05-31", "result": "bred", "how": "scan",
                             "kids": "2"}),
        ("kidding", {"doe": "Agate", "on": "2026-03-13", "ease": "some-help", "born_alive": "1",
                     "born_dead": "1"}),
        ("abortion", {"doe": "Agate", "on": "2024-03-13"}),
        ("dry-off", {"doe": "Agate", "on": "2026-01-13"}),
        ("arrival", {"animal": "Flint", "on": "2023-03-13", "how": "bought"}),
        ("leaving", {"animal": "Flint", "on": "2026-05-25", "how": "sold"}),
        ("test-day", {"doe": "Agate", "on": "2026-04-20", "milk_kg": "3.2", "fat_percent": "3.9",
                      "protein_percent": "3.1", "cells_per_ml": "1500000"}),
        ("animal", {"name": "Opal", "sex": "doe", "born": "2015-01-01"}),
        ("death", {"animal": "Opal", "on": "2026-05-01", "how": "put-down", "cause": "age"}),
    ]  # fmt: skip
    for kind, pairs in told:
        farm.record(kind, pairs)
    gone = farm.record("weighing", {"animal": "Shale", "on": "2026-05-01", "weight_kg": "9"}).id
    farm.retract(gone, "another kid")


def exported(farm: Farm, folder: Path) -> list[dict[str, Any]]:
    farm.export_standard(folder / "ade.json")
    told: dict[str, Any] = json.loads((folder / "ade.json").read_text())
    assert told["view"]["totalItems"] == len(told["member"])
    members: list[dict[str, Any]] = told["member"]
    return members


def test_every_resource_has_what_the_standard_requires(farm: Farm, tmp_path: Path) -> None:
    lifetime(farm)
    members = exported(farm, tmp_path)
    assert {one["resourceType"] for one in members} == set(words.REQUIRED)
    for one in members:
        for field in words.REQUIRED[one["resourceType"]]:
            assert field in one, (one["resourceType"], field)
        for identifier in (
            one.get("animal"),
            one.get("identifier"),
            *one.get("alternativeIdentifiers", []),
        ):
            assert identifier is None or set(identifier) == set(words.IDENTIFIER)
        assert set(words.META) <= set(one["meta"])
        for parent in one.get("parentage", []):
            assert set(words.PARENT) <= set(parent)
        _hold_words(one, one["resourceType"])


def test_the_models_made_from_the_published_schemas_take_every_resource(
    farm: Farm, tmp_path: Path
) -> None:
    """ICAR-pydantic 1.4.0 (MIT, made from the schemas in github.com/adewg/ICAR); no field is unknown."""
    models = pytest.importorskip("icar.resources", reason="needs the package icar-pydantic")
    lifetime(farm)
    for one in exported(farm, tmp_path):
        name = str(one["resourceType"])
        model = getattr(models, name[:1].upper() + name[1:])
        model.model_validate(one)
        assert _strangers(model, one) == []


def _strangers(model: Any, told: Any) -> list[str]:
    """Fields that a model does not know, at any depth."""
    if isinstance(told, list):
        return [found for one in told for found in _strangers(model, one)]
    if not isinstance(told, dict):
        return []
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    found = [name for name in told if name not in fields]
    for name in set(told) - set(found):
        for inner in _models(fields[name].annotation):
            found += _strangers(inner, told[name])
    return found


def _models(hint: Any) -> list[Any]:
    if hasattr(hint, "model_fields"):
        return [hint]
    return [found for inner in get_args(hint) for found in _models(inner)][:1]


def _hold_words(told: Any, resource: str) -> None:
    """Every enumeration holds one of its words, every time is UTC with Z."""
    if isinstance(told, list):
        for one in told:
            _hold_words(one, resource)
    if not isinstance(told, dict):
        return
    for name, value in told.items():
        if name in ENUMS:
            assert value in ENUMS[name], (name, value)
        if name == "method":
            assert value in METHODS[resource], value
        if name.endswith(("Date", "DateTime")) or name in ("modified", "created"):
            assert UTC_WITH_Z.fullmatch(value), (name, value)
        _hold_words(value, resource)


def test_figures_are_told_in_the_units_of_the_standard(farm: Farm, tmp_path: Path) -> None:
    lifetime(farm)
    members = exported(farm, tmp_path)

    def of(resource: str) -> list[dict[str, Any]]:
        return [
            one
            for one in members
            if one["resourceType"] == resource and not one["meta"]["isDeleted"]
        ]

    taped, weighed = of(words.WEIGHT)
    # 120.5 lb x 0.45359237; left out, a method would mean a load cell.
    assert taped["weight"] == {"measurement": 54.6579, "units": "KGM", "method": "Girth"}
    assert weighed["weight"]["method"] == "Assessed"
    (day,) = of(words.TEST_DAY)
    # C112: a cell count is text in thousands per millilitre: 1,500,000 is "1500".
    assert {one["characteristic"]: one["value"] for one in day["milkCharacteristics"]} == {
        "FAT": "3.9", "PROTEIN": "3.1", "SCC": "1500"
    }  # fmt: skip
    (dose,) = [one for one in of(words.TREATMENT) if "medicine" in one]
    assert dose["dose"] == {"doseQuantity": 2.5, "doseUnits": "MLT"}
    assert {one["productType"]: one["endDate"] for one in dose["withdrawals"]} == {
        "Milk": "2026-06-04T06:00:00Z", "Meat": "2026-06-28T06:00:00Z"
    }  # fmt: skip
    (check,) = of(words.PREGNANCY)
    assert (check["result"], check["foetusCount"]) == ("Multiple", 2)
    (kidding,) = of(words.KIDDING)
    assert (kidding["liveProgeny"], kidding["totalProgeny"]) == (1, 2)
    deleted = [one for one in members if one["meta"].get("isDeleted")]
    assert [one["resourceType"] for one in deleted] == [words.WEIGHT]


def test_what_went_out_comes_in_elsewhere_and_again_changes_nothing(
    pair: Laptops, tmp_path: Path
) -> None:
    pair.ask(
        "house",
        "record",
        "animal",
        "name=Agate",
        "sex=doe",
        "born=2021-03-01",
        "chip=276000312312345",
    )
    pair.ask("house", "record", "animal", "name=Shale", "sex=buck", "born=2026-03-01", "dam=Agate")
    pair.ask("house", "record", "weighing", "animal=Shale", "on=2026-03-02", "weight_kg=8 lb")
    pair.ask(
        "house", "record", "mating", "doe=Agate", "on=2026-02-02", "how=pen", "until=2026-02-20"
    )
    file = str(tmp_path / "ade.json")
    pair.ask("house", "export", "ade", file)
    own = pair.ask("house", "import", file, "--kind", "ade")
    assert (own["written"], own["refused"]) == (0, [])
    pair.ask("desk", "found", "Fell", "--keeper", "Ida", "--device", "desk")
    dry = pair.ask("desk", "import", file, "--kind", "ade", "--dry-run")
    assert (dry["written"], dry["refused"]) == (4, [])
    done = pair.ask("desk", "import", file, "--kind", "ade")
    assert (done["written"], done["refused"]) == (4, [])
    assert pair.ask("desk", "import", file, "--kind", "ade")["written"] == 0
    herd = {one["name"]: one for one in pair.ask("desk", "herd")}
    assert herd["Shale"]["dam_name"] == "Agate"
    assert herd["Agate"]["born"] == "2021-03-01"
    acts = pair.ask("desk", "show", "Shale")["acts"]
    assert [one["shown"] for one in acts] == ["weight 3.6287 kg, how by-eye"]


def test_a_whole_lifetime_goes_round_by_another_farm(farm: Farm, tmp_path: Path) -> None:
    """Animals, weights, treatments, withdrawals, matings, checks, kiddings, movements, test days,
    lactations: what the other farm tells is what it was told, but for ids, and who told it.
    """
    lifetime(farm)
    ours = exported(farm, tmp_path)
    founding.found(tmp_path / "other", Wall(AT), name="Fell", keeper="Ida", device="desk")
    with Farm.open(tmp_path / "other", Wall(AT)) as other:
        # What a medicine holds is typed off its label; without its sheet here a dose names nothing known.
        missing = other.import_standard(tmp_path / "ade.json", dry_run=True)
        assert any("Examplin 10" in one.why for one in missing.refused)
        other.record("product", {"substance": "examplin", "name": "Examplin 10"})
        done = other.import_standard(tmp_path / "ade.json")
        assert sorted(one.why.split(" ")[0] for one in done.refused) == [
            words.LACTATION, words.WITHDRAWAL, words.WITHDRAWAL, "it"
        ]  # fmt: skip
        (tmp_path / "there").mkdir()
        theirs = exported(other, tmp_path / "there")
    assert bare(theirs) == bare(ours)


def bare(members: list[dict[str, Any]]) -> list[str]:
    """Resources that stand, without ids and who told them; animals by their names."""
    names = {
        one["identifier"]["id"]: one["name"]
        for one in members
        if one["resourceType"] == words.ANIMAL
    }

    def plain(told: Any) -> Any:
        if isinstance(told, dict) and set(told) == set(words.IDENTIFIER):
            return names.get(told["id"], [told["id"], told["scheme"].rsplit(".", 1)[-1]])
        if isinstance(told, dict):
            left_out = ("meta", "id", "responsible")
            return {name: plain(one) for name, one in told.items() if name not in left_out}
        return [plain(one) for one in told] if isinstance(told, list) else told

    standing = [one for one in members if not one["meta"].get("isDeleted")]
    return sorted(json.dumps(plain(one), sort_keys=True) for one in standing)


def test_a_withdrawal_told_with_a_treatment_holds_here_and_is_never_shortened(
    farm: Farm, tmp_path: Path
) -> None:
    """Ends are rounded up to whole hours of milk and whole days of meat."""
    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"})
    farm.record("mating", {"doe": "Agate", "on": "2025-10-01"})
    farm.record("kidding", {"doe": "Agate", "on": "2026-03-01"})
    farm.record("product", {"substance": "examplin", "name": "Examplin 10"})
    treated = resource(
        resourceType=words.TREATMENT, eventDateTime="2026-05-31T06:00:00Z",
        medicine={"name": "Examplin 10", "family": words.FAMILY},
        withdrawals=[{"productType": "Milk", "endDate": "2026-06-04T05:30:00Z"},
                     {"productType": "Meat", "endDate": "2026-06-20T05:00:00Z"}],
    )  # fmt: skip
    (tmp_path / "in.json").write_text(json.dumps([treated]))
    assert farm.import_standard(tmp_path / "in.json").refused == []
    until = {hold.what: hold.until for hold in farm.holds("Agate")}
    assert until["milk not for sale"] == "2026-06-04T06:00:00+00:00"
    assert until["meat not for sale"] == "2026-06-20T06:00:00+00:00"


def resource(**told: Any) -> dict[str, Any]:
    base = {
        "resourceType": "icarWeightEventResource", "id": "ev-7", "eventDateTime": "2026-03-10T06:30:00Z",
        "animal": {"scheme": "org.example.herd", "id": "Agate"},
        "weight": {"measurement": 54.2, "units": "KGM", "method": "Girth"},
        "meta": {"source": "org.example.herd", "sourceId": "ev-7", "modified": "2026-03-10T06:31:00Z"},
    }  # fmt: skip
    return base | told


@pytest.mark.parametrize(
    ("told", "why"),
    [
        (7, "no resource"),
        ({"resourceType": "icarFeedIntakeEventResource"}, "has no record here"),
        ({k: v for k, v in resource().items() if k != "animal"}, "lacks animal"),
        ({k: v for k, v in resource().items() if k != "eventDateTime"}, "eventDateTime"),
        (resource(animal={"id": "Agate"}), "lacks id or scheme"),
        (resource(animal={"scheme": "x", "id": "Nobody"}), "Nothing here is called"),
        (resource(eventDateTime="10 March"), "RFC 3339"),
        (resource(eventDateTime="2026-03-10T06:30:00"), "offset"),
        (resource(eventDateTime="0001-01-01T00:30:00+14:00"), "outside the years"),
        (resource(resourceType="icarTreatmentEventResource", medicine={"name": "Examplin"},
                  withdrawals=[{"endDate": "9999-12-31T23:59:59-10:00"}]), "outside the years"),
        (resource(weight={"measurement": True}), "no weight"),
        (resource(weight={"measurement": 5, "units": "STN"}), "unit of weight"),
        (resource(weight={"measurement": 1e300}), "weight"),
        (resource(meta={"isDeleted": True}), "deleted"),
        (resource(resourceType="icarAnimalCoreResource", identifier={"id": "1", "scheme": "s"},
                  specie="Cattle", gender="Female"), "keeps goats"),
        (resource(resourceType="icarReproInseminationEventResource", inseminationType="Cloning"),
         "no service"),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_is_told_and_the_rest_is(
    farm: Farm, tmp_path: Path, told: Any, why: str
) -> None:
    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"})
    members = [
        resource(),
        told,
        resource(id="ev-8", meta={"source": "s", "sourceId": "ev-8", "modified": "x"}),
    ]
    (tmp_path / "in.json").write_text(json.dumps({"member": members}))
    done = farm.import_standard(tmp_path / "in.json")
    assert done.written == 2
    assert [one.line for one in done.refused] == [2]
    assert why in done.refused[0].why


def test_a_worked_example_of_the_standard_form(farm: Farm, tmp_path: Path) -> None:
    """Resource names are taken in full and by their middle, as exchanges write them."""
    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"})
    (tmp_path / "in.json").write_text(json.dumps([resource(resourceType="WeightEvent")]))
    farm.import_standard(tmp_path / "in.json")
    (act,) = [one for one in farm.show("Agate").acts if one.kind == "weighing"]
    assert act.shown == "weight 54.2 kg, how girth-tape"
    assert act.on.startswith("2026-03-10T06:30:00")


@pytest.mark.parametrize(
    "raw", [b"", b"{", b"\xff\xfe", b"[" * 100_000, b'{"member": 7}', b"[NaN]", b'"x"', b"7"]
)
def test_files_that_are_none_are_refused(raw: bytes) -> None:
    with pytest.raises(Refused):
        members_of(raw)


@given(st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.sampled_from([*words.REQUIRED, "resourceType", "animal", "identifier", "id", "scheme", "meta",
                         "weight", "specie", "gender", "eventDateTime", "parentage"]), inner, max_size=5),
    max_leaves=12,
))  # fmt: skip
def test_any_json_becomes_lines_or_sentences(told: Any) -> None:
    from zoneinfo import ZoneInfo

    from herdsync.papers.standard_in import identities, standard_lines

    for name in (words.WEIGHT, words.ANIMAL, words.TREATMENT, words.TEST_DAY):
        members = [told, {"resourceType": name, "animal": told, "weight": told, "identifier": told,
                          "specie": "Goat", "gender": told, "eventDateTime": told, "parentage": told,
                          "medicine": told, "dose": told, "milkCharacteristics": told,
                          "alternativeIdentifiers": told, "batches": told, "meta": told}]  # fmt: skip
        identities(members)
        for line in standard_lines(members, lambda scheme, id: id, ZoneInfo("UTC"), "own"):
            assert line.why or line.pairs


def test_a_member_refused_is_told_by_its_place_in_the_file(pair: Laptops, tmp_path: Path) -> None:
    file = tmp_path / "animals.json"
    file.write_text('{"member": [{"resourceType": "icarWeightEventResource"}, 5]}')
    told = pair.type("house", "import", str(file), "--kind", "ade", "--dry-run")
    assert told.code == 0
    assert "refused 2." in told.out
    assert "  member 2: it is no resource." in told.out
