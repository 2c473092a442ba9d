"""Safety only grows: what a register holds for holds and intervals, over every small history of it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.merge.folding import register_of
from herdsync.merge.payloads import AMEND, RECORD, RESOLVE
from herdsync.merge.records import Author, Claim, Record
from tests.farmyard import Yard

H48, H96 = [48, 0, "h"], [96, 0, "h"]


def product(yard: Yard) -> bytes:
    id = yard.write("house", "product", substance="Quillsan", milk_h=H96)
    yard.meet()
    return id


def counted(yard: Yard, id: bytes, device: str = "") -> list[object]:
    record = yard.records(device).get(id)
    assert record is not None
    return record.safety_values("milk_h")


def test_an_amendment_with_its_reason_counts_at_once(yard: Yard) -> None:
    id = product(yard)
    yard.amend("house", id, because="label read again", milk_h=H48)
    assert counted(yard, id) == [H48]


@pytest.mark.parametrize("because", ["", " ", "\n\t"])
def test_an_amendment_without_a_reason_only_adds(yard: Yard, because: str) -> None:
    id = product(yard)
    yard.amend("house", id, because=because, milk_h=H48)
    assert counted(yard, id) == [H96, H48]
    yard.amend("house", id, because="label read again", milk_h=H48)
    assert counted(yard, id) == [H48]


def test_a_reason_given_apart_from_another_account_frees_nothing_until_resolved(yard: Yard) -> None:
    id = product(yard)
    yard.amend("house", id, because="label read again", milk_h=H48)
    yard.amend("barn", id, milk_h=[24, 0, "h"])
    yard.meet()
    assert sorted(map(str, counted(yard, id))) == ["[24, 0, 'h']", "[48, 0, 'h']", "[96, 0, 'h']"]
    (conflict,) = yard.conflicts()
    yard.resolve("barn", conflict, milk_h=H48)
    yard.meet()
    assert counted(yard, id) == [H48]


def test_an_agreeing_account_without_a_reason_cannot_free_through_a_later_one(yard: Yard) -> None:
    # Both say 48 hours, one with the reason; the next plain amendment cites both and gives none.
    id = product(yard)
    yard.amend("house", id, because="label read again", milk_h=H48)
    yard.amend("barn", id, milk_h=H48)
    yard.meet()
    assert yard.conflicts() == []
    assert H96 in counted(yard, id)
    yard.amend("house", id, milk_h=[50, 0, "h"])
    assert H96 in counted(yard, id)
    yard.amend("house", id, because="asked the veterinarian", milk_h=H48)
    assert counted(yard, id) == [H48]


def test_a_retraction_counts_for_safety_until_it_has_a_reason(yard: Yard) -> None:
    agate = yard.animal("Agate")
    dose = yard.write("house", "dose", animal=agate, product=product(yard), on="2026-01-02")
    yard.retract("house", dose, because="")
    assert yard.records().naming(agate, "dose") == []
    assert [one.id for one in yard.records().safety_only(agate, "dose")] == [dose]
    yard.restore("house", dose)
    yard.retract("house", dose, because="was given to another")
    assert yard.records().safety_only(agate, "dose") == []


def test_a_dose_moved_to_another_animal_without_a_reason_holds_both(yard: Yard) -> None:
    agate, opal = yard.animal("Agate"), yard.animal("Opal")
    dose = yard.write("house", "dose", animal=agate, product=product(yard), on="2026-01-02")
    yard.amend("house", dose, animal=opal)
    assert all(
        [one.id for one in yard.records().naming(id, "dose")] == [dose] for id in (agate, opal)
    )
    yard.amend("house", dose, because="wrong ear read", animal=opal)
    assert yard.records().naming(agate, "dose") == []


def test_what_a_stranger_or_helper_amends_is_added_never_taken(yard: Yard) -> None:
    yard.admit("shed", "Jun", role="helper")
    yard.admit("porch", "Ann", role="reader")
    yard.meet()
    id = product(yard)
    yard.meet()
    for device, hours in (("shed", 1), ("porch", 2)):
        yard.amend(device, id, because="I say so", milk_h=[hours, 0, "h"])
    yard.meet()
    record = yard.records().get(id)
    assert record is not None
    assert record.values("milk_h") == [H96]
    assert sorted(map(str, counted(yard, id))) == ["[1, 0, 'h']", "[2, 0, 'h']", "[96, 0, 'h']"]


def claim(place: int, cites: list[int], because: str, verb: str, vouched: bool) -> Claim:
    author = Author(b"d", "", "", 0, place, False)
    ids = [bytes([one]) * 16 for one in cites]
    return Claim(
        bytes([place]) * 16, b"r", "milk_h", {"milk_h": place}, ids, verb, author, because, vouched
    )


def record_of(claims: list[Claim]) -> Record:
    return Record(b"r" * 16, [b"r" * 16], "product", {"milk_h": register_of(claims)})


def told(claims: list[Claim]) -> set[object]:
    return set(record_of(claims).safety_values("milk_h"))


def small_histories(size: int) -> Iterator[list[Claim]]:
    """Every register of up to ``size`` claims: who cites whom, who gives a reason."""
    options = []
    for place in range(size):
        subsets = [[one for one in range(place) if bits >> one & 1] for bits in range(2**place)]
        options.append([(cites, because) for cites in subsets for because in ("", "seen")])
    for choice in itertools.product(*options):
        yield [
            claim(place, cites, because if place else "", AMEND if place else RECORD, True)
            for place, (cites, because) in enumerate(choice)
        ]


def test_no_claim_without_a_reason_takes_a_value_in_any_register_of_four() -> None:
    tried = 0
    for claims in small_histories(4):
        if not claims[-1].because:
            tried += 1
            assert told(claims[:-1]) <= told(claims)
    assert tried > 100


@given(
    st.lists(
        st.tuples(
            st.sets(st.integers(0, 8)), st.sampled_from(["", " ", "seen"]), st.booleans(), st.booleans()
        ),
        min_size=1, max_size=9,
    ),
    st.integers(0, 8),
)  # fmt: skip
def test_a_claim_that_comes_late_takes_nothing_either(
    steps: list[tuple[set[int], str, bool, bool]], late: int
) -> None:
    # The late one is missing at first: those that do not build on it were written without it.
    claims = [
        claim(place, sorted(one for one in cites if one < place), because,
              RESOLVE if resolves and because else AMEND, vouched)
        for place, (cites, because, resolves, vouched) in enumerate(steps)
    ]  # fmt: skip
    if late >= len(claims):
        return
    decides = bool(claims[late].because.strip()) or claims[late].verb == RESOLVE
    if decides and claims[late].vouched:
        return
    built: set[bytes] = {claims[late].entry}
    for one in claims:
        if built & set(one.cites):
            built.add(one.entry)
    without = [one for one in claims if one.entry not in built]
    assert told(without) <= told([*without, claims[late]])


def test_values_that_stand_or_are_unvouched_always_count() -> None:
    for claims in small_histories(4):
        record = record_of(claims)
        assert set(record.values("milk_h")) <= set(record.safety_values("milk_h"))
