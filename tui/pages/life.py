"""What is known of an animal by subject: line and marks, hooves, horns, weight, tests, pens, the newest each.

Only shown here: what follows from the acts is worked out elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from herdsync.answers import ActLine, HerdLine
from herdsync.reports import MarkLine
from herdsync.sights import Sights
from tui import words
from tui.pages import pictures
from tui.pages.page import Cell, Fact, Row

BARS_SHOWN = 30
# A subject, the kinds of act that tell of it, how many of the newest are shown.
SUBJECTS: tuple[tuple[str, tuple[str, ...], int], ...] = (
    ("Hooves", ("hoof-trim",), 1),
    ("Head", ("scurs", "disbudding"), 2),
    ("Weight", ("weighing",), 1),
    ("Condition", ("condition-score", "eyelid-score", "egg-count", "temperature", "illness"), 4),
    ("Udder", ("udder-check",), 1),
    ("Tests", ("disease-test",), 4),
    ("Medicine", ("dose", "vaccination", "course"), 3),
    ("Breeding", ("pregnancy-check", "mating", "heat", "kidding", "dry-off", "abortion"), 3),
    ("Pens", ("pen-move",), 2),
    ("Came, went", ("arrival", "leaving", "death"), 2),
    ("Notes", ("note",), 3),
)
EACH_KIND_ONCE = ("Condition", "Head")


def told(subject: str, kinds: Sequence[str], most: int, acts: Sequence[ActLine]) -> list[ActLine]:
    """The newest acts that tell of a subject; of some subjects the newest of each kind."""
    found = [act for act in acts if act.kind in kinds]
    if subject in EACH_KIND_ONCE:
        newest = {act.kind: act for act in reversed(found)}
        found = [act for act in found if newest[act.kind] is act]
    return found[:most]


def rows(
    animal: HerdLine, acts: Sequence[ActLine], marks: MarkLine | None, sights: Sights | None,
    now: datetime,
) -> list[Row]:  # fmt: skip
    """A line a subject: what is known by its newest acts."""
    found = [_identity(animal, now), *_marks(animal, marks), *_line(animal, sights)]
    for subject, kinds, most in SUBJECTS:
        for at, act in enumerate(told(subject, kinds, most, acts)):
            found.append(_act(subject if at == 0 else "", act, sights, now))
    return found


def facts(
    acts: Sequence[ActLine], marks: MarkLine | None, sights: Sights | None
) -> dict[str, list[Fact]]:
    """What stands beside the lines of `rows`."""
    found: dict[str, list[Fact]] = {
        f"of {act.id}": [Fact(act.title, act.shown or "no details")] for act in acts
    }
    if marks is not None:
        found["marks"] = mark_facts(marks)
    if sights is not None and sights.pedigree.ancestors:
        kin = sights.pedigree
        said = f"{kin.inbreeding * 100:.2f} % as far as known ({kin.says})"
        found["line"] = [Fact("Inbred", said), *(Fact("! Look", one, "late") for one in kin.faults)]
    return found


def mark_facts(marks: MarkLine) -> list[Fact]:
    """How the marks were read, and what to look at."""
    found = [Fact("! Look", one, "late") for one in marks.warnings]
    found.append(Fact("Tattoo", marks.stage))
    found.append(Fact("Read on the animal", marks.read or "never again since"))
    if marks.legibility:
        found.append(Fact("Legible", ", ".join(marks.legibility)))
    return [*found, Fact("", "v: all marks, and the next one", "dim")]


def _identity(animal: HerdLine, now: datetime) -> Row:
    born = (
        f"{words.age(animal.age_days)}, born {words.stamp(animal.born, now)}" if animal.born else ""
    )
    parts = [
        animal.sex_now,
        born,
        animal.breed,
        animal.horns,
        *(one for one in animal.state if one != "wether"),
    ]
    cells = (
        Cell("Today", "dim"), Cell(", ".join(part for part in parts if part), "strong"),
        Cell(f"{animal.pen or 'no pen'}", "strong"),
    )  # fmt: skip
    return Row("today", cells, animal=animal.id, name=animal.name)


def _marks(animal: HerdLine, marks: MarkLine | None) -> list[Row]:
    told_marks = [
        f"{word} {text}"
        for word, text in (
            ("right", animal.tattoo_right), ("left", animal.tattoo_left),
            ("tail", marks.tail if marks is not None else ""),
            ("chip", marks.chip if marks is not None else ""),
        )
        if text
    ]  # fmt: skip
    warned = bool(marks is not None and marks.warnings)
    cells = (
        Cell("▲ Marks" if warned else "Marks", "late" if warned else "dim"),
        Cell(", ".join(told_marks) or "no mark"),
        Cell(marks.read[:10] if marks is not None and marks.read else "not read again", "dim"),
    )
    return [Row("marks", cells)]


def _line(animal: HerdLine, sights: Sights | None) -> list[Row]:
    if not (animal.dam or animal.sire):
        return []
    inbred = f"inbred {sights.pedigree.inbreeding * 100:.1f} %" if sights is not None else ""
    parents = f"dam {animal.dam_name or '?'}, sire {animal.sire_name or '?'}"
    return [Row("line", (Cell("Line", "dim"), Cell(parents), Cell(inbred, "dim")))]


def _act(subject: str, act: ActLine, sights: Sights | None, now: datetime) -> Row:
    mark = "? " if act.disputed else ""
    shown = act.shown or act.title
    if act.kind not in ("hoof-trim", "weighing", "note", "disease-test", "pen-move"):
        shown = f"{act.title}: {act.shown}" if act.shown else act.title
    if act.kind == "weighing" and sights is not None:
        shown = f"{shown}  {weights(sights)}".rstrip()
    cells = (
        Cell(subject, "dim"), Cell(mark + shown, "late" if act.disputed else "plain"),
        Cell(words.stamp(act.on, now)),
    )  # fmt: skip
    return Row(f"of {act.id}", cells, record=act.id, name=act.title)


def weights(sights: Sights) -> str:
    """All weights as bars, and the gain of late."""
    points = sights.growth.curves[0].points[-BARS_SHOWN:]
    gain = sights.growth.says.partition(";")[0]
    return (
        f"{pictures.bars([one.value for one in points])}  {gain}".strip() if len(points) > 1 else ""
    )
