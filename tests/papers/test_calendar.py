"""The calendar by the rules of RFC 5545 and by a parser that shares no code with its writer (vobject)."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import vobject  # type: ignore[import-untyped]
from icalendar import Calendar

from herdsync.answers import DueLine, Timer
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.papers.calendar import Issue, calendar_of, events_in
from tests.papers.conftest import AT

HOSTILE = "Agate; a,b\\n\nBEGIN:VALARM\r\n\u202e " + "ü" * 80
ISSUE = Issue("Quillmoor Dairy", "farmid", AT, 7)


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


def made(*told: Any, issue: Issue = ISSUE, earlier: bytes = b"") -> bytes:
    """A calendar's bytes, of due work, timers and kiddings in this order."""
    due, timers, kiddings = [*told, [], [], []][:3]
    before = events_in(earlier) if earlier else None
    return calendar_of(issue, due, timers, kiddings, before).content


def by_uid(raw: bytes) -> dict[str, Any]:
    return {one.uid.value: one for one in read(raw).vevent_list}


def test_the_form_is_that_of_rfc_5545() -> None:
    """Section 3.1: lines end with CRLF and are folded within 75 octets; 3.6: PRODID and VERSION."""
    raw = made([line(name=HOSTILE, work=HOSTILE, reason=HOSTILE)])
    lines = raw.split(b"\r\n")
    assert all(len(one) <= 75 and b"\n" not in one and b"\r" not in one for one in lines)
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert b"VERSION:2.0" in lines
    assert any(one.startswith(b"PRODID:") for one in lines)
    # No name makes a component: the one alarm is ours.
    assert [one for one in lines if one.startswith(b"BEGIN:")] == [
        b"BEGIN:VCALENDAR", b"BEGIN:VEVENT", b"BEGIN:VALARM"
    ]  # fmt: skip


@pytest.mark.parametrize(("octets", "parts"), [(70, 1), (76, 2), (150, 3)])
def test_c134_a_line_is_folded_after_75_octets(octets: int, parts: int) -> None:
    """Section 3.1: no line over 75 octets; what goes on begins with one space, which is not counted."""
    name = "x" * (octets - len("SUMMARY:: Trim the hooves"))
    raw = made([line(name=name)])
    found = re.search(rb"SUMMARY:.*?(?=\r\n[^ ])", raw, re.DOTALL)
    assert found is not None
    lines = found[0].split(b"\r\n")
    assert len(lines) == parts and all(one.startswith(b" ") for one in lines[1:])
    assert (
        lines[0] + b"".join(one[1:] for one in lines[1:])
        == f"SUMMARY:{name}: Trim the hooves".encode()
    )


def test_an_independent_parser_reads_days_moments_and_alarms() -> None:
    raw = made([line()], [timer()])
    work, clock = read(raw).vevent_list
    assert (work.dtstart.value, work.dtend.value) == (date(2026, 6, 12), date(2026, 6, 13))
    assert work.summary.value == "Agate: Trim the hooves"
    assert work.valarm.action.value == "DISPLAY"
    assert work.valarm.trigger.value == timedelta(hours=7)
    assert clock.dtstart.value == datetime(2026, 6, 4, 4, 0, tzinfo=UTC)
    assert clock.dtstamp.value == AT


LATER = Issue("Quillmoor Dairy", "farmid", AT + timedelta(days=1), 9)


def test_it_is_a_posting_as_rfc_5546_has_it() -> None:
    """Section 3.2.1: PUBLISH; each event DTSTAMP, DTSTART, ORGANIZER, SUMMARY, UID; no ATTENDEE."""
    raw = made([line()], [timer()])
    calendar = read(raw)
    assert calendar.method.value == "PUBLISH"
    for event in calendar.vevent_list:
        for needed in ("dtstamp", "dtstart", "organizer", "summary", "uid", "sequence"):
            assert needed in event.contents
        assert "attendee" not in event.contents
        # An address is a URI (RFC 5545, 3.3.3); a UUID of version 8, variant 10 (RFC 9562).
        assert re.fullmatch(
            r"urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}",
            event.organizer.value,
        )
    assert calendar_of(ISSUE, [line()], [], []).events == 1


def test_identities_stay_and_numbers_grow() -> None:
    first = made([line()], [timer()])
    moved = line(due="2026-06-15", state="closing")
    second = made([moved], [timer(ends="2026-06-05T06:00:00Z")], issue=LATER, earlier=first)
    assert list(by_uid(first)) == list(by_uid(second))
    numbers = [
        int(one.sequence.value) for one in (*by_uid(first).values(), *by_uid(second).values())
    ]
    assert numbers == [7, 7, 9, 9]
    assert read(second).vevent_list[0].dtstart.value == date(2026, 6, 15)
    # Changed though the log did not grow: the day went on. The number grows all the same.
    third = made([line(due="2026-06-16")], issue=LATER, earlier=second)
    assert int(by_uid(third)["w1@herdsync"].sequence.value) == 10
    # Nothing changed: the number stays.
    assert (
        int(
            by_uid(made([line(due="2026-06-16")], issue=LATER, earlier=third))[
                "w1@herdsync"
            ].sequence.value
        )
        == 10
    )


