"""Looks that keep what earlier looks worked out answer as looks from nothing do, act after act."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from herdsync import projections
from herdsync.acts.door import Door
from herdsync.answers import DueLine
from herdsync.farm import Farm
from herdsync.founding import found
from herdsync.kinds import CATALOGUE
from herdsync.log.entry import CRITICAL
from herdsync.log.writer import Act
from herdsync.merge.payloads import RECORD
from herdsync.merge.records import Records
from herdsync.projections.due import Rounds
from herdsync.projections.farm_items import plan_in_force
from herdsync.projections.herd import Herd
from herdsync.projections.kept import Kept
from herdsync.projections.plan_items import Every, Item, Plan, Whom
from herdsync.projections.settings import settings_of
from herdsync.store import sql_shelf
from herdsync.wall import Wall
from tests.farmyard import Yard
from tests.store.farms import kept as stored

BEGUN = datetime.fromisoformat("2026-05-20T07:00:00+00:00")
FARM_CHORES = ("feed-store", "milking-gear")


def look(records: Records, at: datetime, kept: Kept | None) -> list[DueLine]:
    herd = Herd(records, settings_of(records), at)
    return Rounds(herd, plan_in_force(records, herd.look.settings).plan, kept).lines()


# Acts that happen to an animal, with what is told of them beside whom and when.
TOLD: dict[str, dict[str, Any]] = {
    "castration": {"method": "ring", "complete": True},
    "disbudding": {},
    "weighing": {"weight_kg": [31, 0, "kg"]},
    "weaning": {},
    "dry-off": {},
    "heat": {},
    "eyelid-score": {"score": 4},
    "disease-test": {"disease": "CAE", "result": "positive"},
    "pregnancy-check": {"result": "bred"},
    "check": {"of": "castration", "finding": "off"},
    "tattoo": {"stage": "done"},
    "death": {},
}


class Play:
    """A small farm to which one thing after another happens."""

    def __init__(self) -> None:
        yard = self.yard = Yard(zone="Europe/Berlin")
        self.write("setting", key="zone", value="Europe/Berlin")
        self.pens = [self.write("pen", name=f"Pen {n}") for n in range(3)]
        self.product = self.write(
            "product", substance="quillicillin", milk_h=[96, 0, "h"], meat_d=[14, 0, "d"]
        )
        agate = yard.animal("Agate", sex="doe", born="2020-03-01")
        flint = yard.animal("Flint", sex="buck", born="2021-03-01")
        kid = yard.animal("Topaz", sex="buck", born="2026-03-25", dam=agate)
        self.animals = [agate, flint, kid, yard.animal("Opal", sex="doe", born="2019-05-20")]
        self.written: list[bytes] = []

    def write(self, kind: str, /, **fields: Any) -> bytes:
        return self.yard.write("house", kind, **fields)

    def happen(self, what: str, which: int, ago: int, now: datetime) -> None:
        animal = self.animals[which % len(self.animals)]
        pen = self.pens[which % len(self.pens)]
        on = (now - timedelta(days=ago)).date().isoformat()
        if what in TOLD:
            self.written.append(
                self.write(what, **{CATALOGUE[what].subject or "": animal}, on=on, **TOLD[what])
            )
            return
        made: dict[str, Callable[[], Any]] = {
            "trim": lambda: self.write("hoof-trim", animal=animal, on=on, hind_left="lame"),
            "dose": lambda: self.write("dose", animal=animal, on=on, product=self.product),
            "kidding": lambda: self.write("kidding", doe=self.animals[0], on=on),
            "milk": lambda: self.write("milk", doe=self.animals[0], on=now.isoformat(), sold=True),
            "mating": lambda: self.write(
                "mating", doe=self.animals[0], buck=self.animals[1], on=on
            ),
            "move": lambda: self.write("pen-move", animal=animal, pen=pen, on=on),
            "bedding": lambda: self.write("chore-done", about=pen, on=on, item="bedding"),
            "stores": lambda: self.write("chore-done", on=on, item=FARM_CHORES[which % 2]),
            "stores later": lambda: self.write(
                "chore-done", on=(now + timedelta(hours=3)).isoformat(), item=FARM_CHORES[which % 2]
            ),
            "exempt": lambda: self.write("exempt", animal=animal, item="teeth", because="none"),
            "leave": lambda: self.write("leaving", animal=animal, on=on, how="sold"),
            "arrive": lambda: self.write("arrival", animal=animal, on=on),
            "tomorrow": lambda: self.write(
                "pen-move", animal=animal, pen=pen, on=(now + timedelta(hours=5)).isoformat()
            ),
            "setting": lambda: self.write("setting", key="hoof-days", value=str(40 + which)),
            "item": lambda: self.write("plan-item", item="bell", title="Ring", every_days=9),
            "product": lambda: self.yard.amend(
                "house", self.product, "the label", milk_h=[24 * (which + 1), 0, "h"]
            ),
            "animal": lambda: self.yard.amend("house", animal, name=f"Stone {ago}"),
            "new": lambda: self.animals.append(
                self.write("animal", name=f"Shale {ago}", sex="buck", born=on, dam=animal)
            ),
            "retract": lambda: self.yard.retract("house", self.written[which % len(self.written)]),
            "unread": lambda: self.yard.devices["house"].write(
                Act(RECORD, "dose", {"fields": {"animal": animal}},
                    CATALOGUE["dose"].version + 1, CRITICAL, frozenset({animal}))
            ),
            "skip": lambda: self.skip(now),
            "disputed": lambda: self.dispute(self.written[which % len(self.written)], ago, now),
            "joined": lambda: self.join(animal, self.animals[ago % len(self.animals)]),
            "course": lambda: self.write(
                "course", animal=animal, product=self.product, on=on, interval_h=[24, 0, "h"], doses=3
            ),
        }  # fmt: skip
        if what in ("retract", "disputed") and not self.written:
            return
        id = made[what]()
        if isinstance(id, bytes) and what in (
            "trim",
            "dose",
            "kidding",
            "move",
            "leave",
            "bedding",
            "stores",
        ):
            self.written.append(id)

    def dispute(self, act: bytes, ago: int, now: datetime) -> None:
        """Two laptops that had not met each tell another day of one act."""
        self.yard.meet()
        for device, days in (("house", ago), ("barn", ago // 3 - 2)):
            on = (now - timedelta(days=days)).date().isoformat()
            self.yard.amend(device, act, on=on)
        self.yard.meet()

    def join(self, one: bytes, other: bytes) -> None:
        """Say that two animals are one."""
        if one != other:
            self.yard.same("house", one, other)

    def skip(self, now: datetime) -> None:
        lines = look(self.yard.records(), now, None)
        if lines:
            self.write("skip", work=lines[len(lines) // 2].id, because="not now")


HAPPENINGS = st.lists(
    st.tuples(
        st.sampled_from(
            ["trim", "dose", "kidding", "milk", "mating", "move", "bedding", "exempt", "leave",
             "arrive", "tomorrow", "setting", "item", "product", "animal", "new", "retract",
             "unread", "skip", "stores", "stores later", "disputed", "joined", "course", *TOLD]
        ),
        st.integers(0, 4), st.integers(0, 40), st.sampled_from([0, 0, 0, 1, 6, 30]),
    ),
    min_size=1, max_size=12,
)  # fmt: skip


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@example([("joined", 0, 1, 0), ("joined", 0, 3, 0)])
@given(HAPPENINGS)
def test_a_look_with_what_was_kept_answers_like_one_from_nothing(
    happenings: list[tuple[str, int, int, int]],
) -> None:
    play = Play()
    kept = Kept()
    now = BEGUN
    look(play.yard.records(), now, kept)
    for what, which, ago, hours in happenings:
        now += timedelta(hours=hours)
        play.happen(what, which, ago, now)
        records = play.yard.records()
        assert look(records, now, kept) == look(records, now, None), what


@pytest.mark.parametrize("short", [0, sql_shelf.SHORT])
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(HAPPENINGS)
def test_a_look_at_a_file_answers_like_one_in_memory(
    short: int, happenings: list[tuple[str, int, int, int]]
) -> None:
    """Whatever is read ahead for all animals, from long histories and from short ones."""
    play, now = Play(), BEGUN
    for what, which, ago, hours in happenings:
        now += timedelta(hours=hours)
        play.happen(what, which, ago, now)
    told = look(play.yard.records(), now, None)
    with (
        patch.object(projections.herd, "MANY_ANIMALS", 1),
        patch.object(sql_shelf, "SHORT", short),
        TemporaryDirectory() as folder,
    ):
        store = stored(Path(folder) / "farm", play.yard)
        for kept in (None, Kept()):
            with store.reading() as view:
                view.shelf.refresh()
                assert look(view.shelf, now, kept) == told
        store.close()


@pytest.mark.parametrize("kept", [None, Kept()])
def test_a_look_reads_ahead_once(kept: Kept | None) -> None:
    """Also where a kid of the first animals asks who stands in its pen with it."""
    play = Play()
    for number in range(20):
        kid = play.yard.animal(f"Kid {number}", sex="buck", born="2026-03-25")
        play.write("pen-move", animal=kid, pen=play.pens[0], on="2026-05-01")
    records = play.yard.records()
    with patch.object(records, "read_ahead") as asked:
        assert any(line.item == "separation" for line in look(records, BEGUN, kept))
    assert asked.call_count == 1


def test_work_done_for_the_whole_farm_makes_no_animal_be_worked_out_anew() -> None:
    yard, kept = Yard(), Kept()
    yard.animal("Agate", sex="doe", born="2020-03-01")
    before = look(yard.records(), BEGUN, kept)
    worked_out = kept.news
    yard.write("house", "chore-done", on="2026-05-19", item="medicine-shelf")
    after = look(yard.records(), BEGUN, kept)
    assert len(after) == len(before) - 1 and kept.news == worked_out


def test_what_was_missed_long_ago_is_let_go_within_the_day() -> None:
    """A kid's first day is told for four days after it, to the hour: no look keeps it for longer."""
    play, kept = Play(), Kept()
    play.happen("new", 1, 4, BEGUN)
    records = play.yard.records()
    told = []
    for hours in range(0, 24, 3):
        at = BEGUN + timedelta(hours=hours)
        told.append(look(records, at, kept))
        assert told[-1] == look(records, at, None)
    of_first_day = [any(line.item == "colostrum-amount" for line in lines) for lines in told]
    assert of_first_day[0] and not of_first_day[-1]


