"""What is read of a past is what the whole record says: held against a plain reading of all of it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from herdsync.merge.records import Record, Records
from herdsync.projections import acts, past
from herdsync.projections.herd import Herd
from herdsync.projections.past import Done, Past
from herdsync.projections.settings import settings_of
from tests.farmyard import Yard

ZONES = ("UTC", "Pacific/Auckland", "America/Los_Angeles")
KINDS = ("hoof-trim", "pen-move", "mating", "chore-done")
# Days, months and moments about one another, so that many fall on one day, in one zone or another.
TIMES = st.sampled_from(
    [
        *(f"2026-03-{day:02d}" for day in range(1, 8)),
        "2026-02", "2026-03", "2026-03-03T23:30:00+00:00", "2026-03-04T00:30:00+00:00",
        "2026-03-04T11:00:00+13:00", "2026-03-04T12:00:00-08:00", "2026-03-05T06:00:00+00:00",
        "2026-03-09", "2026-04-01T06:00:00+00:00",
    ]
)  # fmt: skip
ACTS = st.lists(
    st.tuples(
        st.sampled_from([*KINDS, "hoof-trim", "hoof-trim", "chore-done"]),
        TIMES,
        st.sampled_from(["", "", "", "", "amended", "disputed", "retracted", "of another"]),
        TIMES,
    ),
    max_size=24,
)


def written(zone: str, told: list[tuple[str, str, str, str]]) -> tuple[Yard, bytes]:
    """A doe with these acts, some of them changed by one laptop or by both apart."""
    yard = Yard(zone=zone)
    yard.write("house", "setting", key="zone", value=zone)
    doe, other = yard.animal("Opal", sex="doe"), yard.animal("Mica", sex="doe")
    buck, pen = yard.animal("Flint", sex="buck"), yard.write("house", "pen", name="Pen")
    yard.meet()
    for kind, on, change, then in told:
        made: dict[str, dict[str, Any]] = {
            "hoof-trim": {"animal": doe},
            "pen-move": {"animal": doe, "pen": pen},
            "mating": {"doe": doe, "buck": buck},
            "chore-done": {"about": doe, "item": "teeth"},
        }
        fields = made[kind]
        if change == "of another":
            fields = {name: other if one == doe else one for name, one in fields.items()}
        act = yard.write("house", kind, on=on, **fields)
        yard.meet()
        if change in ("amended", "disputed"):
            yard.amend("house", act, on=then)
        if change == "disputed":
            yard.amend("barn", act, on="2026-03-06")
        if change == "retracted":
            yard.retract("barn", act)
        yard.meet()
    return yard, doe


@pytest.mark.parametrize("zone", ZONES)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
# One that is told for an earlier day than it sorts by hides none of the days between.
@example(
    [("hoof-trim", "2026-03-01", "disputed", "2026-03-07"), *[("hoof-trim", "2026-03-07", "", "")] * 2],
    "2026-03-08T08:00:00+00:00", 1, 1, 1,
)  # fmt: skip
@example(
    [("hoof-trim", "2026-03-01", "disputed", "2026-03-09"), *[("hoof-trim", "2026-03-07", "", "")] * 2],
    "2026-03-08T08:00:00+00:00", 1, 1, 1,
)  # fmt: skip
@given(
    ACTS,
    st.sampled_from(["2026-03-04T11:45:00+00:00", "2026-03-08T08:00:00+00:00"]),
    st.integers(1, past.FEW),
    st.integers(1, 3),
    st.integers(0, 6),
)
def test_a_past_is_what_the_whole_record_says(
    zone: str, told: list[tuple[str, str, str, str]], at: str, few: int, many: int, ago: int
) -> None:
    yard, doe = written(zone, told)
    moment = datetime.fromisoformat(at)
    asked = (few, few + many, past.EVERY)
    with patch.multiple(past, FEW=few, MANY=few + many, AS_ASKED=asked):
        assert_plain(yard.records(), doe, moment, timedelta(days=ago))


def assert_plain(records: Records, doe: bytes, moment: datetime, ago: timedelta) -> None:
    """Whether all that may be asked of her past is answered as from the whole record."""
    look = Herd(records, settings_of(records), moment).look
    record = records.get(doe)
    assert record is not None
    for kind in KINDS:
        every = plainly_done(look.records.naming(doe, kind), doe, look)
        since = look.today - ago
        last = every[-1] if every else None
        # In another order each time: what was asked before must not matter.
        one, two, three = (Past(look, record) for _ in range(3))
        assert one.last(kind) == last
        assert one.latest(kind) == last
        assert one.latest(kind, since=since) == (last if last and last[0] >= since else None)
        but = last[1].id if last else b""
        assert one.latest(kind, but=but) == (every[-2] if len(every) > 1 else None)
        assert list(one.newest(kind)) == every[::-1]
        assert two.done(kind) == every
        assert two.last(kind) == last
        assert list(three.newest(kind, since)) == [one for one in every[::-1] if one[0] >= since]
        if kind == "chore-done":
            assert list(one.chores("teeth")) == every[::-1]
            chores = [one for one in every[::-1] if one[0] >= since]
            assert list(two.chores("teeth", since)) == list(three.chores("teeth", since)) == chores
            assert list(one.chores("lice")) == []
        assert three.ever(kind) == records.ever_naming(doe, kind)
        begun = plainly_begun(records.naming(doe, kind), doe, look, moment)
        assert one.last_before(kind, moment) == begun
        assert three.last_before(kind, moment - timedelta(days=2)) == plainly_begun(
            records.naming(doe, kind), doe, look, moment - timedelta(days=2)
        )


def about(act: Record, doe: bytes) -> bool:
    """Whether it is an act on her: a doe of every kind here stands in its first field."""
    return doe in (*act.values("animal"), *act.values("doe"), *act.values("about"))


def plainly_done(every: list[Record], doe: bytes, look: Any) -> list[Done]:
    """All acts up to today by the earliest day told, ties by id."""
    found: list[tuple[date, Record]] = []
    for act in every:
        day = acts.first_day(act, look.zone) if about(act, doe) else None
        if day is not None and day <= look.today:
            found.append((day, act))
    return sorted(found, key=lambda one: (one[0], one[1].id))


def plainly_begun(every: list[Record], doe: bytes, look: Any, moment: datetime) -> Record | None:
    """The act with the latest first instant up to a moment, ties by id."""
    found = [
        (begun, act.id, act)
        for act in every
        if about(act, doe)
        and (begun := acts.first_instant(act, look.zone)) is not None
        and begun <= moment
    ]
    return max(found, key=lambda one: one[:2])[2] if found else None
