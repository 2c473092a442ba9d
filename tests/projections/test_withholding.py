"""What doses hold, seen dose by dose: nothing that is over is dropped early, nothing named wrongly."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from herdsync.projections.goat import Goat
from herdsync.projections.holds import MEAT, MILK, running_holds
from herdsync.projections.withholding import FIELDS, What, given_to, held_by, still_held_by
from tests.farmyard import Yard
from tests.projections.board import days, goat_of, herd_at, hold, hours

LAST = "2025-03-10T06:00:00+00:00"
PRODUCT = {"substance": "quillicillin"}


def product(yard: Yard, name: str = "Quill", **told: Any) -> bytes:
    return yard.write("house", "product", name=name, **PRODUCT, **told)


def dose(yard: Yard, animal: bytes, on: str = LAST, **told: Any) -> bytes:
    return yard.write("house", "dose", animal=animal, on=on, **told)


def goat_at(yard: Yard, animal: bytes, at: str) -> Goat:
    return goat_of(herd_at(yard, at), animal)


def differ(yard: Yard, record: bytes, one: dict[str, Any], other: dict[str, Any]) -> None:
    """Two keepers who know nothing of each other correct one record."""
    yard.meet()
    yard.amend("house", record, because="I gave it", **one)
    yard.amend("barn", record, because="I was there", **other)
    yard.meet()


def test_what_is_left_out_as_over_is_over(yard: Yard, agate: bytes) -> None:
    """The quick look and the whole look hold alike at every noon and midnight of a long year."""
    for n, on in (
        (1, LAST),
        (24, "2025-03-10"),
        (96, "2025-03"),
        (2400, LAST),
        (8784, "2025-03-09"),
    ):
        plain = product(yard, milk_h=hours(n), meat_d=days(n // 24))
        dose(yard, agate, on, product=plain)
    short = product(yard, milk_h=hours(12), meat_d=days(1))
    long = product(yard, milk_h=hours(480), meat_d=days(50))
    dose(yard, agate, LAST, product=short, milk_h=hours(240), meat_d=days(30))
    disputed = dose(yard, agate, LAST, product=short)
    differ(yard, disputed, {"product": short}, {"product": long})
    for first, then in ((short, long), (long, short)):
        yard.amend("house", dose(yard, agate, LAST, product=first), product=then)
    when = dose(yard, agate, LAST, product=short)
    differ(yard, when, {"on": "2025-03-08"}, {"on": "2025-03-30"})
    never = product(yard, milk_h=hours(0), meat_d=days(0), milk_never=True)
    dose(yard, agate, "2025-03-01", product=never)
    kidding = product(yard, milk_h=hours(24), meat_d=days(1), counted_from="kidding")
    dose(yard, agate, "2025-02-01", product=kidding)
    dose(yard, agate, "2025-02-02", product=product(yard))
    begin = datetime.fromisoformat("2025-03-01T00:00:00+00:00")
    for half in (*range(160), *range(160, 2600, 7)):
        at = begin + timedelta(hours=12 * half)
        goat = goat_at(yard, agate, at.isoformat())
        for what in FIELDS:
            whole, quick = held_by(goat, what), still_held_by(goat, what)
            assert [one for one in whole if one.holds(at)] == [
                one for one in quick if one.holds(at)
            ]


def test_a_corrected_or_doubled_word_holds_as_long_as_the_longest(yard: Yard, agate: bytes) -> None:
    # By hand: 24 h from the 10th are over on the 11th; 480 h last until the 30th.
    short, long = product(yard, milk_h=hours(24)), product(yard, milk_h=hours(480))
    disputed = dose(yard, agate, product=short)
    differ(yard, disputed, {"product": short}, {"product": long})
    found = hold(yard, agate, MILK, "2025-03-29")
    assert found is not None and found.until == "2025-03-30T06:00:00+00:00" and found.disputed
    own = yard.animal("Opal", sex="doe", born="2020-03-01")
    dose(yard, own, product=short, milk_h=hours(480))
    found = hold(yard, own, MILK, "2025-03-29")
    assert found is not None and found.until == "2025-03-30T06:00:00+00:00" and not found.disputed


def test_a_hold_names_the_product_whose_word_it_is(yard: Yard, agate: bytes) -> None:
    zinnia, aster = (
        product(yard, "Zinnia", milk_h=hours(24)),
        product(yard, "Aster", milk_h=hours(36)),
    )
    given = dose(yard, agate, product=zinnia)
    differ(
        yard,
        given,
        {"product": zinnia, "milk_h": hours(240)},
        {"product": aster, "milk_h": hours(48)},
    )
    found = hold(yard, agate, MILK, "2025-03-11")
    assert found is not None
    assert found.reason.startswith("Zinnia given 2025-03-10: ") and "held 240 hours" in found.reason


def test_a_dispute_about_the_product_is_one_about_the_hold(yard: Yard, agate: bytes) -> None:
    plain = product(yard, milk_h=hours(96))
    dose(yard, agate, product=plain)
    differ(yard, plain, {"milk_h": hours(72)}, {"milk_h": hours(120)})
    found = hold(yard, agate, MILK, "2025-03-11")
    assert found is not None and found.disputed and found.until == "2025-03-15T06:00:00+00:00"


def test_a_dose_of_nothing_on_record_holds_and_says_so(yard: Yard, agate: bytes) -> None:
    dose(yard, agate, product=b"\7" * 16)
    found = hold(yard, agate, MILK, "2025-03-11")
    assert found is not None and found.until == "" and len(found.records) == 1
    assert found.reason.startswith("a product not on record given 2025-03-10: no milk withdrawal")
    own = yard.animal("Opal", sex="doe", born="2020-03-01")
    dose(yard, own, product=b"\7" * 16, milk_h=hours(24))
    found = hold(yard, own, MILK, "2025-03-10")
    assert found is not None and found.until == "2025-03-11T06:00:00+00:00"


@pytest.mark.parametrize(
    ("what", "last", "free"),
    [
        # 366 and 3 x 366 days after the last day it can have been given: ours, no label is longer.
        (MILK, "2026-03-11T23:59:59+00:00", "2026-03-12T00:00:01+00:00"),
        (MEAT, "2028-03-12T23:59:59+00:00", "2028-03-13T00:00:01+00:00"),
    ],
)
def test_a_dose_of_which_nothing_is_known_holds_until_no_label_could(
    yard: Yard, agate: bytes, what: str, last: str, free: str
) -> None:
    dose(yard, agate, "2025-03-10", product=product(yard))
    assert hold(yard, agate, what, last) is not None
    assert hold(yard, agate, what, free) is None


def test_a_product_put_right_no_longer_asks_for_the_period_of_the_wrong_one(
    yard: Yard, agate: bytes
) -> None:
    given = dose(yard, agate, product=product(yard, "Bare"))
    found = hold(yard, agate, MILK, "2025-03-11")
    assert found is not None and found.until == ""
    yard.amend("house", given, product=product(yard, milk_h=hours(96)))
    found = hold(yard, agate, MILK, "2025-03-11")
    assert found is not None and found.until == "2025-03-14T06:00:00+00:00"


def test_bucks_give_no_milk_and_whose_sex_is_in_doubt_may(yard: Yard) -> None:
    both = product(yard, milk_h=hours(96), meat_d=days(9))
    buck = yard.animal("Basalt", sex="buck", born="2018-03-01")
    dose(yard, buck, product=both)
    assert hold(yard, buck, MILK, "2025-03-11") is None
    assert hold(yard, buck, MEAT, "2025-03-11") is not None
    assert [held_by(goat_at(yard, buck, "2025-03-11"), what) == [] for what in FIELDS] == [
        True,
        False,
    ]
    doubt = yard.animal("Shale", sex="doe", born="2020-03-01")
    dose(yard, doubt, product=both)
    yard.amend("house", doubt, sex="buck")
    assert hold(yard, doubt, MILK, "2025-03-11") is not None
    yard.amend("house", doubt, sex="buck", because="looked underneath")
    assert hold(yard, doubt, MILK, "2025-03-11") is None


def test_only_medicines_are_given(yard: Yard, agate: bytes) -> None:
    yard.write("house", "weighing", animal=agate, on=LAST, weight_kg=[50, 0, "kg"])
    dose(yard, agate, product=product(yard, milk_h=hours(96)))
    yard.write("house", "vaccination", animal=agate, on=LAST, product=product(yard))
    found = given_to(goat_at(yard, agate, "2025-03-11"))
    assert sorted(one.kind for one in found) == ["dose", "vaccination"]


@pytest.mark.parametrize(
    ("told", "what", "words"),
    [
        ({"milk_h": hours(9999)}, "milk", "a milk withdrawal of 9999 hours cannot be right"),
        ({"meat_d": days(2000)}, "meat", "a meat withdrawal of 2000 days cannot be right"),
    ],
)
def test_figures_no_label_has_are_named_in_their_unit(
    yard: Yard, agate: bytes, told: dict[str, Any], what: What, words: str
) -> None:
    dose(yard, agate, product=product(yard, **told))
    herd = herd_at(yard, "2025-03-11")
    (held,) = running_holds(herd, goat_of(herd, agate), what)
    assert (held.clear.at, words in held.clear.reason) == (None, True)


@pytest.mark.parametrize(
    ("kiddings", "clear"),
    [
        # 96 h after the kidding, by hand. Told twice, the later one counts.
        (["2025-03-01T06:00:00+00:00", "2025-03-04T06:00:00+00:00"], "2025-03-08T06:00:00+00:00"),
        # 155 days on, the longest gestation (Storey's Guide, ch. 64), it is still this kidding.
        (["2025-03-01T06:00:00+00:00", "2025-06-14T06:00:00+00:00"], "2025-06-18T06:00:00+00:00"),
        (["2025-03-01T06:00:00+00:00", "2025-06-14T06:00:01+00:00"], "2025-03-05T06:00:00+00:00"),
        # None within a gestation: the next there is.
        (["2026-05-01T06:00:00+00:00", "2025-08-01T06:00:00+00:00"], "2025-08-05T06:00:00+00:00"),
        # Dosed as she kidded.
        (["2025-01-10T06:00:00+00:00"], "2025-01-14T06:00:00+00:00"),
        (["2025-01-10T05:59:59+00:00"], ""),
    ],
)
def test_the_kidding_a_dry_period_medicine_counts_from(
    yard: Yard, agate: bytes, kiddings: list[str], clear: str
) -> None:
    dry = product(yard, milk_h=hours(96), counted_from="kidding")
    dose(yard, agate, "2025-01-10T06:00:00+00:00", product=dry)
    for on in kiddings:
        yard.write("house", "kidding", doe=agate, on=on)
    herd = herd_at(yard, "2026-06-01")
    (held,) = held_by(goat_of(herd, agate), "milk")
    assert ("" if held.clear.at is None else held.clear.at.isoformat()) == clear


def test_of_a_dose_known_by_its_month_no_kidding_of_that_month_frees(
    yard: Yard, agate: bytes
) -> None:
    dry = product(yard, milk_h=hours(96), counted_from="kidding")
    dose(yard, agate, "2025-02", product=dry)
    yard.write("house", "kidding", doe=agate, on="2025-02-10T06:00:00+00:00")
    found = hold(yard, agate, MILK, "2025-03-20")
    assert found is not None and "dosed after it: held, ask the vet" in found.reason