def test_kids_hear_of_who_comes_into_their_pen() -> None:
    play = Play()
    agate, _, kid, opal = play.animals
    for animal in (agate, kid):
        play.write("pen-move", animal=animal, pen=play.pens[0], on="2026-05-01")
    kept = Kept()
    records = play.yard.records()

    def apart() -> bool:
        lines = look(records, BEGUN, kept)
        assert lines == look(records, BEGUN, None)
        return not any(line.item == "separation" for line in lines)

    assert not apart()
    play.write("pen-move", animal=agate, pen=play.pens[1], on="2026-05-19")
    assert apart()
    play.write("pen-move", animal=opal, pen=play.pens[0], on="2026-05-19")
    assert not apart()


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Farm]:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    wall = Wall(BEGUN)
    found(tmp_path / "farm", wall, name="Quillmoor Dairy", keeper="Oda", device="house")
    opened = Farm.open(tmp_path / "farm", wall)
    yield opened
    opened.close()


def test_the_store_tells_what_changed_whoever_wrote(farm: Farm) -> None:
    kept = Kept()
    for name in ("Agate", "Opal", "Mica"):
        farm.record("animal", {"name": name, "sex": "doe", "born": "2020-03-01"})

    def both() -> list[DueLine]:
        assert isinstance(farm, Door)
        with farm._looking() as (_, shelf):
            lines = look(shelf, BEGUN, kept)
            assert lines == look(shelf, BEGUN, None)
            return [line for line in lines if line.animal]

    before = both()
    farm.record("hoof-trim", {"on": "2026-05-19"}, animals=["Opal"])
    after = both()
    assert len(after) == len(before) - 1
    farm.same("Agate", "Mica")
    assert {line.name for line in both()} == {"Agate", "Opal"} or {
        line.name for line in both()
    } == {
        "Mica",
        "Opal",
    }
    farm.undo()
    assert {line.name for line in both()} == {"Agate", "Mica", "Opal"}


