"""What is drawn of an animal and what stands out: figures in their days, held milk, kin, readings."""

from __future__ import annotations

from herdsync.projections.milkings import milkings
from herdsync.projections.sickroom import sickroom
from herdsync.projections.sights import ancestry, growth, milk_curve, sights
from tests.farmyard import Yard
from tests.projections.board import goat_of, herd_at


def kg(text: str) -> list[object]:
    whole, _, part = text.partition(".")
    return [int(whole + part), -len(part), "kg"]


def test_a_kid_is_drawn_with_its_litter_mate_and_the_usual_band() -> None:
    yard = Yard()
    dam = yard.animal("Beryl", sex="doe", born="2022-01-01")
    kidding = yard.write("house", "kidding", doe=dam, on="2026-02-01", born_alive=2)
    told = {"sex": "buck", "dam": dam, "kidding": kidding}
    onyx = yard.animal("Onyx", born="2026-02-01T04:00:00+00:00", **told)
    topaz = yard.animal("Topaz", born="2026-02-01T04:20:00+00:00", **told)
    yard.animal("Shale", sex="doe", dam=dam, born="2025-02-01")
    for day, one, other in (("2026-02-01", "3.5", "3.1"), ("2026-03-03", "9", "8")):
        yard.write("house", "weighing", animal=onyx, on=day, weight_kg=kg(one))
        yard.write("house", "weighing", animal=topaz, on=day, weight_kg=kg(other))
    herd = herd_at(yard, "2026-03-10")
    drawn = growth(herd, goat_of(herd, onyx))
    assert [curve.name for curve in drawn.curves] == ["Onyx", "Topaz"]
    assert [(one.day, one.value) for one in drawn.curves[0].points] == [(0, 3.5), (30, 9.0)]
    # A third to half a pound a day (Cornell CALS 4-H): 10 to 15 lb more at 30 days.
    month = next(one for one in drawn.band if one.day == 30)
    assert (month.least, month.most) == (8.04, 10.3)
    assert month.least < 9 < month.most


def test_no_band_is_drawn_for_a_miniature_or_a_grown_goat() -> None:
    yard = Yard()
    small = yard.animal("Pearl", sex="doe", born="2026-02-01", size="miniature")
    grown = yard.animal("Agate", sex="doe", born="2020-02-01")
    for animal in (small, grown):
        yard.write("house", "weighing", animal=animal, on="2026-03-01", weight_kg=kg("5.5"))
    herd = herd_at(yard, "2026-03-10")
    for animal in (small, grown):
        assert growth(herd, goat_of(herd, animal)).band == []


def test_milk_days_are_summed_from_her_kidding_and_held_ones_marked() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2022-01-01")
    yard.write("house", "kidding", doe=opal, on="2026-02-01", born_alive=1)
    product = yard.write("house", "product", substance="Quillwort drench")
    for day in ("2026-03-01", "2026-03-02", "2026-03-03"):
        for hour in ("07", "18"):
            on = f"{day}T{hour}:00:00+00:00"
            yard.write("house", "milk", doe=opal, on=on, milk_kg=kg("1.5"), sold=False)
    yard.write(
        "house", "dose", animal=opal, product=product, on="2026-03-02T12:00:00+00:00",
        milk_h=[24, 0, "h"], meat_d=[1, 0, "d"],
    )  # fmt: skip
    herd = herd_at(yard, "2026-03-10")
    drawn = milk_curve(herd, goat_of(herd, opal))
    assert drawn is not None and drawn.start == "2026-02-01"
    told = [(one.day, one.value, one.mark) for one in drawn.days.points]
    assert told == [(28, 3.0, ""), (29, 3.0, "part"), (30, 3.0, "part")]
    assert drawn.held_kg == 3.0
    assert milk_curve(herd, goat_of(herd, yard.animal("Flint", sex="buck"))) is None


