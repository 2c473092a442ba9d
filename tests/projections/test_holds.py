"""Holds: withdrawal by the strict rule, its safe sides, and that no entry ever shortens one."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import CRITICAL
from herdsync.log.writer import Act
from herdsync.merge.payloads import RECORD
from herdsync.projections.holds import MEAT, MILK, running_holds
from herdsync.projections.milk import held_milking, milk_line
from tests.farmyard import Yard
from tests.projections.board import days, goat_of, herd_at, hold, hours

LAST = "2025-03-10T06:00:00+00:00"


def product(yard: Yard, **told: Any) -> bytes:
    id = yard.write("house", "product", substance="quillicillin", **told)
    yard.meet()
    return id


def until(yard: Yard, goat: bytes, what: str, at: str = "2025-03-10", device: str = "") -> str:
    found = hold(yard, goat, what, at, device)
    assert found is not None, f"no {what} at {at}"
    return found.until


def test_milk_is_clear_so_many_hours_after_the_last_dose(yard: Yard, agate: bytes) -> None:
    # Rule: strictly after; worked out by hand (96 h from 2025-03-10 06:00).
    given_of = product(yard, milk_h=hours(96))
    dose = yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
    found = hold(yard, agate, MILK, "2025-03-10")
    assert found is not None
    assert found.until == "2025-03-14T06:00:00+00:00"
    assert len(found.records) == 2 and not found.disputed
    assert hold(yard, agate, MILK, "2025-03-14T06:00:00+00:00") is not None
    assert hold(yard, agate, MILK, "2025-03-14T06:00:01+00:00") is None
    yard.retract("house", dose, because="it was Opal")
    assert hold(yard, agate, MILK, "2025-03-10") is None


def test_the_milkings_that_are_held(yard: Yard, agate: bytes) -> None:
    # Milked 06:00 and 18:00, dosed after the morning milking: 96 h discard 8, first saleable
    # 2025-03-14 18:00; 36 h discard 3, first saleable 2025-03-12 06:00 (worked out by hand).
    for period, discarded in ((96, 8), (36, 3)):
        yard = Yard()
        agate = yard.animal("Agate", sex="doe", born="2020-03-01")
        given_of = product(yard, milk_h=hours(period))
        yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
        first = datetime.fromisoformat("2025-03-10T18:00:00+00:00")
        for n in range(12):
            at = (first + timedelta(hours=12 * n)).isoformat()
            yard.write("house", "milk", doe=agate, on=at, milk_kg=[15, -1, "kg"], sold=True)
        herd = herd_at(yard, "2025-04-01")
        goat = goat_of(herd, agate)
        held = [act for _, act in goat.done("milk") if held_milking(herd, goat, act)]
        assert len(held) == discarded
        line = milk_line(herd, goat, first.date(), herd.look.today)
        assert (line.milk_kg, line.held_kg) == (18.0, 1.5 * discarded)
        assert line.sold_kg == line.milk_kg - line.held_kg


def test_meat_is_clear_so_many_days_after_the_last_dose(yard: Yard, agate: bytes) -> None:
    # Worked out by hand: 28 d from a moment; from a bare date the first free day is date + 28 + 1.
    given_of = product(yard, meat_d=days(28))
    yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
    assert until(yard, agate, MEAT) == "2025-04-07T06:00:00+00:00"
    yard.write("house", "dose", animal=agate, product=given_of, on="2025-03-10")
    assert until(yard, agate, MEAT) == "2025-04-08T00:00:00+00:00"


def test_hours_are_elapsed_hours_across_daylight_saving(yard: Yard, agate: bytes) -> None:
    yard.write("house", "setting", key="zone", value="Europe/Berlin")
    given_of = product(yard, milk_h=hours(24))
    yard.write("house", "dose", animal=agate, product=given_of, on="2026-03-28T12:00:00+01:00")
    assert until(yard, agate, MILK, "2026-03-28") == "2026-03-29T13:00:00+02:00"
    yard.write("house", "dose", animal=agate, product=given_of, on="2026-10-24")
    # The bare day ends at 2026-10-25T00:00+02:00, and that night has an hour more.
    assert until(yard, agate, MILK, "2026-10-25") == "2026-10-25T23:00:00+01:00"


def test_the_longest_of_several_counts_and_a_dose_may_say_its_own(yard: Yard, agate: bytes) -> None:
    short = product(yard, milk_h=hours(24))
    yard.write("house", "dose", animal=agate, product=short, on=LAST)
    yard.write("house", "dose", animal=agate, product=short, on=LAST, milk_h=hours(72))
    assert until(yard, agate, MILK) == "2025-03-13T06:00:00+00:00"


def test_counted_from_kidding_it_holds_until_she_kids(yard: Yard, agate: bytes) -> None:
    dry = product(yard, milk_h=hours(96), counted_from="kidding")
    yard.write("house", "dose", animal=agate, product=dry, on="2025-01-10T06:00:00+00:00")
    assert until(yard, agate, MILK, "2025-02-20") == ""
    yard.write("house", "kidding", doe=agate, on="2025-03-01T03:00:00+00:00")
    assert until(yard, agate, MILK, "2025-03-02") == "2025-03-05T03:00:00+00:00"
    assert hold(yard, agate, MILK, "2025-03-06") is None


def test_an_unwritten_withdrawal_holds_without_an_end(yard: Yard, agate: bytes) -> None:
    bare = product(yard)
    dose = yard.write("house", "dose", animal=agate, product=bare, on=LAST)
    found = hold(yard, agate, MILK, "2025-05-01")
    assert found is not None and found.until == ""
    assert "ask label or veterinarian" in found.reason
    yard.amend("house", dose, because="read off the label", milk_h=hours(96), meat_d=days(1))
    assert hold(yard, agate, MILK, "2025-05-01") is None


def test_never_for_sale_and_absurd_figures_stay_held(yard: Yard, agate: bytes) -> None:
    never = product(yard, milk_h=hours(0), milk_never=True, meat_d=days(2000))
    yard.write("house", "dose", animal=agate, product=never, on=LAST)
    assert until(yard, agate, MILK, "2027-01-01") == ""
    found = hold(yard, agate, MEAT, "2025-04-01")
    assert found is not None and "cannot be right" in found.reason


def test_a_kid_takes_over_the_meat_hold_of_the_doe_it_drinks_from(yard: Yard) -> None:
    # Common practice, no published source.
    dam = yard.animal("Opal", sex="doe", born="2020-03-01")
    kid = yard.animal("Shale", sex="buck", born="2025-03-01", dam=dam)
    bottle = yard.animal("Onyx", sex="doe", born="2025-03-01", dam=dam, suckles=False)
    grown = yard.animal("Marl", sex="doe", born="2022-03-01", dam=dam)
    given_of = product(yard, meat_d=days(28), milk_h=hours(0))
    yard.write("house", "dose", animal=dam, product=given_of, on=LAST)
    assert until(yard, kid, MEAT) == "2025-04-07T06:00:00+00:00"
    assert hold(yard, bottle, MEAT, "2025-03-10") is None
    assert hold(yard, grown, MEAT, "2025-03-10") is None
    later = yard.animal("Topaz", sex="doe", born="2025-04-20", dam=dam)
    assert hold(yard, later, MEAT, "2025-04-21") is None
    yard.amend("house", kid, suckles=False)
    assert hold(yard, kid, MEAT, "2025-03-10") is not None
    yard.amend("house", kid, suckles=False, because="on the bottle since birth")
    assert hold(yard, kid, MEAT, "2025-03-10") is None


def test_a_kid_takes_a_hold_over_to_the_very_day_and_none_from_a_dam_nobody_knows(
    yard: Yard,
) -> None:
    dam = yard.animal("Opal", sex="doe", born="2020-03-01")
    given_of = product(yard, meat_d=days(28))
    # Clear at the first moment of 7 April: born that day it still drank, born the day after not.
    yard.write("house", "dose", animal=dam, product=given_of, on="2025-03-10T00:00:00+00:00")
    born = {day: yard.animal(f"Kid {day}", born=f"2025-04-0{day}", dam=dam) for day in (7, 8)}
    assert hold(yard, born[7], MEAT, "2025-04-07T00:00:00+00:00") is not None
    assert hold(yard, born[8], MEAT, "2025-04-07T00:00:00+00:00") is None
    # Dosed on the last day it can still drink, and the day after that.
    herd = herd_at(yard, "2025-01-01")
    last = date(2025, 5, 1) + timedelta(days=herd.look.settings.suckling_days)
    for late, held in ((0, True), (1, False)):
        on = (last + timedelta(days=late)).isoformat()
        doe = yard.animal(f"Doe {late}", sex="doe", born="2020-03-01")
        kid = yard.animal(f"Young {late}", born="2025-05-01", dam=doe)
        yard.write("house", "dose", animal=doe, product=given_of, on=f"{on}T06:00:00+00:00")
        assert (hold(yard, kid, MEAT, on) is not None) is held
    stray = yard.animal("Jasper", born="2025-03-01", dam=b"\7" * 16)
    assert hold(yard, stray, MEAT, "2025-03-10") is None


def test_a_hold_tells_how_many_doses_are_with_it_and_what_cannot_be_read_is_disputed(
    yard: Yard, agate: bytes
) -> None:
    given_of = product(yard, milk_h=hours(96))
    for number in range(3):
        found = hold(yard, agate, MILK, "2025-03-10")
        told = "" if found is None else found.reason
        assert ("more with it" in told) is (number > 1)
        yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
    found = hold(yard, agate, MILK, "2025-03-10")
    assert found is not None and "; 2 more with it" in found.reason and not found.disputed
    other = yard.animal("Opal", sex="doe", born="2020-03-01")
    version = CATALOGUE["dose"].version + 1
    payload = {"fields": {"animal": other}}
    act = Act(RECORD, "dose", payload, version, CRITICAL, frozenset({other}))
    yard.devices["house"].write(act)
    found = hold(yard, other, MILK, "2025-03-10")
    assert found is not None and found.disputed and "cannot read" in found.reason


def test_newcomers_and_doubtful_tests_may_not_leave(yard: Yard, agate: bytes) -> None:
    # Newcomers apart for 30 d: several extension pages.
    yard.write("house", "arrival", animal=agate, on="2025-03-01", how="bought")
    assert until(yard, agate, "not to leave", "2025-03-05") == "2025-03-31"
    assert hold(yard, agate, "not to leave", "2025-04-01") is None
    test = yard.write("house", "disease-test", animal=agate, on="2025-04-02", disease="CAE")
    assert until(yard, agate, "not to leave", "2025-04-03") == ""
    yard.amend("house", test, result="negative")
    assert hold(yard, agate, "not to leave", "2025-04-03") is None


def test_every_reason_not_to_leave_is_told_and_the_open_one_has_no_end(
    yard: Yard, agate: bytes
) -> None:
    yard.write("house", "arrival", animal=agate, on="2025-03-01", how="bought")
    for disease in ("CAE", "Johne's"):
        yard.write(
            "house",
            "disease-test",
            animal=agate,
            on="2025-03-04",
            disease=disease,
            result="positive",
        )
    found = hold(yard, agate, "not to leave", "2025-03-05")
    assert found is not None and found.until == "" and len(found.records) == 3
    assert "apart" in found.reason and "CAE is positive" in found.reason and "Johne" in found.reason


def test_a_disputed_dose_holds_by_its_longest_claim(yard: Yard, agate: bytes) -> None:
    given_of = product(yard, milk_h=hours(24))
    dose = yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
    yard.meet()
    yard.amend("house", dose, on="2025-03-09T06:00:00+00:00", because="written a day late")
    yard.amend("barn", dose, on="2025-03-11T06:00:00+00:00", because="it was the morning after")
    yard.meet()
    found = hold(yard, agate, MILK, "2025-03-10")
    assert found is not None
    assert (found.until, found.disputed) == ("2025-03-12T06:00:00+00:00", True)


def test_a_correction_with_a_reason_shortens_and_one_without_does_not(
    yard: Yard, agate: bytes
) -> None:
    given_of = product(yard, milk_h=hours(96))
    dose = yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
    yard.amend("house", dose, on="2025-03-09T06:00:00+00:00")
    assert until(yard, agate, MILK) == "2025-03-14T06:00:00+00:00"
    yard.amend("house", dose, because="read the stable sheet", on="2025-03-08T06:00:00+00:00")
    assert until(yard, agate, MILK) == "2025-03-12T06:00:00+00:00"
    yard.retract("house", dose, because="")
    assert until(yard, agate, MILK) == "2025-03-12T06:00:00+00:00"


AMENDMENTS = st.one_of(
    st.tuples(st.just("on"), st.sampled_from(["2025-02", "2025-03-09", LAST, "2025-03-15"])),
    st.tuples(st.just("milk_h"), st.integers(0, 300).map(hours)),
    st.tuples(st.just("meat_d"), st.integers(0, 60).map(days)),
)
PRODUCT_AMENDMENTS = st.one_of(
    st.tuples(st.just("milk_h"), st.integers(0, 300).map(hours)),
    st.tuples(st.just("meat_d"), st.integers(0, 60).map(days)),
    st.tuples(st.just("counted_from"), st.sampled_from(["last-dose", "later-of-both"])),
)
ACTS = st.one_of(
    st.tuples(st.just("dose"), st.sampled_from(["2025-03-08", LAST, "2025-03"])),
    st.tuples(st.just("amend"), AMENDMENTS),
    st.tuples(st.just("product"), PRODUCT_AMENDMENTS),
    st.tuples(st.just("retract"), st.none()),
    st.tuples(st.just("note"), st.none()),
    st.tuples(st.just("unreadable"), st.none()),
)


def _ends(yard: Yard, goat: bytes) -> dict[str, float]:
    """The latest instant anything is held for, seen from the day of the dose; unknown is endless."""
    herd = herd_at(yard, LAST)
    found = {}
    for what in ("milk", "meat"):
        held = running_holds(herd, goat_of(herd, goat), what)
        ends = [one.clear.at.timestamp() if one.clear.at else float("inf") for one in held]
        found[what] = max(ends, default=0.0)
    return found


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["house", "barn"]), ACTS, st.booleans()), max_size=6))
def test_no_entry_without_a_reason_shortens_a_hold(
    history: list[tuple[str, tuple[str, Any], bool]],
) -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    given_of = product(yard, milk_h=hours(96), meat_d=days(28))
    dose = yard.write("house", "dose", animal=agate, product=given_of, on=LAST)
    yard.meet()
    before = _ends(yard, agate)
    for device, (verb, told), meets in history:
        _act(yard, device, verb, told, (agate, given_of, dose))
        if meets:
            yard.meet()
        elif device != "house":
            continue
        now = _ends(yard, agate)
        assert all(now[what] >= before[what] for what in before), (verb, told)
        before = now
    yard.meet()
    now = _ends(yard, agate)
    assert all(now[what] >= before[what] for what in before)


def _act(yard: Yard, device: str, verb: str, told: Any, ids: tuple[bytes, bytes, bytes]) -> None:
    agate, given_of, dose = ids
    if verb == "dose":
        yard.write(device, "dose", animal=agate, product=given_of, on=told)
    elif verb == "amend":
        yard.amend(device, dose, **{told[0]: told[1]})
    elif verb == "product":
        yard.amend(device, given_of, **{told[0]: told[1]})
    elif verb == "retract":
        yard.retract(device, dose, because="")
    elif verb == "unreadable":
        version = CATALOGUE["dose"].version + 1
        payload = {"fields": {"animal": agate}}
        act = Act(RECORD, "dose", payload, version, CRITICAL, frozenset({agate}))
        yard.devices[device].write(act)
    else:
        yard.write(device, "note", about=agate, on=LAST, text="seen")
