"""The door's importing: lines of a file become records, a thousand and more in one transaction.

A line's record has its id from the line itself, so that the same line twice, or on two laptops, is one
record. A line refused is told with its number and why; the lines before and after it stand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from herdsync.acts import composing
from herdsync.acts.composing import Changes
from herdsync.acts.door import Door
from herdsync.acts.marking import Sheets, marks_told, sheet_account, sheets_of
from herdsync.acts.roll import Roll
from herdsync.acts.typed import Typed
from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE, Value, kind_named, parse_fields
from herdsync.kinds.ids import raw_id, text_id
from herdsync.kinds.kind import Kind
from herdsync.kinds.on import span
from herdsync.log import canonical
from herdsync.log.entry import RECORD_BYTES, keyed_record_id
from herdsync.log.writer import Act
from herdsync.merge.payloads import line_key
from herdsync.merge.pedigree import folded
from herdsync.merge.records import Record
from herdsync.merge.shelf import Shelf
from herdsync.papers.lines import Line
from herdsync.papers.outcomes import LineRefused
from herdsync.projections.settings import settings_of

BATCH = 1_000
BATCH_MOST = 10_000
TOLD_MOST = 1_000
ANIMALS_MOST = 200_000
WORDS_KEPT = 20_000
ANIMAL = CATALOGUE["animal"]

Progress = Callable[[int, int, int], None]
Refusing = Callable[[int, str], None]


def to_nobody(line: int, why: str) -> None:
    """Refused lines that nobody asks for."""
    del line, why


@dataclass
class Tally:
    """How an import goes: counts, and what to tell of single lines, bounded.

    ``told`` is given every line that was not taken, also beyond those kept here.
    """

    told: Refusing = to_nobody
    lines: int = 0
    written: int = 0
    here: int = 0
    refused_lines: int = 0
    refused: list[LineRefused] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def refuse(self, number: int, why: str) -> None:
        """Count a line that was not taken."""
        self.refused_lines += 1
        self.told(number, why)
        if len(self.refused) < TOLD_MOST:
            self.refused.append(LineRefused(number, why))

    def warn(self, told: str) -> None:
        """Tell something of a line that was taken."""
        if len(self.warnings) < TOLD_MOST:
            self.warnings.append(told)

    def add(self, other: Tally) -> None:
        """Count what another import came to as well."""
        self.lines += other.lines
        self.written += other.written
        self.here += other.here
        self.refused_lines += other.refused_lines
        self.refused += other.refused[: TOLD_MOST - len(self.refused)]
        self.warnings += other.warnings[: TOLD_MOST - len(self.warnings)]


def nothing_to_tell(lines: int, written: int, refused: int) -> None:
    """Progress that nobody watches."""
    del lines, written, refused


def _next_batch(taken: int) -> int:
    """How many lines the next transaction takes: more in a long file, as each looks back at the herd."""
    return max(BATCH, min(taken // 10, BATCH_MOST))


class Importing(Door):
    """Records from lines of a file."""

    def take_lines(
        self,
        kind: str,
        lines: Iterable[Line],
        *,
        dry_run: bool = False,
        progress: Progress = nothing_to_tell,
        herd: Roll | None = None,
        told: Refusing = to_nobody,
    ) -> Tally:
        """Write what stands of lines of one kind, tell what does not; with ``dry_run`` write nothing.

        Lines about animals may name each other in any order; a ``herd`` given keeps whom they brought,
        so that lines of other kinds may name them though nothing is written. ``told`` is given every
        line that is not taken. Raises Refused where nothing may be written here, or where a herd of
        more than `ANIMALS_MOST` is in one file.
        """
        tally = Tally(told)
        memo: dict[tuple[str, str], bytes] = {}
        every = iter(lines)
        herd = Roll() if herd is None else herd
        if kind == ANIMAL.name:
            every = iter(self._animals(every, herd, tally))
        # One batch for undo, however many transactions it takes.
        batch_id = self._wall.entropy(RECORD_BYTES)
        while batch := list(islice(every, _next_batch(tally.lines))):
            if dry_run:
                with self._looking() as (view, shelf):
                    typed = Typed(view, self._wall.now(), settings_of(shelf).zone)
                    sheets = sheets_of(view, shelf, self._store.device)
                    words = _Words(typed, herd, memo)
                    _Taking(self._store.farm, shelf, words, sheets, tally).take(batch)
            else:
                self._write(batch, batch_id, herd, memo, tally)
            progress(tally.lines, tally.written, tally.refused_lines)
        return tally

    def _write(
        self,
        batch: list[Line],
        batch_id: bytes,
        herd: Roll,
        memo: dict[tuple[str, str], bytes],
        tally: Tally,
    ) -> None:
        """One transaction: every line of the batch that stands, or (where it breaks off) none."""
        with self._writing() as (writing, typed):
            # What earlier batches read is let go, so that a long file needs no more than a short one.
            writing.view.refresh()
            own = Tally(tally.told)
            sheets = sheets_of(writing.view, writing.shelf, self._store.device)
            words = _Words(typed, herd, memo)
            taking = _Taking(self._store.farm, writing.shelf, words, sheets, own)
            writing.append_all(taking.take(batch), batch_id)
        tally.add(own)

    def _animals(self, lines: Iterator[Line], herd: Roll, tally: Tally) -> list[Line]:
        """The lines of animals that stand: none brought twice, every parent here or in the file."""
        found = list(islice(lines, ANIMALS_MOST + 1))
        if len(found) > ANIMALS_MOST:
            what = f"The file holds more than {ANIMALS_MOST} animals; nothing was written."
            raise Refused(what, "Cut it into parts.")
        with self._looking() as (view, shelf):
            herd.know(shelf.of_kind("animal"))
            words = _Words(Typed(view, self._wall.now(), settings_of(shelf).zone), herd, {})
            known = [(_own_id(self._store.farm, shelf, line), line) for line in found]
            standing = [one for one in known if _sound(one[1], one[0], words, tally)]
            while True:
                herd.bring(standing)
                words.memo.clear()
                sound = [one for one in standing if _parents_known(one[1], words, tally)]
                if len(sound) == len(standing):
                    return [line for _, line in standing]
                standing = sound


def _own_id(farm: bytes, shelf: Shelf, line: Line) -> bytes:
    """The id a line's record has: the one it was exported with, if that is here, else its key's."""
    if line.record:
        with suppress(ValueError):
            there = shelf.get(raw_id(line.record))
            if there is not None:
                return there.id
    return keyed_record_id(farm, line.kind, line_key(list(line.key)))


def _sound(line: Line, id: bytes, words: _Words, tally: Tally) -> bool:
    """Whether an animal's line stands but for whom it names as parents; tells it where not."""
    own = {name: text for name, text in line.pairs.items() if name not in ANIMAL.refs}
    try:
        if line.why:
            raise Refused(line.why)
        fields = _fields(ANIMAL, own, words) if own else {}
        words.herd.refuse_double(id, fields, f"in line {line.number}")
    except Refused as fault:
        _turn_down(line, str(fault), tally)
        return False
    return True


