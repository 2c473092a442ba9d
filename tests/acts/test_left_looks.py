"""What looks leave for the next run changes no answer: after any act, day, plan, zone, fault or damage."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import zoneinfo
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync import farm as farm_module
from herdsync.acts import looking
from herdsync.answers import DueLine
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.founding import found
from herdsync.projections.kept import Kept
from herdsync.store import aside
from herdsync.wall import Wall

BEGUN = datetime.fromisoformat("2026-05-20T07:00:00+00:00")
ANIMALS = (("Agate", "doe", "2020-03-01"), ("Flint", "buck", "2021-03-01"),
           ("Opal", "doe", "2019-05-20"), ("Topaz", "buck", "2026-03-25"))  # fmt: skip


@pytest.fixture(autouse=True)
def _at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looking, "LEFT_AFTER", 1)


class Asked(NamedTuple):
    """What a run answered, and how many animals it worked out for it."""

    lines: list[DueLine]
    worked_out: int


def ask(folder: Path, at: datetime = BEGUN) -> Asked:
    """Due work as a run of its own answers it, beside one that finds nothing left."""
    worked_out: list[bytes] = []
    keep = Kept.keep

    def counted(kept: Kept, goat: object, *told: object) -> None:
        worked_out.append(goat.id)  # type: ignore[attr-defined]
        keep(kept, goat, *told)  # type: ignore[arg-type]

    path = folder / aside.FILE
    before = path.read_bytes() if path.exists() else None
    with pytest.MonkeyPatch.context() as patch, Farm.open(folder, Wall(at)) as farm:
        patch.setattr(Kept, "keep", counted)
        lines = farm.due()
    after = path.read_bytes() if path.exists() else None
    path.unlink(missing_ok=True)
    with Farm.open(folder, Wall(at)) as farm:
        assert farm.due() == lines
    path.unlink(missing_ok=True)
    if after is not None:
        path.write_bytes(after)
    elif before is not None:
        path.write_bytes(before)
    return Asked(lines, len(worked_out))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    yield begun(tmp_path / "farm")


def begun(folder: Path) -> Path:
    found(folder, Wall(BEGUN), name="Quillmoor Dairy", keeper="Oda", device="house")
    with Farm.open(folder, Wall(BEGUN)) as farm:
        farm.set("zone", "Europe/Berlin")
        for name in ("North", "South"):
            farm.record("pen", {"name": name})
        for name, sex, born in ANIMALS:
            farm.record("animal", {"name": name, "sex": sex, "born": born})
    return folder


def act(folder: Path, what: str, which: int, ago: int, now: datetime) -> None:
    """One thing happens, by a run of its own."""
    name = ANIMALS[which % len(ANIMALS)][0]
    on = (now - timedelta(days=ago)).date().isoformat()
    with Farm.open(folder, Wall(now)) as farm:
        lines = farm.due()
        acts: dict[str, Callable[[], object]] = {
            "trim": lambda: farm.record("hoof-trim", {"on": on}, [name]),
            "move": lambda: farm.record("pen-move", {"on": on, "pen": "North"}, [name]),
            "later": lambda: farm.record(
                "pen-move", {"on": (now + timedelta(hours=5)).isoformat(), "pen": "South"}, [name]
            ),
            "kidding": lambda: farm.record("kidding", {"on": on}, ["Agate"]),
            "leave": lambda: farm.record("leaving", {"on": on, "how": "sold"}, [name]),
            "rename": lambda: farm.amend(name, [f"breed=Saanen {ago}"]),
            "setting": lambda: farm.set("hoof-days", str(40 + which)),
            "zone": lambda: farm.set("zone", ("Asia/Tokyo", "America/Lima")[which % 2]),
            "item": lambda: farm.record(
                "plan-item", {"item": f"bell-{which}", "title": "Ring", "every_days": "9"}
            ),
            "skip": lambda: farm.skip(lines[len(lines) // 2].id, "not now"),
            "undo": farm.undo,
            "refold": farm.refold,
            "verify": farm.verify,
            "nothing": lambda: None,
        }
        # One whose animal was taken back cannot be written down; nothing happens then.
        with contextlib.suppress(Refused):
            acts[what]()


HAPPENINGS = st.lists(
    st.tuples(
        st.sampled_from(
            ["trim", "move", "later", "kidding", "leave", "rename", "setting", "zone", "item",
             "skip", "undo", "refold", "verify", "nothing"]
        ),
        st.integers(0, 4), st.integers(0, 40), st.sampled_from([-3, 0, 0, 0, 1, 6, 30]),
    ),
    min_size=1, max_size=6,
)  # fmt: skip


@settings(max_examples=25)
@given(HAPPENINGS)
def test_runs_with_what_was_left_answer_like_runs_without(
    tmp_path_factory: pytest.TempPathFactory, happenings: list[tuple[str, int, int, int]]
) -> None:
    place = tmp_path_factory.mktemp("left")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HERDSYNC_KEYS", str(place / "keys"))
        folder, now = begun(place / "farm"), BEGUN
        ask(folder, now)
        for what, which, ago, hours in happenings:
            now += timedelta(hours=hours)
            act(folder, what, which, ago, now)
            ask(folder, now)


def test_the_next_run_works_out_what_changed_alone(folder: Path) -> None:
    assert ask(folder).worked_out == len(ANIMALS)
    assert ask(folder).worked_out == 0
    act(folder, "trim", 0, 1, BEGUN)
    assert ask(folder).worked_out <= 1
    assert ask(folder, BEGUN + timedelta(days=1)).worked_out == len(ANIMALS)


def test_little_news_is_not_left(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looking, "LEFT_AFTER", len(ANIMALS) + 1)
    ask(folder)
    assert not (folder / aside.FILE).exists()


def test_another_program_or_other_rules_of_the_zone_work_out_everything(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask(folder)
    for part, told in (("_program", lambda: b"a newer one"), ("_rules", lambda zone: b"others")):
        with monkeypatch.context() as patch:
            patch.setattr(aside, part, told)
            assert ask(folder).worked_out == len(ANIMALS)
            assert ask(folder).worked_out == 0
        assert ask(folder).worked_out == len(ANIMALS)


def test_a_program_whose_code_cannot_be_read_leaves_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(aside, "_program", lambda: b"")
    ask(folder)
    assert not (folder / aside.FILE).exists()


def test_every_letter_of_the_code_stands_for_its_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = Path(farm_module.__file__).parent
    copy = tmp_path / "herdsync"
    shutil.copytree(home, copy, ignore=shutil.ignore_patterns("__pycache__"))
    here = aside._program()
    monkeypatch.setattr("herdsync.__file__", str(copy / "__init__.py"))
    assert aside._program.__wrapped__() == here
    for name in ("projections/plans/hill-and-barn-1.toml", "trade/dates.py", "faults.py"):
        (copy / name).write_text((copy / name).read_text("utf-8") + "\n", "utf-8")
        changed = aside._program.__wrapped__()
        assert changed != here
        here = changed
    shutil.rmtree(copy / "kinds")
    assert aside._program.__wrapped__() == b""


def test_rules_of_a_zone_are_found_without_the_systems_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pytest.importorskip("tzdata")
    zone = zoneinfo.ZoneInfo("Europe/Berlin")
    monkeypatch.setattr(zoneinfo, "TZPATH", ())
    assert len(aside._rules.__wrapped__(zone)) == aside.HASH_BYTES


def test_whatever_is_damaged_counts_as_never_left(folder: Path) -> None:
    ask(folder)
    path = folder / aside.FILE
    whole = path.read_bytes()
    step = max(1, len(whole) // 40)
    for at in (*range(64), *range(64, len(whole), step), len(whole) - 1):
        broken = bytearray(whole)
        broken[at] ^= 1 << at % 8
        path.write_bytes(broken)
        with Farm.open(folder, Wall(BEGUN)) as farm, farm._looking() as (view, _):
            assert aside.left(folder, view, farm.zone) is None
    for cut in (0, 1, aside.HASH_BYTES, len(whole) // 2, len(whole) - 1):
        path.write_bytes(whole[:cut])
        assert ask(folder).worked_out == len(ANIMALS)
        path.write_bytes(whole[:cut])
    path.write_bytes(whole)
    assert ask(folder).worked_out == 0


def test_a_write_that_was_broken_off_is_written_over(folder: Path) -> None:
    ask(folder)
    path, part = folder / aside.FILE, folder / f"{aside.FILE}.part"
    part.write_bytes(path.read_bytes()[:100])
    assert ask(folder).worked_out == 0
    act(folder, "trim", 1, 0, BEGUN)
    ask(folder)
    assert not part.exists()
    assert ask(folder).worked_out == 0


@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO])
@pytest.mark.parametrize("where", ["write", "replace"])
def test_a_look_that_cannot_leave_anything_is_a_look(
    folder: Path, monkeypatch: pytest.MonkeyPatch, fault: int, where: str
) -> None:
    def fails(*_: object) -> None:
        raise OSError(fault, os.strerror(fault))

    if where == "write":
        monkeypatch.setattr(Path, "write_bytes", fails)
    else:
        monkeypatch.setattr(Path, "replace", fails)
    with Farm.open(folder, Wall(BEGUN)) as farm:
        assert farm.due()
    assert not [one.name for one in folder.iterdir() if "looks" in one.name]


def test_the_last_room_is_left_to_the_keepers_acts(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = shutil.disk_usage(folder)._replace(free=aside.ROOM_BYTES - 1)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: few)
    ask(folder)
    assert not (folder / aside.FILE).exists()


def test_a_farm_in_use_is_looked_at_without_waiting(folder: Path) -> None:
    """Leaving takes no lock: another writes all the while."""
    with Farm.open(folder, Wall(BEGUN)) as other, other._writing():
        assert ask(folder).worked_out == len(ANIMALS)
        assert ask(folder).worked_out == 0


def test_a_log_that_went_another_way_is_not_taken_for_this_one(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A whole disk put back, and other acts since: as many entries, not the same ones."""
    earlier, keys = folder.with_name("earlier"), folder.with_name("keys")
    shutil.copytree(folder, earlier)
    shutil.copytree(keys, folder.with_name("earlier keys"))
    act(folder, "trim", 0, 1, BEGUN)
    ask(folder)
    monkeypatch.setenv("HERDSYNC_KEYS", str(folder.with_name("earlier keys")))
    act(earlier, "leave", 2, 1, BEGUN)
    shutil.copy(folder / aside.FILE, earlier / aside.FILE)
    assert ask(earlier).worked_out == len(ANIMALS)


