"""Medicine: what may not be sold, what asks for a look, courses, clocks, what is to give, the shelf."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from herdsync.answers import ConflictLine, DueLine, Hold, Timer
from herdsync.reports import CourseLine, HeldAnimal, MedicineBoard
from herdsync.sights import FlagLine, Sickroom
from tui import words
from tui.pages import clocks, shelf
from tui.pages.page import Cell, Column, Fact, OnAsking, Page, Row, heading
from tui.pages.rounds import line_facts

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("Left", 12),
    Column("Animal", 12, grow=1),
    Column("What", 16, grow=3),
    Column("Ends", 12, grow=1),
)
KINDS = ("dose", "vaccination", "course")
EMPTY = (
    "No medicine is written down, nothing is held, no clock runs.\n\n"
    "r  write down a product first ('medicine'), with its holds as the label has them\n"
    "g  then give it: holds and next doses run by themselves\n"
    "v  work a volume out from the figures on a label; nothing is written"
)
TWICE = (
    "Conflicts (6) asks whether this was given once or twice. Until then the longest hold counts."
)


@dataclass(frozen=True)
class Medicine:
    """What Medicine needs of the farm. ``why``: of each course, what it is given for and who said so."""

    held: list[HeldAnimal]
    board: MedicineBoard
    sickroom: Sickroom
    timers: list[Timer]
    due: list[DueLine]
    twice: list[ConflictLine]
    why: Mapping[str, str] = field(default_factory=dict)


def read(farm: Farm, timers: list[Timer]) -> Medicine:
    """Everything that bears on medicine; ``timers`` are all that run."""
    board = farm.medicine()
    due = [line for line in farm.due() if line.kind in KINDS]
    running = {one.course for one in board.courses}
    return Medicine(
        held=farm.held(),
        board=board,
        sickroom=farm.sickroom(),
        timers=[one for one in timers if _runs_here(one)],
        due=[line for line in due if line.preset.get("course", "") not in running - {""}],
        twice=[one for one in farm.conflicts() if one.kind == "pair" and one.record_kind in KINDS],
        why={one.course: why_given(farm, one.course) for one in board.courses if one.course},
    )


def _runs_here(timer: Timer) -> bool:
    """Holds and next doses have lines of their own."""
    return not timer.what.endswith(" clear") and not timer.what.startswith("next dose")


def why_given(farm: Farm, course: str) -> str:
    """What a course is given for and on whose word, as it was written down."""
    fields = farm.show(course).fields
    told = {name: fields[name].shown for name in ("because", "said_by") if name in fields}
    said = told.get("because", "")
    return f"{said} (said by {told['said_by']})".strip() if told.get("said_by") else said


def page(told: Medicine, now: datetime) -> Page:
    """Held first, then what to look at, courses, what to give, clocks, the shelf."""
    rows: list[Row] = []
    facts: dict[str, Tells] = {}
    for part in (_held, _look_at, _courses, _to_give, _clocks, _shelf):
        lines, said = part(told, now)
        rows += lines
        facts |= said
    return Page(COLUMNS, rows, EMPTY, OnAsking(facts, lambda key: facts[key]()))


Tells = Callable[[], list[Fact]]
Part = tuple[list[Row], dict[str, Tells]]


def _held(told: Medicine, now: datetime) -> Part:
    rows: list[Row] = []
    facts: dict[str, Tells] = {}
    for animal in told.held:
        for hold in animal.holds:
            if words.not_for_sale([hold.what]):
                rows.append(_held_row(animal, hold, now))
                facts[rows[-1].key] = partial(held_facts, animal, hold, now)
    if rows:
        count = len({row.animal for row in rows})
        rows.insert(0, heading("held", "Not for sale", words.count(count, "animal")))
    return rows, facts


def _held_row(animal: HeldAnimal, hold: Hold, now: datetime) -> Row:
    left = words.countdown(words.seconds_left(hold.until, now)) if hold.until else "unknown"
    tag = words.hold_tags([hold.what])
    doubt = "? " if hold.disputed else ""
    cells = (
        Cell(left, "held"),
        Cell(f"{animal.name} {tag}", "tag"),
        Cell(doubt + hold.what, "late" if doubt else "plain"),
        Cell(words.stamp(hold.until, now) if hold.until else "nobody knows", "strong"),
    )
    record = hold.records[0] if hold.records else ""
    key = f"held {animal.id} {hold.what}"
    return Row(key, cells, animal=animal.id, name=animal.name, pen=animal.pen, record=record)


def held_facts(animal: HeldAnimal, hold: Hold, now: datetime) -> list[Fact]:
    """Until when, which milkings to discard and which may be sold first, why, whom it passes to."""
    found = clocks.hold_facts(hold, now)
    if "milk" in hold.what and animal.milkings_to_discard is not None:
        first = words.day_word(animal.first_saleable, now)
        count = words.count(animal.milkings_to_discard, "milking")
        found.insert(
            1, Fact("Discard", f"{count} after the last dose; first to sell: {first}", "held")
        )
    if animal.passed_to and "meat" not in hold.what:
        kids = ", ".join(animal.passed_to)
        found.append(Fact("Her milk's kids", f"meat held with hers: {kids}", "held"))
    return [*found, Fact("! Caution", animal.caution, "closing")] if animal.caution else found


def _look_at(told: Medicine, now: datetime) -> Part:
    rows: list[Row] = []
    facts: dict[str, Tells] = {}
    asked = {record for line in told.twice for record in line.records}
    for line in told.twice:
        cells = (
            Cell("? one or two", "late"), Cell(line.name, "strong"),
            Cell(f"{line.record_kind} written down twice?"), Cell("see Conflicts (6)", "dim"),
        )  # fmt: skip
        rows.append(Row(f"twice {line.id}", cells, animal=line.animal, name=line.name))
        facts[f"twice {line.id}"] = partial(_twice_facts, line)
    for flag in told.sickroom.flags:
        if flag.record not in asked:
            rows.append(_flag_row(flag, now))
            facts[rows[-1].key] = partial(_flag_facts, flag)
    if rows:
        rows.insert(0, heading("look", "Look at", f"last {told.sickroom.days} days"))
    return rows, facts


def _twice_facts(line: ConflictLine) -> list[Fact]:
    return [Fact("Twice?", line.says, "late"), Fact("", TWICE)]


def _flag_facts(flag: FlagLine) -> list[Fact]:
    return [Fact("! Look", flag.says, "late")]


def _flag_row(flag: FlagLine, now: datetime) -> Row:
    said = flag.says.removeprefix(f"{flag.name}: ")
    cells = (
        Cell("▲ look", "late"), Cell(flag.name, "strong"), Cell(f"{flag.what}: {said}"),
        Cell(words.stamp(flag.on, now), "dim"),
    )  # fmt: skip
    return Row(
        f"flag {flag.record}", cells, animal=flag.animal, name=flag.name, pen=flag.pen,
        record=flag.record,
    )  # fmt: skip


def _courses(told: Medicine, now: datetime) -> Part:
    rows: list[Row] = []
    facts: dict[str, Tells] = {}
    if told.board.courses:
        count = words.count(len(told.board.courses), "next dose")
        rows.append(heading("courses", "Courses under way", count))
    for line in told.board.courses:
        rows.append(_course_row(line, now))
        facts[rows[-1].key] = partial(_course_facts, line, told, now)
    return rows, facts


def course_key(line: CourseLine) -> str:
    """What tells a course's line from all others."""
    return f"course {line.animal} {line.course or line.product}"


