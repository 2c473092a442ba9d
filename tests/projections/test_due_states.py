"""States of due work: edges of windows, disputes, skips, holds, unreadable entries, order, identity."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import CRITICAL
from herdsync.log.writer import Act
from herdsync.merge.payloads import RECORD
from herdsync.projections import spans
from herdsync.projections.plan_items import After
from tests.farmyard import Yard
from tests.projections.board import due, hold, rounds_at, work

BERLIN = ZoneInfo("Europe/Berlin")


def test_both_ends_of_a_window_belong_to_it_in_the_farms_zone() -> None:
    yard = Yard()
    yard.write("house", "setting", key="zone", value="Pacific/Auckland")
    kid = yard.animal("Topaz", sex="doe", born="2026-02-17", horns_born="horned")
    # 2026-02-21 begins in Auckland at 11:00 UTC the day before.
    assert due(yard, kid, "disbudding", "2026-02-20T10:59:00+00:00").state == "ahead"
    assert due(yard, kid, "disbudding", "2026-02-20T11:00:00+00:00").state == "open"
    assert due(yard, kid, "disbudding", "2026-03-03T10:59:00+00:00").state == "closing"
    assert due(yard, kid, "disbudding", "2026-03-03T11:00:00+00:00").state == "missed"


@given(
    opens=st.integers(0, 60),
    length=st.integers(0, 120),
    best=st.integers(0, 120),
    day=st.integers(-5, 200),
)
def test_closing_is_the_last_three_days_or_fifth(
    opens: int, length: int, best: int, day: int
) -> None:
    closes = opens + length
    best = min(opens + best, closes)
    anchor = datetime(2026, 3, 1, tzinfo=UTC).date()
    span = spans.of_days(anchor, opens, best, closes, closes + 10, BERLIN)
    at = datetime(2026, 3, 1, 12, tzinfo=UTC).timestamp() + day * 86400
    state = span.state(datetime.fromtimestamp(at, UTC))
    days = length + 1
    left = closes - day + 1
    if day < opens:
        assert state == "ahead"
    elif day > closes + 10:
        assert state == "missed"
    elif day > closes:
        assert state == "late"
    elif (left <= 3 or left * 5 <= days) and (day > opens or days == 1):
        assert state == "closing"
    else:
        assert state == ("due" if day >= best else "open")


def test_a_disputed_anchor_counts_at_its_earliest_and_says_so() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    trim = yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    yard.meet()
    yard.amend("house", trim, on="2025-03-12")
    yard.amend("barn", trim, on="2025-03-08")
    yard.meet()
    line = due(yard, agate, "hoof-trim", "2025-04-01")
    assert line.due == "2025-05-03"
    assert "Oda says 2025-03-12" in line.reason and "Ravi says 2025-03-08" in line.reason
    assert "2025-03-08 (disputed" in line.reason and "the earliest counts" in line.reason
    assert line.due == due(yard, agate, "hoof-trim", "2025-04-01", "barn").due


def test_a_month_counts_from_its_first_day() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03")
    assert due(yard, agate, "hoof-trim", "2025-04-01").due == "2025-04-26"


def test_an_act_of_the_future_does_no_work_yet() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    yard.write("house", "hoof-trim", animal=agate, on="2035-03-10")
    assert due(yard, agate, "hoof-trim", "2025-06-01").state == "late"


def test_skip_and_postpone_speak_of_one_piece_of_work() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    trim = yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    line = due(yard, agate, "hoof-trim", "2025-05-05")
    put_off = yard.write(
        "barn", "postpone", work=line.id, until="2025-05-20", because="deep snow", about=agate
    )
    yard.meet()
    later = due(yard, agate, "hoof-trim", "2025-05-10")
    assert (later.state, later.due, later.id) == ("put-off", "2025-05-20", line.id)
    assert due(yard, agate, "hoof-trim", "2025-05-20").state == "late"
    yard.retract("house", put_off)
    assert due(yard, agate, "hoof-trim", "2025-05-10").state == "due"
    before = rounds_at(yard, "2025-05-10").lines()
    skip = yard.write("house", "skip", work=line.id, because="she is leaving", about=agate)
    assert work(yard, agate, "hoof-trim", "2025-05-10") is None
    left = [one for one in before if one.id != line.id]
    assert len(left) == len(before) - 1 > 0
    assert rounds_at(yard, "2025-05-10").lines() == left
    yard.amend("house", skip, lifted=True)
    assert due(yard, agate, "hoof-trim", "2025-05-10").state == "due"
    yard.amend("house", skip, lifted=False)
    yard.retract("house", trim)
    assert due(yard, agate, "hoof-trim", "2025-05-10").id != line.id


def test_a_skip_still_counts_when_its_anchor_is_found_to_be_two_records() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    one = yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    other = yard.write("barn", "hoof-trim", animal=agate, on="2025-03-10")
    lines = [due(yard, agate, "hoof-trim", "2025-05-05", device) for device in ("house", "barn")]
    assert lines[0].id != lines[1].id
    yard.write("house", "skip", work=lines[0].id, because="she is leaving")
    yard.meet()
    yard.same("house", one, other)
    yard.meet()
    assert work(yard, agate, "hoof-trim", "2025-05-05") is None


def test_work_is_barred_by_a_hold() -> None:
    yard = Yard()
    doeling = yard.animal("Garnet", sex="doe", born="2026-02-17")
    barred = due(yard, doeling, "plan-mating", "2026-08-20")
    assert barred.state == "barred"
    assert barred.blocks and barred.blocks[0].startswith("not to be bred until 2026-09-17")
    assert due(yard, doeling, "plan-mating", "2026-09-20").state == "due"


def test_an_entry_nobody_can_read_makes_work_and_clearness_unknown() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    newer = Act(
        RECORD, "dose", {"fields": {"animal": agate}}, CATALOGUE["dose"].version + 1, CRITICAL,
        frozenset({agate}),
    )  # fmt: skip
    yard.devices["barn"].write(newer)
    yard.meet()
    assert due(yard, agate, "hoof-trim", "2025-05-05").state == "unknown"
    unknown = hold(yard, agate, "milk not for sale", "2025-05-05")
    assert unknown is not None and unknown.until == ""


def test_lines_come_in_the_order_of_the_walk() -> None:
    yard = Yard()
    far = yard.write("house", "pen", name="Far shed", walk=2)
    near = yard.write("house", "pen", name="Near shed", walk=1)
    names = {"Opal": far, "Agate": far, "Mica": near}
    for name, pen in names.items():
        goat = yard.animal(name, sex="doe", born="2020-03-01")
        yard.write("house", "pen-move", animal=goat, pen=pen, on="2025-01-01")
    yard.animal("Beryl", sex="doe", born="2020-03-01")
    lines = rounds_at(yard, "2025-05-05").lines()
    seen = list(dict.fromkeys((line.pen, line.name) for line in lines))
    assert seen == [
        ("Near shed", "Near shed"), ("Near shed", "Mica"), ("Far shed", "Far shed"),
        ("Far shed", "Agate"), ("Far shed", "Opal"), ("", "Beryl"), ("Whole farm", "Whole farm"),
    ]  # fmt: skip
    yard.write("house", "setting", key="walk", value="Far shed, Near shed")
    first = rounds_at(yard, "2025-05-05").lines()[0]
    assert first.pen == "Far shed"


def test_what_lies_ahead_is_told_for_the_days_asked() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    rounds = rounds_at(yard, "2025-04-20")

    def told(days: int | None) -> bool:
        return any(line.item == "hoof-trim" for line in rounds.lines(days=days))

    # It may be done from 2025-04-28, a week before its day.
    assert (told(None), told(7), told(8)) == (False, False, True)


def test_the_dead_sold_outside_and_unborn_need_nothing() -> None:
    yard = Yard()
    sold = yard.animal("Marl", sex="doe", born="2020-03-01")
    dead = yard.animal("Flint", sex="buck", born="2020-03-01")
    yard.animal("Basalt", sex="buck", born="2015-03-01", standing="outside")
    yard.animal("Shale", sex="doe", born="2027-03-01")
    yard.write("house", "leaving", animal=sold, on="2025-03-01", how="sold")
    yard.write("house", "death", animal=dead, on="2025-03-01")
    rounds = rounds_at(yard, "2025-05-05")
    assert rounds.lines(everything=True) == []
    assert rounds.of_goat(rounds.herd.every[0]) == []
    assert len(rounds_at(yard, "2025-02-28").herd.present) == 2


def test_milking_is_asked_for_each_chore_and_tells_of_the_separate_pail() -> None:
    yard = Yard()
    yard.write("house", "setting", key="zone", value="Europe/Berlin")
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "kidding", doe=agate, on="2026-02-01")
    product = yard.write("house", "product", substance="quillicillin", milk_h=[96, 0, "h"])
    yard.write("house", "dose", animal=agate, product=product, on="2026-03-27T07:00:00+01:00")
    morning = due(yard, agate, "milking-morning", "2026-03-29T07:00:00+02:00")
    assert (morning.state, morning.preset) == ("due", {"milking": "morning"})
    assert "milk not for sale until 2026-03-31 08:00:" in morning.blocks[0]
    yard.write(
        "house", "milk", doe=agate, on="2026-03-29", milking="morning", milk_kg=[18, -1, "kg"]
    )
    assert work(yard, agate, "milking-morning", "2026-03-29T07:30:00+02:00") is None
    assert due(yard, agate, "milking-evening", "2026-03-29T07:30:00+02:00").state == "ahead"
    states = [
        due(yard, agate, "milking-evening", f"2026-03-29T{clock}:00+02:00").state
        for clock in ("16:30", "18:00", "21:30")
    ]
    assert states == ["open", "due", "late"]


def test_pens_are_watered_cleaned_and_left_alone_when_empty() -> None:
    yard = Yard()
    barn = yard.write("house", "pen", name="Barn")
    yard.write("house", "pen", name="Empty shed")
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "pen-move", animal=agate, pen=barn, on="2025-01-01")
    at = "2025-05-05T07:00:00+00:00"
    lines = [line for line in rounds_at(yard, at).lines() if line.subject and not line.animal]
    assert {line.pen for line in lines} == {"Barn"}
    assert {line.item for line in lines} == {
        "water-and-feed-morning", "bedding", "minerals", "pen-cleaning", "troughs", "fence-walk", "collars",
        "turn-out", "spring-egg-count", "grass-look",
    }  # fmt: skip
    yard.write("house", "chore-done", about=barn, on="2025-05-05", item="bedding")
    yard.write(
        "house", "chore-done", about=barn, on="2025-05-05T06:50:00+00:00", item="water-and-feed"
    )
    lines = [line for line in rounds_at(yard, at).lines(days=10) if not line.animal]
    assert {line.item: line.due for line in lines}["bedding"] == "2025-05-12"
    assert "water-and-feed-morning" not in {line.item for line in lines}


def test_a_season_comes_every_year_and_may_run_over_new_year() -> None:
    yard = Yard()
    buck = yard.animal("Basalt", sex="buck", born="2020-03-01")
    assert due(yard, buck, "buck-season", "2025-06-30").state == "ahead"
    assert due(yard, buck, "buck-season", "2025-07-01").state == "due"
    yard.write("house", "chore-done", about=buck, on="2025-07-02", item="buck-season")
    assert due(yard, buck, "buck-season", "2025-07-03").opens == "2026-07-01"
    yard.write(
        "house", "plan-item", item="winter-coat", title="Look at the winter coat",
        season_from="11-15", season_to="02-29", source="this farm",
    )  # fmt: skip
    line = due(yard, buck, "winter-coat", "2026-01-10")
    assert (line.opens, line.closes, line.state) == ("2025-11-15", "2026-03-01", "due")


@given(st.lists(st.integers(0, 400), min_size=1, unique=True).map(sorted))
def test_rungs_open_in_order_and_not_before_the_last_one(days: list[int]) -> None:
    opens = After(kind="disbudding", days=days).rungs_open
    assert all(first <= day for first, day in zip(opens, days, strict=True))
    assert all(opens[n + 1] > days[n] for n in range(len(days) - 1))


def test_the_states_of_work_by_the_hour_change_at_their_very_instants() -> None:
    # Ten hours from 06:00, best at 08:00, over for good at 20:00; the last fifth is two hours.
    hour = {n: datetime(2026, 3, 1, n, tzinfo=UTC) for n in range(24)}
    told = spans.of_instants(hour[6], hour[8], hour[16], hour[20], ZoneInfo("UTC"))
    turns = [(6, "open"), (8, "due"), (14, "closing"), (16, "late"), (20, "missed")]
    before = "ahead"
    for at, state in turns:
        assert told.state(hour[at] - timedelta(seconds=1)) == before
        assert told.state(hour[at]) == state
        assert told.turns_after(hour[at] - timedelta(seconds=1)) == hour[at]
        before = state
    # From then on it changes for how many whole days it is over.
    after = [*(hour[at] for at, _ in turns[1:]), hour[20] + timedelta(days=1)]
    assert [told.turns_after(hour[at]) for at, _ in turns] == after
    assert [told.over_for(hour[20] + timedelta(days=n)) for n in (-1, 0, 1)] == [-1, 0, 1]
    endless = spans.of_instants(hour[6], hour[8], hour[16], None, ZoneInfo("UTC"))
    assert (endless.state(hour[23]), endless.over_for(hour[23])) == ("late", -1)
    assert endless.turns_after(hour[23]) is None


@pytest.mark.parametrize(
    ("days", "closing"),
    [(1, 0), (2, 1), (3, 1), (4, 1), (5, 2), (10, 7), (19, 16), (20, 16), (30, 24)],
)
def test_a_window_of_so_many_days_closes_from_its_last_three_or_fifth_on(
    days: int, closing: int
) -> None:
    # By hand: ten days 0 to 9 close on 7, 8 and 9; of thirty the last fifth is six.
    day = date(2026, 3, 1)
    told = spans.of_days(day, 0, 0, days - 1, days + 1, BERLIN)
    assert told.closing == day.toordinal() + closing
    noon = [datetime(2026, 3, 1, 12, tzinfo=UTC) + timedelta(days=n) for n in range(days + 4)]
    assert [told.over_for(noon[days + n]) for n in (1, 2, 3)] == [-1, 0, 1]
    endless = spans.of_days(day, 0, 0, days - 1, None, BERLIN)
    assert endless.over_for(datetime(2999, 1, 1, tzinfo=UTC)) < 0