def test_kin_of_four_generations_and_how_much_is_known() -> None:
    yard = Yard()
    basalt = yard.animal("Basalt", sex="buck", born="2016-01-01", tattoo_left="A1")
    agate = yard.animal("Agate", sex="doe", born="2016-01-01")
    sire = yard.animal("Flint", sex="buck", born="2018-01-01", sire=basalt, dam=agate)
    dam = yard.animal("Mica", sex="doe", born="2018-01-01", sire=basalt, dam=agate)
    kid = yard.animal("Onyx", sex="doe", born="2020-01-01", sire=sire, dam=dam)
    herd = herd_at(yard, "2026-03-10")
    drawn = ancestry(herd, goat_of(herd, kid))
    # Full sibs mated: F = 1/4 (Mrode, 3rd ed., ch. 2).
    assert drawn.inbreeding == 0.25
    assert [one.path for one in drawn.ancestors] == ["s", "ss", "sd", "d", "ds", "dd"]
    assert [one.name for one in drawn.ancestors if len(one.path) == 2][:2] == ["Basalt", "Agate"]
    assert drawn.ancestors[1].mark == "A1"
    assert drawn.known == [1.0, 1.0, 0.0, 0.0] and drawn.complete_generations == 2


def test_a_pedigree_that_goes_in_a_circle_ends() -> None:
    yard = Yard()
    doe = yard.animal("Agate", sex="doe", born="2018-03-01")
    yard.amend("house", doe, dam=doe)
    herd = herd_at(yard, "2026-03-10")
    told = sights(herd, goat_of(herd, doe))
    assert told.pedigree.faults and len(told.pedigree.ancestors) <= 4


def test_a_fever_and_a_dose_too_soon_stand_out_until_they_are_old() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2022-01-01")
    # Langston University, Common Herd Health Procedures: 39 to 40 C; flagged over 40.
    yard.write("house", "temperature", animal=opal, on="2026-03-08", temperature_c=[408, -1, "C"])
    drench = yard.write(
        "house", "product", substance="Quillwort drench", interval_h=[48, 0, "h"], name="Drench"
    )
    for hour in ("07", "19"):
        on = f"2026-03-09T{hour}:00:00+00:00"
        yard.write("house", "dose", animal=opal, product=drench, on=on)
    herd = herd_at(yard, "2026-03-10")
    told = sickroom(herd)
    assert {one.kind for one in told.flags} == {"temperature", "dose"}
    fever = next(one for one in told.flags if one.kind == "temperature")
    assert "fever" in fever.says and "call the vet" in fever.says
    twice = next(one for one in told.flags if one.kind == "dose")
    assert twice.what == "dose of Drench" and "once or twice" in twice.says
    assert [(one.name, one.on) for one in told.last_uses] == [("Opal", "2026-03-09")]
    yard.write("house", "temperature", animal=opal, on="2026-03-10", temperature_c=[395, -1, "C"])
    assert {one.kind for one in sickroom(herd_at(yard, "2026-03-10")).flags} == {"dose"}
    assert sickroom(herd_at(yard, "2026-04-10")).flags == []


def test_milkings_tell_which_of_the_day_and_what_was_held() -> None:
    yard = Yard()
    opal = yard.animal("Opal", sex="doe", born="2022-01-01")
    yard.write("house", "kidding", doe=opal, on="2026-01-01", born_alive=1)
    product = yard.write("house", "product", substance="Quillwort drench")
    yard.write(
        "house", "milk", doe=opal, on="2026-03-09T18:00:00+00:00", milk_kg=kg("1.5"), sold=True
    )
    yard.write(
        "house", "dose", animal=opal, product=product, on="2026-03-09T20:00:00+00:00",
        milk_h=[24, 0, "h"], meat_d=[1, 0, "d"],
    )  # fmt: skip
    yard.write("house", "milk", doe=opal, on="2026-03-10", milking="morning", milk_kg=kg("1.4"))
    yard.write("house", "milk", doe=opal, on="2026-03-08", milking="evening", milk_kg=kg("9.9"))
    told = milkings(herd_at(yard, "2026-03-10"), 2)
    assert [(one.day, one.slot, one.milk_kg, one.sold, one.held) for one in told] == [
        ("2026-03-09", "evening", 1.5, True, False), ("2026-03-10", "morning", 1.4, False, True),
    ]  # fmt: skip
