"""What is held, animal by animal: milkings to discard, the first saleable one, kids it passes to."""

from __future__ import annotations

from typing import Any

import pytest

from herdsync.projections.held import held_animal, held_animals
from herdsync.projections.holds import LEAVING
from herdsync.reports import HeldAnimal
from tests.farmyard import Yard
from tests.projections.board import goat_of, herd_at

# Milked 06:00 and 18:00, dosed after the morning milking: 96 h discard 8, first saleable
# 2025-03-14 18:00; 36 h discard 3, first saleable 2025-03-12 06:00 (worked out by hand).
LAST = "2025-03-10T06:00:00+00:00"


@pytest.fixture
def yard() -> Yard:
    yard = Yard()
    yard.write("house", "setting", key="morning", value="06:00")
    yard.write("house", "setting", key="evening", value="18:00")
    return yard


def milker(yard: Yard, name: str = "Agate") -> bytes:
    doe = yard.animal(name, sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=doe, on="2025-01-10")
    return doe


def dosed(yard: Yard, animal: bytes, on: str = LAST, **told: Any) -> None:
    product = yard.write("house", "product", substance="quillicillin", **told)
    yard.write("house", "dose", animal=animal, product=product, on=on)


def seen(yard: Yard, animal: bytes, at: str = "2025-03-10") -> HeldAnimal:
    herd = herd_at(yard, at)
    return held_animal(herd, goat_of(herd, animal))


@pytest.mark.parametrize(
    ("period", "discarded", "first"),
    [(96, 8, "2025-03-14T18:00:00+00:00"), (36, 3, "2025-03-12T06:00:00+00:00")],
)
def test_the_milkings_to_discard_and_the_first_that_may_be_sold(
    yard: Yard, period: int, discarded: int, first: str
) -> None:
    agate = milker(yard)
    dosed(yard, agate, milk_h=[period, 0, "h"])
    dosed(yard, agate, milk_h=[12, 0, "h"])
    line = seen(yard, agate)
    assert (line.milkings_to_discard, line.first_saleable) == (discarded, first)
    assert "veterinarian" in line.caution


def test_of_a_dose_on_a_bare_day_every_milking_of_it_counts(yard: Yard) -> None:
    # The day ends at midnight: 24 h later is the midnight after; both milkings of both days.
    agate = milker(yard)
    dosed(yard, agate, "2025-03-10", milk_h=[24, 0, "h"])
    line = seen(yard, agate)
    assert (line.milkings_to_discard, line.first_saleable) == (4, "2025-03-12T06:00:00+00:00")


def test_of_a_dose_whose_time_is_disputed_the_later_one_counts(yard: Yard) -> None:
    agate = milker(yard)
    product = yard.write("house", "product", substance="quillicillin", milk_h=[36, 0, "h"])
    dose = yard.write("house", "dose", animal=agate, product=product, on=LAST)
    yard.meet()
    yard.amend("house", dose, on="2025-03-09T06:00:00+00:00", because="written a day late")
    yard.amend("barn", dose, on="2025-03-11T06:00:00+00:00", because="it was the morning after")
    yard.meet()
    line = seen(yard, agate)
    assert (line.milkings_to_discard, line.first_saleable) == (3, "2025-03-13T06:00:00+00:00")
    yard.amend("barn", dose, on="2025-03-11", because="nobody knows the hour")
    yard.meet()
    # By day: both milkings of the 11th and of the 12th, up to noon of the 13th its first.
    line = seen(yard, agate)
    assert (line.milkings_to_discard, line.first_saleable) == (5, "2025-03-13T18:00:00+00:00")


def test_no_number_where_she_is_dry_or_nothing_holds_or_no_end_is_known(yard: Yard) -> None:
    dry = yard.animal("Opal", sex="doe", born="2020-03-01")
    dosed(yard, dry, milk_h=[96, 0, "h"])
    meat_only = milker(yard, "Mica")
    dosed(yard, meat_only, milk_h=[0, 0, "h"], meat_d=[9, 0, "d"])
    endless = milker(yard, "Flint")
    dosed(yard, endless, milk_h=[0, 0, "h"], milk_never=True)
    for doe in (dry, meat_only, endless):
        line = seen(yard, doe, "2025-03-11")
        assert (line.milkings_to_discard, line.first_saleable) == (None, "")
        assert line.holds


@pytest.mark.parametrize(
    ("kidded", "discarded", "first"),
    [
        # 96 h from 06:30 on the 9th: the 9th 18:00, the 10th to the 12th, the 13th 06:00.
        ("2025-06-09T06:30:00+00:00", 8, "2025-06-13T18:00:00+00:00"),
        # From the end of the 9th, its milkings with it: five days of two.
        ("2025-06-09", 10, "2025-06-14T06:00:00+00:00"),
    ],
)
def test_of_a_dose_before_drying_off_only_milkings_since_the_kidding_are_discarded(
    yard: Yard, kidded: str, discarded: int, first: str
) -> None:
    agate = milker(yard)
    dosed(yard, agate, "2025-04-10T06:00:00+00:00", milk_h=[96, 0, "h"], counted_from="later")
    yard.write("house", "dry-off", doe=agate, on="2025-04-10")
    yard.write("house", "kidding", doe=agate, on=kidded)
    line = seen(yard, agate, "2025-06-09T20:00:00+00:00")
    assert (line.milkings_to_discard, line.first_saleable) == (discarded, first)


def test_a_hold_passes_to_the_kids_that_drink_and_are_here(yard: Yard) -> None:
    # Common practice, no published source.
    dam = milker(yard, "Opal")
    for name in ("Shale", "Onyx"):
        yard.animal(name, sex="buck", born="2025-03-01", dam=dam)
    gone = yard.animal("Jasper", sex="buck", born="2025-03-01", dam=dam)
    yard.write("house", "leaving", animal=gone, on="2025-03-12", how="sold")
    bottle = yard.animal("Beryl", sex="doe", born="2025-03-01", dam=dam, suckles=False)
    dosed(yard, bottle, meat_d=[28, 0, "d"])
    dosed(yard, dam, milk_h=[0, 0, "h"], meat_d=[28, 0, "d"])
    assert seen(yard, dam, "2025-03-13").passed_to == ["Onyx", "Shale"]
    sire = yard.animal("Basalt", sex="buck", born="2022-03-01")
    yard.animal("Marl", sex="doe", born="2025-03-01", dam=dam, sire=sire)
    dosed(yard, sire, meat_d=[28, 0, "d"])
    assert seen(yard, sire, "2025-03-13").passed_to == []


def test_only_those_here_that_are_held_and_the_caution_where_it_is_medicine(yard: Yard) -> None:
    free, gone = milker(yard, "Agate"), milker(yard, "Opal")
    held, new = milker(yard, "Mica"), milker(yard, "Flint")
    for doe in (gone, held):
        dosed(yard, doe, milk_h=[96, 0, "h"], meat_d=[9, 0, "d"])
    yard.write("house", "leaving", animal=gone, on="2025-03-10", how="sold")
    yard.write("house", "arrival", animal=new, on="2025-03-01", how="bought")
    herd = herd_at(yard, "2025-03-11")
    lines = held_animals(herd, [goat_of(herd, one) for one in (free, gone, held, new)])
    assert [line.name for line in lines] == ["Mica", "Flint"]
    assert [hold.what for hold in lines[1].holds] == [LEAVING]
    assert [bool(line.caution) for line in lines] == [True, False]