def _parents_known(line: Line, words: _Words, tally: Tally) -> bool:
    """Whether whom a line names is here or in the file; tells it where not."""
    named = {name: text for name, text in line.pairs.items() if name in ANIMAL.refs}
    try:
        if named:
            parse_fields(ANIMAL, named, words, partial=True)
    except Refused as fault:
        _turn_down(line, str(fault), tally)
        return False
    return True


def _turn_down(line: Line, why: str, tally: Tally) -> None:
    tally.lines += 1
    tally.refuse(line.number, why)


@dataclass
class _Words:
    """Reads a line's words: what the farm knows, then what the file itself names."""

    typed: Typed
    herd: Roll
    memo: dict[tuple[str, str], bytes]

    def now(self) -> Any:
        """See `kinds.Reading`."""
        return self.typed.now()

    def zone(self) -> Any:
        """See `kinds.Reading`."""
        return self.typed.zone()

    def find(self, kind: str, text: str) -> bytes:
        """See `kinds.Reading`."""
        known = self.memo.get((kind, text))
        if known is not None:
            return known
        brought = self.herd.brought(text) if kind == "animal" else []
        try:
            here: bytes | None = self.typed.find(kind, text)
        except Refused as fault:
            if not brought or "may mean" in fault.what:
                raise
            here = None
        found = {*brought, *([here] if here is not None else [])}
        if len(found) > 1:
            raise Refused(f"{text[:60]!r} may mean {len(found)} animals.", "Use a mark or an id.")
        if len(self.memo) >= WORDS_KEPT:
            self.memo.clear()
        return self.memo.setdefault((kind, text), found.pop())


