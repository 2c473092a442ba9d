"""What a choice would change is foretold, and nothing of the trial stays."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acts.test_taking_part import Farmyard


@pytest.fixture
def yard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Farmyard:
    yard = Farmyard(tmp_path, monkeypatch)
    with yard.open("house") as farm:
        farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2020-03-01"})
        farm.record("product", {"substance": "Inventol", "milk_h": "96", "meat_d": "9"})
    yard.join("barn", "Ravi")
    return yard


def test_a_choice_between_two_withdrawals_foretells_the_hold(yard: Farmyard) -> None:
    with yard.open("house") as farm:
        given = {"animal": "Agate", "product": "Inventol", "on": "2026-11-19T06:00:00+00:00"}
        dose = farm.record("dose", given).id
    yard.meet("house", "barn")
    with yard.open("house") as farm:
        farm.amend(dose, ["milk_h=72"], because="read the label again")
    with yard.open("barn") as farm:
        farm.amend(dose, ["milk_h=48"], because="the vet said so on the phone")
    yard.meet("house", "barn")
    with yard.open("house") as farm:
        (conflict,) = farm.conflicts()
        before = farm.verify().entries
        claims = {claim.value["milk_h"]: claim.id for claim in conflict.claims}
        held = farm.holds("Agate")[0].until
        told = farm.consequences(conflict.id, take=claims[48])
        assert "Agate: milk not for sale until 2026-11-21 06:00, not 2026-11-23 06:00." in told[0]
        assert farm.verify().entries == before
        assert farm.holds("Agate")[0].until == held
        assert [one.id for one in farm.conflicts()] == [conflict.id]
        farm.resolve(conflict.id, take=claims[48])
        assert farm.holds("Agate")[0].until == "2026-11-21T06:00:00+00:00"


def test_saying_same_foretells_what_is_asked_for(yard: Farmyard) -> None:
    with yard.open("house") as farm:
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-09-24", "front_left": "ok"})
    with yard.open("barn") as farm:
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-09-25", "front_left": "nicked"})
    yard.meet("house", "barn")
    with yard.open("house") as farm:
        (conflict,) = farm.conflicts()
        told = farm.consequences(conflict.id, same=True)
        assert farm.consequences(conflict.id, same=False) == []
        assert told and all(one.startswith("Agate: ") for one in told)
        # Work that the other of the two records would ask for is one piece of work, not two.
        works = [one.split("'")[1] for one in told]
        assert len(works) == len(set(works))
        assert [one.id for one in farm.conflicts()] == [conflict.id]
        assert farm.verify().faults == []


def test_work_asked_for_by_the_other_record_as_before_is_no_change(yard: Farmyard) -> None:
    with yard.open("house") as farm:
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-09-24T17:00:00+00:00"})
    with yard.open("barn") as farm:
        farm.record("hoof-trim", {"animal": "Agate", "on": "2026-09-24T17:30:00+00:00"})
    yard.meet("house", "barn")
    with yard.open("house") as farm:
        (conflict,) = farm.conflicts()
        assert [one for one in farm.consequences(conflict.id, same=True) if "hooves" in one] == []