def test_what_is_done_since_is_cancelled_for_a_while_and_comes_back_higher() -> None:
    """RFC 5546, 3.2.1: STATUS of a posting may be CANCELLED; the higher SEQUENCE counts (2.1.5)."""
    first = made([line(), line(id="w2", work="Weigh")])
    done = calendar_of(LATER, [line(id="w2", work="Weigh")], [], [], events_in(first))
    assert (done.events, done.cancelled) == (1, 1)
    gone = by_uid(done.content)["w1@herdsync"]
    assert (gone.status.value, int(gone.sequence.value)) == ("CANCELLED", 8)
    assert gone.dtstart.value == date(2026, 6, 12)
    assert "valarm" not in gone.contents
    assert gone.dtstamp.value == LATER.moment
    # Told again unchanged, and no longer after two months.
    again = made([], issue=LATER, earlier=done.content)
    assert by_uid(again)["w1@herdsync"].serialize() == gone.serialize()
    much_later = Issue("Quillmoor Dairy", "farmid", AT + timedelta(days=70), 9)
    assert by_uid(made([line(id="w3")], issue=much_later, earlier=again)).keys() == {"w3@herdsync"}
    with pytest.raises(Refused, match="Nothing is due"):
        made([], issue=much_later, earlier=again)
    # Taken back, the work is due again.
    back = by_uid(made([line()], issue=LATER, earlier=done.content))["w1@herdsync"]
    assert (back.status.value, int(back.sequence.value)) == ("CONFIRMED", 9)
    assert "valarm" in back.contents


def test_a_clock_that_ran_out_is_no_more_and_nothing_is_said_of_it() -> None:
    first = made([], [timer()])
    later = Issue("Quillmoor Dairy", "farmid", AT + timedelta(days=10), 9)
    assert calendar_of(later, [line()], [], [], events_in(first)).cancelled == 0
    # One that was stopped before its time is cancelled.
    assert calendar_of(LATER, [], [], [], events_in(first)).cancelled == 1


def test_the_library_that_wrote_it_reads_it_back_without_a_fault() -> None:
    for event in Calendar.from_ical(made([line(name=HOSTILE)], [timer()])).walk():
        assert event.errors == []


@pytest.mark.parametrize(
    "spoil",
    [lambda raw: raw[:200], lambda raw: raw + b"\xff\xfe", lambda raw: raw.replace(b"DTSTART", b"DTSTRAT"),
     lambda raw: raw.replace(b"SEQUENCE:7", b"SEQUENCE:x"),
     lambda raw: raw.replace(b"BEGIN:VEVENT", b"BEGIN:"),
     lambda raw: raw.replace(b"20260612", b"99999999")],
)  # fmt: skip
def test_a_spoilt_calendar_is_refused_or_read_never_a_traceback(spoil: Any) -> None:
    raw = spoil(made([line()], [timer()]))
    try:
        made([line(id="w3")], earlier=raw)
    except Refused as fault:
        assert "cannot be read" in str(fault)


def test_what_is_late_stands_today() -> None:
    raw = made([line(state="late", due="2026-05-01"), line(id="w2", due="", best="")])
    assert [one.dtstart.value for one in read(raw).vevent_list] == [AT.date(), AT.date()]


def test_a_farms_calendar_follows_what_is_done(farm: Farm, tmp_path: Path) -> None:
    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"})
    farm.record("hoof-trim", {"animal": "Agate", "on": "2026-04-10", "front_left": "ok"})
    first = farm.calendar(tmp_path / "farm.ics")
    trims = [uid for uid, one in by_uid((tmp_path / "farm.ics").read_bytes()).items()
             if "hooves" in one.summary.value.lower()]  # fmt: skip
    assert (first.cancelled, len(trims)) == (0, 1)
    farm.record("hoof-trim", {"animal": "Agate", "on": "2026-06-01", "front_left": "ok"})
    second = farm.calendar(tmp_path / "farm.ics")
    assert second.cancelled >= 1
    told = by_uid((tmp_path / "farm.ics").read_bytes())
    assert told[trims[0]].status.value == "CANCELLED"
    farm.undo()
    farm.calendar(tmp_path / "farm.ics")
    back = by_uid((tmp_path / "farm.ics").read_bytes())[trims[0]]
    assert back.status.value == "CONFIRMED"
    assert int(back.sequence.value) > int(told[trims[0]].sequence.value)
    # Asked less far ahead, what is farther off is not gone.
    wide = farm.calendar(tmp_path / "wide.ics", 200)
    near = farm.calendar(tmp_path / "near.ics", 0, since=tmp_path / "wide.ics")
    assert (near.events, near.cancelled) == (wide.events, 0)
    with pytest.raises(Refused, match="not there"):
        farm.calendar(tmp_path / "x.ics", since=tmp_path / "none.ics")


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
    farm.record("animal", {"name": "Agate", "sex": "doe", "born": "2021-03-01"})
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
