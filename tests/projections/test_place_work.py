"""Work that is no animal's: once for the whole farm, as the plan and the farm's own items ask for it."""

from typing import Any

from herdsync.answers import DueLine
from tests.farmyard import Yard
from tests.projections.board import rounds_at

BORN = "2020-03-01"


def farm_work(yard: Yard, at: str, days: int | None = None) -> dict[str, DueLine]:
    lines = rounds_at(yard, at).lines(days=days)
    return {line.item: line for line in lines if line.pen == "Whole farm"}


def herd() -> Yard:
    yard = Yard()
    for name, sex in (("Agate", "doe"), ("Opal", "doe"), ("Basalt", "buck")):
        yard.animal(name, sex=sex, born=BORN)
    return yard


def test_work_for_the_whole_farm_is_asked_once_however_many_animals_there_are() -> None:
    found = rounds_at(herd(), "2025-05-20").lines()
    names = [line.item for line in found if line.pen == "Whole farm"]
    assert sorted(names) == [
        "feed-store", "flies", "hay-order", "medicine-shelf", "milking-gear", "records-away",
        "vet-visit",
    ]  # fmt: skip
    assert found[-1].pen == "Whole farm", "it comes after the pens"
    shelf = farm_work(herd(), "2025-05-20")["medicine-shelf"]
    assert (shelf.state, shelf.animal, shelf.subject, shelf.name) == ("due", "", "", "Whole farm")
    assert shelf.preset == {"item": "medicine-shelf"} and shelf.kind == "chore-done"


def test_a_farm_without_animals_asks_for_nothing_and_one_without_does_for_no_milking_gear() -> None:
    assert farm_work(Yard(), "2025-05-20") == {}
    bucks = Yard()
    bucks.animal("Basalt", sex="buck", born=BORN)
    assert "milking-gear" not in farm_work(bucks, "2025-05-20")
    assert "feed-store" in farm_work(bucks, "2025-05-20")


def test_what_was_done_for_the_farm_counts_from_its_day_and_what_was_done_for_a_pen_does_not() -> (
    None
):
    yard = herd()
    barn = yard.write("house", "pen", name="Barn")
    yard.write("house", "chore-done", about=barn, on="2025-05-19", item="feed-store")
    assert farm_work(yard, "2025-05-20")["feed-store"].state == "due"
    yard.write("house", "chore-done", on="2025-05-19", item="feed-store")
    assert "feed-store" not in farm_work(yard, "2025-05-20")
    again = farm_work(yard, "2025-05-20", days=40)["feed-store"]
    assert (again.opens, again.due, again.state) == ("2025-06-09", "2025-06-16", "ahead")
    assert farm_work(yard, "2025-06-24")["feed-store"].state == "late"
    yard.write("house", "chore-done", on="2026-01-01", item="feed-store")
    assert farm_work(yard, "2025-06-24")["feed-store"].state == "late", (
        "what is to come did nothing"
    )


def test_the_season_of_farm_work_is_met_in_it_and_comes_again() -> None:
    yard = herd()
    assert farm_work(yard, "2025-06-01")["hay-order"].closes == "2025-08-15"
    yard.write("house", "chore-done", on="2025-06-02", item="hay-order")
    assert "hay-order" not in farm_work(yard, "2025-06-03")
    assert farm_work(yard, "2026-05-15")["hay-order"].state == "due"


def test_the_papers_of_the_year_are_renewed_over_new_year() -> None:
    # Common practice, no published source.
    yard = herd()
    renew = farm_work(yard, "2025-12-20")["registry-year"]
    assert (renew.opens, renew.closes, renew.state) == ("2025-11-15", "2026-01-31", "due")
    yard.write("house", "chore-done", on="2026-01-03", item="registry-year")
    assert "registry-year" not in farm_work(yard, "2026-01-04")
    assert farm_work(yard, "2026-11-15")["registry-year"].state == "due"


def test_a_farms_own_work_for_the_whole_farm_by_days_and_by_chore() -> None:
    yard = herd()
    told: dict[str, Any] = {"title": "Lock the gate", "whole_farm": True, "source": "this farm"}
    yard.write("house", "plan-item", item="gate", chore="evening", **told)
    yard.write("house", "plan-item", item="scale", every_days=10, **told)
    evening = "2025-05-20T17:00:00+00:00"
    found = farm_work(yard, evening)
    assert found["gate-evening"].work == "Lock the gate"
    assert found["scale"].state == "due"
    yard.write("house", "chore-done", on="2025-05-20T16:50:00+00:00", item="gate")
    assert "gate-evening" not in farm_work(yard, evening)
    yard.write("house", "chore-done", on="2025-05-10", item="scale")
    assert farm_work(yard, "2025-05-20")["scale"].due == "2025-05-20"


def test_farm_work_that_would_hang_on_an_animals_age_is_left_out() -> None:
    yard = herd()
    yard.write(
        "house", "plan-item", item="odd", title="Odd", whole_farm=True, opens_days=3, closes_days=9
    )
    assert rounds_at(yard, "2025-05-20").plan.item("odd") is None


def test_farm_work_is_put_off_by_its_id() -> None:
    yard = herd()
    line = farm_work(yard, "2025-05-20")["records-away"]
    yard.write("house", "postpone", work=line.id, until="2025-06-01", because="the stick is away")
    assert farm_work(yard, "2025-05-21")["records-away"].state == "put-off"
    assert farm_work(yard, "2025-06-01")["records-away"].state == "due"


def test_long_farm_work_is_read_from_its_newest_acts() -> None:
    yard = herd()
    for day in range(1, 29):
        yard.write("house", "chore-done", on=f"2025-02-{day:02}", item="feed-store")
    assert farm_work(yard, "2025-03-28")["feed-store"].due == "2025-03-28"