def test_a_shorter_log_is_not_taken_for_this_one(folder: Path) -> None:
    earlier = folder.with_name("earlier")
    shutil.copytree(folder, earlier)
    act(folder, "trim", 0, 1, BEGUN)
    ask(folder)
    shutil.copy(folder / aside.FILE, earlier / aside.FILE)
    assert ask(earlier).worked_out == len(ANIMALS)


def test_what_is_derived_folded_again_is_looked_at_anew(folder: Path) -> None:
    ask(folder)
    left = (folder / aside.FILE).read_bytes()
    act(folder, "refold", 0, 0, BEGUN)
    # As where a run that looked before the refold leaves its file after it.
    (folder / aside.FILE).write_bytes(left)
    assert ask(folder).worked_out == len(ANIMALS)


@pytest.mark.parametrize("what", ["verify", "refold"])
def test_a_check_lets_go_of_what_was_left(folder: Path, what: str) -> None:
    ask(folder)
    with Farm.open(folder, Wall(BEGUN)) as farm:
        getattr(farm, what)()
    assert not (folder / aside.FILE).exists()


def test_what_was_left_tells_of_the_farm_as_it_is_not_as_an_entry_knew_it(folder: Path) -> None:
    ask(folder)
    left = (folder / aside.FILE).read_bytes()
    with Farm.open(folder, Wall(BEGUN)) as farm:
        entry = farm.record("hoof-trim", {"on": "2026-05-19"}, ["Agate"]).id
        farm.record("leaving", {"on": "2026-05-19", "how": "sold"}, ["Opal"])
    with Farm.open(folder, Wall(BEGUN), known=entry) as known:
        assert "Opal" in {line.name for line in known.due()}
    assert (folder / aside.FILE).read_bytes() == left
