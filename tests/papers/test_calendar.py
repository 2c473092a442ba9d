"""The calendar by the rules of RFC 5545 and by a parser that shares no code with its writer (vobject)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import vobject  # type: ignore[import-untyped]

from herdsync.answers import DueLine, Timer
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.papers.calendar import Issue, calendar_of
from tests.papers.conftest import AT

HOSTILE = "Agate; a,b\\n\nBEGIN:VALARM\r\n\u202e " + "ü" * 80
ISSUE = Issue("Quillmoor Dairy", AT, 7)


def line(**more: Any) -> DueLine:
    told: dict[str, Any] = {
        "id": "w1", "animal": "a", "name": "Agate", "pen": "North", "item": "hoof-trim", "kind": "hoof-trim",
        "work": "Trim the hooves", "state": "open", "opens": "2026-06-10", "best": "2026-06-12",
        "closes": "2026-06-20", "due": "2026-06-12", "reason": "last done 2026-04-17, every 56 days",
    }  # fmt: skip
    return DueLine(**(told | more))


def timer(**more: Any) -> Timer:
    told: dict[str, Any] = {
        "animal": "a", "name": "Agate", "what": "milk clear", "since": "2026-05-31T06:00:00+00:00",
        "ends": "2026-06-04T06:00:00+02:00", "left_s": 1, "doubtful": False, "records": ["r1"],
    }  # fmt: skip
    return Timer(**(told | more))


def read(raw: bytes) -> Any:
    return vobject.readOne(raw.decode("utf-8"))


def test_the_form_is_that_of_rfc_5545() -> None:
    """Section 3.1: lines end with CRLF and are folded within 75 octets; 3.6: PRODID and VERSION."""
    raw, count = calendar_of(ISSUE, [line(name=HOSTILE, work=HOSTILE, reason=HOSTILE)], [], [])
    assert count == 1
    lines = raw.split(b"\r\n")
    assert all(len(one) <= 75 and b"\n" not in one and b"\r" not in one for one in lines)
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert b"VERSION:2.0" in lines
    assert any(one.startswith(b"PRODID:") for one in lines)
    # No name makes a component: the one alarm is ours.
    assert [one for one in lines if one.startswith(b"BEGIN:")] == [
        b"BEGIN:VCALENDAR", b"BEGIN:VEVENT", b"BEGIN:VALARM"
    ]  # fmt: skip


def test_an_independent_parser_reads_days_moments_and_alarms() -> None:
    raw, _ = calendar_of(ISSUE, [line()], [timer()], [])
    work, clock = read(raw).vevent_list
    assert (work.dtstart.value, work.dtend.value) == (date(2026, 6, 12), date(2026, 6, 13))
    assert work.summary.value == "Agate: Trim the hooves"
    assert work.valarm.action.value == "DISPLAY"
    assert work.valarm.trigger.value == timedelta(hours=7)
    assert clock.dtstart.value == datetime(2026, 6, 4, 4, 0, tzinfo=UTC)
    assert clock.dtstamp.value == AT


def test_identities_stay_and_numbers_grow() -> None:
    first = read(calendar_of(ISSUE, [line()], [timer()], [])[0]).vevent_list
    moved = line(due="2026-06-15", state="closing")
    later = Issue("Quillmoor Dairy", AT + timedelta(days=1), 9)
    second = read(
        calendar_of(later, [moved], [timer(ends="2026-06-05T06:00:00Z")], [])[0]
    ).vevent_list
    assert [one.uid.value for one in first] == [one.uid.value for one in second]
    assert [int(one.sequence.value) for one in (*first, *second)] == [7, 7, 9, 9]
    assert second[0].dtstart.value == date(2026, 6, 15)


def test_what_is_late_stands_today() -> None:
    raw, _ = calendar_of(
        ISSUE, [line(state="late", due="2026-05-01"), line(due="", best="")], [], []
    )
    assert [one.dtstart.value for one in read(raw).vevent_list] == [AT.date(), AT.date()]


def test_the_same_farm_at_the_same_moment_is_the_same_file(farm: Farm, tmp_path: Path) -> None:
    farm.record("animal", {"name": HOSTILE.split("\\")[0], "sex": "doe", "born": "2021-03-01"})
    farm.record("mating", {"doe": "Agate; a,b", "on": "2026-05-01"})
    first = farm.calendar(tmp_path / "one.ics")
    farm.calendar(tmp_path / "two.ics")
    raw = (tmp_path / "one.ics").read_bytes()
    assert raw == (tmp_path / "two.ics").read_bytes()
    events = read(raw).vevent_list
    assert len(events) == first.events > 1
    assert len({one.uid.value for one in events}) == len(events)
    # 1 May + 145 and + 155 days (gestation of standard breeds, Extension Goat Handbook).
    (window,) = [one for one in events if "may kid" in one.summary.value]
    assert (window.dtstart.value, window.dtend.value) == (date(2026, 9, 23), date(2026, 10, 4))


def test_a_calendar_is_made_anew_but_nothing_else_is_written_over(
    farm: Farm, tmp_path: Path
) -> None:
    farm.calendar(tmp_path / "farm.ics")
    farm.calendar(tmp_path / "farm.ics")
    (tmp_path / "mine.ics").write_text("BEGIN:VCALENDAR mine")
    with pytest.raises(Refused, match="no calendar of ours"):
        farm.calendar(tmp_path / "mine.ics")
    assert sorted(file.name for file in tmp_path.glob("*.ics*")) == ["farm.ics", "mine.ics"]


def test_without_its_library_a_paper_says_how_to_get_it(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"})
    for library in ("icalendar", "fpdf"):
        monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(Refused, match=r"herdsync\[calendar\]"):
        farm.calendar(tmp_path / "farm.ics")
    with pytest.raises(Refused, match=r"herdsync\[pdf\]"):
        farm.papers("history", ["Agate"], out=tmp_path / "out")
    assert farm.papers("history", ["Agate"], out=tmp_path / "out", pdf=False)