def _course_row(line: CourseLine, now: datetime) -> Row:
    left = words.countdown(words.seconds_left(line.due, now))
    state = "" if line.state == "ahead" else words.STATES[line.state][0] + " "
    of = f" of {line.doses}" if line.doses else ""
    cells = (
        Cell(state + left, line.state if state else "strong"),
        Cell(line.name, "strong"),
        Cell(f"dose {line.number}{of}, {line.product_name}"),
        Cell(words.stamp(line.due, now), "strong"),
    )
    record = line.course or (line.records[0] if line.records else "")
    return Row(course_key(line), cells, animal=line.animal, name=line.name, record=record)


def _course_facts(line: CourseLine, told: Medicine, now: datetime) -> list[Fact]:
    due, early, late = (words.day_word(one, now) for one in (line.due, line.early, line.late))
    found = [Fact("Next dose", f"{due}; in time from {early} to {late}. g gives it.", "strong")]
    why = told.why.get(line.course, "")
    found += [Fact("Why", why)] if why else []
    if line.last:
        found.append(Fact("Last dose", words.day_word(line.last, now)))
    return [*found, Fact("! Caution", told.board.caution, "closing")]


def _to_give(told: Medicine, now: datetime) -> Part:
    rows = [_due_row(line, now) for line in told.due]
    facts: dict[str, Tells] = {line.id: partial(line_facts, line, None, now) for line in told.due}
    return ([heading("due", "To give"), *rows] if rows else []), facts


def _due_row(line: DueLine, now: datetime) -> Row:
    cells = (
        Cell(words.state_word(line.state), line.state),
        Cell(line.name, "strong"),
        Cell(("! " if line.caution else "") + line.work),
        Cell(words.until(line, now), line.state),
    )
    return Row(line.id, cells, animal=line.animal, name=line.name, pen=line.pen)


def _clocks(told: Medicine, now: datetime) -> Part:
    running = clocks.page(told.timers, now)
    facts: dict[str, Tells] = {
        key: partial(running.facts.__getitem__, key) for key in running.facts
    }
    return ([heading("clocks", "Clocks"), *running.rows] if running.rows else []), facts


def _shelf(told: Medicine, now: datetime) -> Part:
    last = {one.product: one for one in told.sickroom.last_uses}
    products = told.board.products
    rows = [shelf.row(line, last.get(line.id), now) for line in products]
    facts: dict[str, Tells] = {
        f"product {line.id}": partial(shelf.facts, line, last.get(line.id), told.board.caution, now)
        for line in products
    }
    title = heading("shelf", "On the shelf", words.count(len(rows), "product"))
    return ([title, *rows] if rows else []), facts
