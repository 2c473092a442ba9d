"""The board of each kid: the windows of its first months, how it grows, a buckling's decision."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.reports import KidBoard, KidTask
from tui import words
from tui.pages.page import Cell, Column, Fact, Page, Row, heading

if TYPE_CHECKING:
    from herdsync.farm import Farm

PRESSING = ("closing", "late", "due", "open")
COLUMNS = (
    Column("State", 10),
    Column("Work", 24, grow=3),
    Column("From", 9, grow=1),
    Column("Until", 9, grow=1),
    Column("Why", 14, grow=4, room=86),
)
EMPTY = "There is no kid.\n\nesc, then k: write down a kidding, then each kid"
DECIDE = "To weigh up before he is castrated, or kept"
# In what order the sentences of a decision come is the engine's; these words begin some of them.
LOUD = ("stop", "look")


def read(farm: Farm, now: datetime, only: str = "") -> Page:
    """Every kid with its windows; ``only``: one of them."""
    boards = [kid for kid in farm.kids() if only in ("", kid.id)]
    rows: list[Row] = []
    facts: dict[str, list[Fact]] = {}
    for kid in boards:
        rows.append(heading(f"kid {kid.id}", kid.name, _summary(kid)))
        lines = _told(kid)
        tasks = sorted(kid.tasks, key=_turn)
        now_open = [task for task in tasks if task.state in PRESSING]
        lines += [_task(kid, task, now) for task in now_open]
        lines += _decision(kid)
        lines += [_task(kid, task, now) for task in tasks if task not in now_open]
        rows += lines
        short = facts_of_growth(kid)
        facts |= {row.key: short for row in lines}
        facts |= {_key(kid, task): task_facts(kid, task, now) for task in tasks}
        facts |= {f"weigh {kid.id} {at}": [Fact("", said)] for at, said in enumerate(kid.decision)}
    return Page(COLUMNS, rows, EMPTY, facts)


def pressing(kid: KidBoard) -> KidTask | None:
    """What presses most of a kid's open windows."""
    open_now = [task for task in kid.tasks if task.state in PRESSING]
    return min(open_now, key=lambda task: words.pressing(task.state), default=None)


def facts(kid: KidBoard, now: datetime) -> list[Fact]:
    """A kid in short: what to look at, its growth, then window by window, then the decision."""
    found = facts_of_growth(kid)
    for task in sorted(kid.tasks, key=lambda one: words.pressing(one.state)):
        done = task.state == "done"
        mark = "✓ done" if done else words.state_word(task.state)
        found.append(
            Fact("", f"{mark}  {task.work}, {_span(task, now)}", "good" if done else task.state)
        )
    if kid.decision:
        found.append(Fact(DECIDE, ""))
        found += [Fact("", said) for said in kid.decision]
    return found


def facts_of_growth(kid: KidBoard) -> list[Fact]:
    """What to look at in a kid, its weights and what they lean to, whether it may be weaned."""
    found = [Fact("! Look", one, "late") for one in kid.alerts]
    told = (
        ("Colostrum", kid.colostrum), ("Gain", kid.gain_says),
        ("At birth", "" if kid.birth_kg is None else f"{kid.birth_kg:g} kg"),
        ("At 90 days, at this pace", "" if kid.adjusted_kg is None else f"{kid.adjusted_kg:.1f} kg"),
        ("Weaning", kid.weaning),
    )  # fmt: skip
    found += [Fact(label, said) for label, said in told if said]
    return [*found, *([Fact("! Caution", kid.caution, "closing")] if kid.caution else [])]


def task_facts(kid: KidBoard, task: KidTask, now: datetime) -> list[Fact]:
    """Why a window is there, and how it stands."""
    found = [
        Fact(
            task.work,
            f"{words.state_word(task.state) if not task.done else '✓ done'}, {_span(task, now)}",
        )
    ]
    found += [Fact("Why", task.reason)] if task.reason else []
    return [*found, Fact("Kid", f"{kid.name}: {_summary(kid)}")]


def _summary(kid: KidBoard) -> str:
    weight = f"{kid.weight_kg:g} kg" if kid.weight_kg is not None else "not weighed"
    gain = f", {kid.gain_g_per_day:.0f} g a day" if kid.gain_g_per_day is not None else ""
    dam = f", dam {kid.dam}" if kid.dam else ""
    return f"{kid.sex_now}, {words.age(kid.age_days)}, {weight}{gain}{dam}"


def _told(kid: KidBoard) -> list[Row]:
    """What stands above the windows: what to look at, colostrum."""
    lines = [("▲ look", one, "late") for one in kid.alerts]
    lines += [("colostrum", kid.colostrum, "closing")] if kid.colostrum else []
    return [
        Row(
            f"told {kid.id} {at}",
            (Cell(word, tone), Cell(said, tone)),
            animal=kid.id,
            name=kid.name,
        )
        for at, (word, said, tone) in enumerate(lines)
    ]


def _turn(task: KidTask) -> tuple[int, int, str]:
    """What is open first, then what is ahead, day by day, then what was missed, then what is done."""
    order = {"ahead": 1, "missed": 2, "done": 3}
    return order.get(task.state, 0), words.pressing(task.state), task.opens or task.done


def _key(kid: KidBoard, task: KidTask) -> str:
    return f"task {kid.id} {task.item}"


def _task(kid: KidBoard, task: KidTask, now: datetime) -> Row:
    done = task.state == "done"
    tone = "good" if done else task.state
    cells = (
        Cell("✓ done" if done else words.state_word(task.state), tone),
        Cell(task.work, "dim" if done else "plain"),
        Cell("" if done else words.stamp(task.opens, now), "dim"),
        Cell(words.stamp(task.done or task.closes, now), tone),
        Cell(task.reason, "dim"),
    )
    return Row(_key(kid, task), cells, animal=kid.id, name=kid.name)


def _decision(kid: KidBoard) -> list[Row]:
    """A buckling's decision, sentence by sentence: law, usual ages, stones, places, cover."""
    if not kid.decision:
        return []
    rows = [
        Row(
            f"decide {kid.id}",
            (Cell("? decide", "closing"), Cell(DECIDE, "closing")),
            animal=kid.id,
            name=kid.name,
        )
    ]
    for at, said in enumerate(kid.decision):
        word, _, rest = said.partition(": ")
        short = bool(rest) and len(word) <= 24
        loud = word in LOUD
        cells = (
            Cell(("▲ " if loud else "  ") + (word if short else "")[:8], "late" if loud else "dim"),
            Cell(rest if short else said),
        )  # fmt: skip
        rows.append(Row(f"weigh {kid.id} {at}", cells, animal=kid.id, name=kid.name))
    return rows


def _span(task: KidTask, now: datetime) -> str:
    if task.done:
        return words.day_word(task.done, now)
    return " to ".join(words.day_word(one, now) for one in (task.opens, task.closes) if one)
