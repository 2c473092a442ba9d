"""Trail: who wrote and changed what, newest first, with the state of every signature."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING, Any

from herdsync.answers import TrailLine
from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Ref
from tui import words
from tui.pages.page import Cell, Cells, Column, Fact, OnAsking, Page, Row

if TYPE_CHECKING:
    from herdsync.farm import Farm

COLUMNS = (
    Column("When", 13),
    Column("Who", 12, grow=1),
    Column("Did", 9),
    Column("To", 16, grow=2),
    Column("What", 10, grow=4, room=70),
    Column("Sign", 5, room=80),
)
EMPTY = "Nothing was written here yet.\n\nr  write down the first record"
ALL_VOUCHED = (
    "Everything written here is vouched for.\n\n"
    "What a laptop wrote after it was put out, or beyond its role, would wait here for your word."
)
SHOWN = 400
SHOWN_FURTHER = 5_000
ID_LENGTHS = (26, 52)


@dataclass(frozen=True)
class Trail:
    """The newest lines, and the names of what they speak of."""

    lines: list[TrailLine]
    names: Mapping[str, str]


def read(farm: Farm, *, further: bool = False) -> Trail:
    """The newest lines of the whole farm; ``further`` back where some are looked for."""
    lines = farm.trail_all(limit=SHOWN_FURTHER if further else SHOWN)
    return Trail(lines, named(farm, lines))


def unvouched(farm: Farm) -> Trail:
    """What nobody vouches for yet."""
    lines = farm.unvouched()
    return Trail(lines, named(farm, lines))


def named(farm: Farm, lines: Sequence[TrailLine]) -> dict[str, str]:
    """What the records that lines speak of are called, by id: of animals all, of others what is told."""
    names = {line.record: line.title for line in lines if line.record} | farm.called("animal")
    kinds = {_names_kind(line) for line in lines if not names.keys() >= _ids_in(line)}
    for kind in sorted(kinds - {"", "animal"}):
        names |= farm.called(kind)
    return names


def _names_kind(line: TrailLine) -> str:
    """The kind of record that the field of a line names; empty where it names none, or any."""
    kind = CATALOGUE.get(line.kind)
    field = kind.fields.get(line.field) if kind is not None else None
    return field.form.kind if field is not None and isinstance(field.form, Ref) else ""


def _ids_in(line: TrailLine) -> set[str]:
    return {one for one in (*line.before, line.after) if isinstance(one, str)}


@dataclass(frozen=True)
class Narrow:
    """Which entries are wanted; what is left blank wants all. Days are both included."""

    words: str = ""
    keeper: str = ""
    device: str = ""
    kind: str = ""
    first: str = ""
    last: str = ""

    @property
    def said(self) -> str:
        """What is asked for, in words; empty for everything."""
        told = [self.words, self.keeper, self.device, self.kind]
        told += [
            f"from {self.first}" if self.first else "",
            f"until {self.last}" if self.last else "",
        ]
        return ", ".join(part for part in told if part)

    def wants(self, changes: Sequence[TrailLine]) -> bool:
        """Whether an entry is among them."""
        line = changes[0]
        day = line.recorded[:10]
        return (
            holds(changes, self.words)
            and _within(self.keeper, line.keeper, line.by)
            and _within(self.device, line.device)
            and _within(self.kind, line.kind)
            and (not self.first or day >= self.first)
            and (not self.last or day[: len(self.last)] <= self.last)
        )


EVERYTHING = Narrow()


def _within(wanted: str, *told: str) -> bool:
    return not wanted or any(wanted.casefold() == one.casefold() for one in told)


def page(told: Trail, now: datetime, *, narrow: Narrow = EVERYTHING) -> Page:
    """One line an entry and record; only those that ``narrow`` wants."""
    wanted = {
        f"{changes[0].entry} {number}": changes
        for number, changes in enumerate(entries(told.lines))
        if narrow.wants(changes)
    }
    rows = [row(key, changes, told.names, now) for key, changes in wanted.items()]
    facts = OnAsking(wanted, lambda key: entry_facts(wanted[key], told.names, now))
    empty = f"No line is of: {narrow.said}.\n\nn  ask otherwise" if narrow.said else EMPTY
    return Page(COLUMNS, rows, empty, facts)


def unvouched_page(told: Trail, now: datetime) -> Page:
    """A line for each entry that nobody vouches for yet."""
    found = page(told, now)
    return Page(found.columns, found.rows, ALL_VOUCHED, found.facts)


def entries(lines: Iterable[TrailLine]) -> list[list[TrailLine]]:
    """The changes of one entry to one record, together."""
    groups = groupby(lines, key=lambda line: (line.entry, line.record))
    return [list(group) for _, group in groups]


def holds(changes: Sequence[TrailLine], narrow: str) -> bool:
    """Whether an entry holds every word: of who, where, what, when and why."""
    said = ""
    for line in changes:
        parts = (line.keeper, line.by, line.device, line.verb, line.kind, line.title, line.field)
        said += " ".join((*parts, line.recorded[:10], line.because, " ")).casefold()
    return all(word in said for word in narrow.casefold().split())


def row(key: str, changes: Sequence[TrailLine], names: Mapping[str, str], now: datetime) -> Row:
    """One entry as a line."""
    line = changes[0]
    cells = partial(_cells, changes, names, now)
    return Row(key, cells, record=line.record, name=line.title)


def _cells(changes: Sequence[TrailLine], names: Mapping[str, str], now: datetime) -> Cells:
    line = changes[0]
    good = line.signature == "good"
    return (
        Cell(("? " if line.doubtful else "") + words.stamp(line.recorded, now), "dim"),
        Cell(f"{line.by or line.keeper}, {line.device}"),
        Cell(line.verb, "strong" if line.verb == "record" else "closing"),
        Cell(line.title or line.kind),
        Cell("; ".join(all_changes(changes, names, now)), "dim"),
        Cell("good" if good else "BAD", "dim" if good else "late"),
    )


def all_changes(changes: Sequence[TrailLine], names: Mapping[str, str], now: datetime) -> list[str]:
    """Every change of an entry in words; whom the record is about stands in its title already."""
    kind = CATALOGUE.get(changes[0].kind)
    about = {kind.subject, kind.on} if kind is not None and changes[0].verb == "record" else set()
    return [change(line, names, now) for line in changes if line.field not in about]


def change(line: TrailLine, names: Mapping[str, str], now: datetime) -> str:
    """What a line changed, before and after."""
    field = line.field.replace("_", " ")
    after = said(line.after, names, now)
    if not line.field:
        return {"retract": "taken back"}.get(line.verb, after)
    if line.before:
        before = ", ".join(said(one, names, now) for one in line.before)
        return f"{field}: {before} → {after}"
    return f"{field} {after}"


def said(value: Any, names: Mapping[str, str], now: datetime) -> str:
    """A value of an answer in words."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{name} {said(one, names, now)}" for name, one in value.items())
    if isinstance(value, list):
        return ", ".join(said(one, names, now) for one in value)
    text = str(value)
    if text in names:
        return names[text]
    return text[:8] if len(text) in ID_LENGTHS and text.isalnum() else words.spoken(text, now)


def entry_facts(
    changes: Sequence[TrailLine], names: Mapping[str, str], now: datetime
) -> list[Fact]:
    """Everything an entry says of itself."""
    line = changes[0]
    by = line.keeper if line.by in ("", line.keeper) else f"{line.by}, at {line.keeper}'s laptop"
    found = [Fact("", f"{line.verb}: {line.title or line.kind}", "strong")]
    found += [Fact("", change(one, names, now)) for one in changes]
    found.append(Fact("By", f"{by} ({line.device}), {words.day_word(line.recorded, now)}"))
    if line.because:
        found.append(Fact("Because", line.because))
    if line.by_hand:
        found.append(Fact("! Clock", "the clock was set by hand", "late"))
    if line.doubtful:
        found.append(Fact("? Clock", "it contradicts the entries around it", "late"))
    if not line.vouched:
        found.append(Fact("! Not vouched for", "it counts for safety alone", "late"))
    good = line.signature == "good"
    found.append(
        Fact("Signature", "good" if good else "BAD: run verify (v)", "good" if good else "late")
    )
    return [*found, Fact("Entry", line.entry, "dim")]