@dataclass
class _Taking:
    """Lines of one transaction becoming acts."""

    farm: bytes
    shelf: Shelf
    words: _Words
    sheets: Sheets
    tally: Tally
    seen: dict[bytes, int] = field(default_factory=dict)
    marked: set[tuple[bytes, str, str]] = field(default_factory=set)

    def take(self, lines: list[Line]) -> list[Act]:
        """The acts that write the lines which stand; what each line came to is in the tally."""
        acts = []
        for line in lines:
            self.tally.lines += 1
            try:
                if line.why:
                    raise Refused(line.why)
                found = self._acts(line)
            except Refused as fault:
                self.tally.refuse(line.number, str(fault))
                continue
            self.tally.written += bool(found)
            self.tally.here += not found
            acts += found
        return acts

    def _acts(self, line: Line) -> list[Act]:
        """What writes the line, of a tattoo with what its animal's sheet says by it. Raises Refused.

        Empty where the line is here already.
        """
        kind = kind_named(line.kind)
        key = line_key(list(line.key))
        id = keyed_record_id(self.farm, kind.name, key)
        if _own_id(self.farm, self.shelf, line) != id:
            return []
        fields = _fields(kind, line.pairs, self.words)
        if id in self.seen:
            self.tally.warn(f"line {line.number}: says what line {self.seen[id]} says; one record")
            return []
        self.seen[id] = line.number
        there = self.shelf.get(id)
        if there is not None:
            act = self._again(line, kind, there, fields)
        else:
            act = composing.begin_line(kind, fields, key)
        return [] if act is None else [act, *self._sheet(line, id, fields)]

    def _sheet(self, line: Line, id: bytes, fields: Mapping[str, Value]) -> Iterator[Act]:
        """What the sheet of a tattoo's animal is told, each mark once in one file."""
        animal = fields.get("animal")
        told = sheet_account(line.kind, fields, id, self.sheets)
        if told is None or not isinstance(animal, bytes):
            return
        marks = {(animal, one, folded(mark)) for one, mark in marks_told(line.kind, fields).items()}
        if marks <= self.marked:
            return
        self.marked |= marks
        sheet = self.sheets.of(animal)
        for name in told.payload["claims"]:
            said = [str(one) for one in sheet.values(name)] if sheet is not None else []
            if said:
                self.tally.warn(
                    f"line {line.number}: the sheet says {', '.join(said)} for {name}, this line "
                    f"{told.payload['claims'][name][0][name]}; both stand until you resolve it"
                )
        yield told

    def _again(
        self, line: Line, kind: Kind, there: Record, fields: Mapping[str, Value]
    ) -> Act | None:
        changed = {
            name: value
            for name, value in fields.items()
            if not kind.fields[name].many and not _same(there.value(name), value)
        }
        if not there.stands:
            return composing.rewrite(there, Changes(changed), "imported again")
        if changed:
            self.tally.warn(
                f"line {line.number}: here already as {text_id(there.id)[:8]} with another "
                f"{', '.join(changed)}; left as it is"
            )
        return None


def _fields(kind: Kind, pairs: Mapping[str, str], words: _Words) -> dict[str, Value]:
    if kind.keyed is not None:
        raise Refused(f"A {kind.title} is not imported.", "Use the verb that writes it.")
    fields = parse_fields(kind, pairs, words, partial=False)
    when = fields.get(kind.on) if kind.on else None
    if isinstance(when, str) and span(when, words.zone())[0] > words.now():
        raise Refused(f"{when[:10]} lies ahead.", "Import what has happened.")
    return fields


def _same(here: Any, told: Value) -> bool:
    return here is not None and canonical.encode(here) == canonical.encode(told)


def unknown_parents(lines: Iterable[Line], known: Callable[[str], bool]) -> list[Line]:
    """A line for each parent that lines name and nobody knows: an animal outside the herd."""
    named = {folded(line.pairs.get("name", "")) for line in lines}
    found: dict[str, Line] = {}
    for line in lines:
        for role, sex in (("dam", "doe"), ("sire", "buck")):
            name = line.pairs.get(role, "")
            if name and folded(name) not in named and not known(name):
                pairs = {"name": name, "sex": sex, "standing": "outside"}
                key = ("animal", "parent", role, name)
                found.setdefault(name.casefold(), Line(line.number, "animal", pairs, key))
    return list(found.values())