@pytest.mark.parametrize("on", ["pen", "farm"])
def test_work_on_a_place_hears_of_what_becomes_of_an_animal_there(on: str) -> None:
    play, kept = Play(), Kept()
    for animal in play.animals:
        play.write("pen-move", animal=animal, pen=play.pens[0], on="2026-05-01")
    item = Item(
        id="pails", work="Scald the pails", on=on, whom=Whom(in_milk=True), every=Every(days=7),
        source="common practice, no published source",
    )  # fmt: skip
    plan = Plan("trial", "Trial", (item,), "")

    def told() -> int:
        records = play.yard.records()
        herd = Herd(records, settings_of(records), BEGUN)
        lines = Rounds(herd, plan, kept).lines()
        assert lines == Rounds(herd, plan).lines()
        return len(lines)

    assert told() == 0
    play.write("kidding", doe=play.animals[0], on="2026-05-18")
    assert told() == 1


def test_a_look_that_was_broken_off_hides_nothing_from_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A pen whose work is for other animals now is worked out by the look after the one that failed."""
    play, kept = Play(), Kept()
    for animal in play.animals:
        play.write("pen-move", animal=animal, pen=play.pens[0], on="2026-05-01")
    look(play.yard.records(), BEGUN, kept)
    agate = play.animals[0]
    play.write("pen-move", animal=agate, pen=play.pens[1], on="2026-05-19")
    with monkeypatch.context() as patch:
        patch.setattr(Rounds, "_heard_of", _fails)
        with pytest.raises(OSError, match="pulled out"):
            look(play.yard.records(), BEGUN, kept)
    records = play.yard.records()
    assert look(records, BEGUN, kept) == look(records, BEGUN, None)


def _fails(*_: object) -> list[DueLine]:
    raise OSError("the disk was pulled out")
