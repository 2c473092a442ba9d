"""The door's exporting: tables of kinds and views, the whole farm as open text, and taking it back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from herdsync import answers, reports, sights
from herdsync.acts.trading import Trading
from herdsync.faults import BadBytes, Refused
from herdsync.kinds import CATALOGUE, kind_named
from herdsync.kinds.ids import text_id
from herdsync.log.entry import Entry
from herdsync.merge.replica import Replica
from herdsync.papers import openlines, sheets
from herdsync.papers.cells import Cell, written
from herdsync.papers.outcomes import Exported, Imported, LineRefused
from herdsync.papers.standard_out import Telling, collection, deleted, resources
from herdsync.projections import moments
from herdsync.projections.look import Look
from herdsync.projections.settings import settings_of
from herdsync.projections.voices import answered
from herdsync.store.backup import write_pieces
from herdsync.store.store import Store
from herdsync.store.view import View

BATCH = 1_000
EVERY_LINE = 10**9
MILK_DAYS = 3650
EVERYTHING = "all"


class Exporting(Trading):
    """Everything of the farm, out into files that other programs read."""

    def tables(self) -> dict[str, str]:
        """What can be exported as a table: every kind and every view, each with what it holds."""
        views = {name: f"the view: {what}" for name, (_, what) in VIEWS.items()}
        return {kind.name: f"every {kind.title}" for kind in CATALOGUE.values()} | views

    def export_table(self, what: str, file: Path) -> Exported:
        """A table (CSV) of one kind or view. Raises Refused where the file is there already."""
        if what in VIEWS:
            shape = VIEWS[what][0]
            lines = self._view(what)
            return self._write_table(
                what, file, sheets.view_headings(shape), sheets.view_rows(lines)
            )
        kind = kind_named(what)
        with self._looking() as (view, shelf):
            look = Look(shelf, settings_of(shelf), self._wall.now())
            members = view.members().by_key

            def device_name(key: bytes) -> str:
                return members[key].device if key in members else text_id(key)[:8]

            rows = sheets.kind_rows(kind, shelf.of_kind(what), look, device_name)
            return self._write_table(what, file, sheets.kind_headings(kind), rows)

    def export_tables(self, folder: Path) -> Exported:
        """A table of every kind of which there is a record, and of every view, in a new folder."""
        if folder.exists() and any(folder.iterdir()):
            raise Refused(f"{folder} holds something already.", "Name a new folder.")
        folder.mkdir(parents=True, exist_ok=True)
        files: dict[str, int] = {}
        for what in self.tables():
            with self._looking() as (_, shelf):
                there = what in VIEWS or bool(shelf.of_kind(what))
            if there:
                prefix = "view-" if what in VIEWS else ""
                files |= self.export_table(what, folder / f"{prefix}{what}.csv").files
        return Exported(EVERYTHING, files)

    def _write_table(
        self, what: str, file: Path, headings: list[str], rows: Iterable[Sequence[Cell]]
    ) -> Exported:
        count = 0

        def counted() -> Iterator[Sequence[Cell]]:
            nonlocal count
            for row in rows:
                count += 1
                yield row

        write_pieces(file, written(headings, counted()))
        return Exported(what, {str(file): count})

    def _view(self, what: str) -> Sequence[Struct]:
        answering: dict[str, Callable[[], Sequence[Struct]]] = {
            "herd": lambda: self.herd(every=True),
            "due": lambda: self.due(every=True),
            "timers": self.timers,
            "conflicts": lambda: self.conflicts(every=True),
            "trail": lambda: self.trail_all(EVERY_LINE),
            "settings": self.settings,
            "plan": self.plan,
            "held": self.held,
            "medicine": lambda: self.medicine().products,
            "courses": lambda: self.medicine().courses,
            "worms": lambda: self.worms().animals,
            "kidding-due": self.kidding,
            "kids": self.kids,
            "exposures": self.exposures,
            "heads": self.heads,
            "milk-days": lambda: self.milk_board(days=MILK_DAYS).does,
            "lactations": lambda: self.milk_board(days=MILK_DAYS).lactations,
            "tests": lambda: self.screening().tests,
        }
        return answering[what]()

    def export_farm(self, file: Path, as_of: datetime | None = None) -> Exported:
        """Every signed entry in words, and every record as it counts, one JSON object a line.

        ``as_of``: only what laptops whose clocks read no later had written, with all it builds on.
        Raises Refused where the file is there already.
        """
        with self._looking() as (view, shelf):
            wanted = self._wanted(view, as_of)
            if as_of is not None:
                replica = Replica()
                replica.take(list(_entries(view, wanted)))
                shelf = replica.shelf
            records = sorted(shelf.every_record(), key=lambda record: record.id)
            told = moments.text(as_of, settings_of(shelf).zone) if as_of is not None else ""
            if self._known is not None:
                told = "as one entry knew it"
            count = view.log.count() if wanted is None else len(wanted)
            first = openlines.First(
                openlines.WHAT, openlines.SCHEMA, text_id(self._store.farm), view.members().farm,
                count, len(records), told,
            )  # fmt: skip
            lines = (sheets.record_line(record, answered) for record in records)
            write_pieces(file, openlines.lines_of(first, _entries(view, wanted), lines))
        return Exported("farm", {str(file): count})

    @property
    def scheme(self) -> str:
        """The scheme under which this farm's ids are told to others."""
        return f"org.herdsync.{text_id(self._store.farm)[:16]}"

    def export_standard(self, file: Path) -> Exported:
        """The farm in the words of ICAR-ADE JSON v1.3. Raises Refused where the file is there."""
        lactations = self.milk_board(days=MILK_DAYS).lactations
        with self._herd() as herd, self._looking() as (_, shelf):
            telling = Telling(herd, self.scheme)
            gone = [
                record for record in shelf.every_record() if record.vouched and not record.stands
            ]
            gone.sort(key=lambda record: record.id)
            found = [one for record in gone if (one := deleted(telling, record)) is not None]
            told = [*resources(telling, lactations), *found]
        write_pieces(file, collection(told))
        return Exported("ade", {str(file): len(told)})

    def _wanted(self, view: View, as_of: datetime | None) -> set[bytes] | None:
        """The ids of the entries to tell; None for all."""
        if self._known is not None:
            return set(self._known.entries)
        if as_of is None:
            return None
        latest = int(as_of.timestamp() * 1000)
        wanted: set[bytes] = set()
        for entry in _entries(view, None):
            header = entry.header
            before = [*header.parents, *([header.previous] if header.sequence else [])]
            if header.clock <= latest and all(one in wanted for one in before):
                wanted.add(entry.id)
        if self._store.farm not in wanted:
            raise Refused("The farm was not founded yet by then.", "Name a later moment.")
        return wanted

    def import_farm(self, file: Path, pieces: Callable[[], Iterator[bytes]]) -> Imported:
        """Take every entry of a farm's open text, where it is this farm's. Raises Refused."""
        return take_farm(self._store, file, pieces)


def take_farm(store: Store, file: Path, pieces: Callable[[], Iterator[bytes]]) -> Imported:
    """Take the entries of a whole farm's open text into its store: all that are sound, or none.

    ``pieces`` answers the file's bytes from the beginning, each time it is called.
    """
    first, _, entries = checked(file, pieces)
    if first.farm != text_id(store.farm):
        raise Refused(f"{file} is of another farm.", "Give an empty folder with --farm to read it.")
    received = 0
    refused: list[LineRefused] = []
    batch: list[Entry] = []

    def settle() -> None:
        nonlocal received
        taken = store.take(batch, file.name)
        received += taken.received
        refused.extend(LineRefused(0, f"{one.what}: {one.why}") for one in taken.refused)
        batch.clear()

    def take(entry: Entry) -> None:
        batch.append(entry)
        if len(batch) == BATCH:
            settle()

    reader = openlines.Reader(take)
    for line in _lines(pieces()):
        reader.line(line)
    settle()
    here = entries - received - len(refused)
    return Imported(str(file), "farm", False, entries, received, here, len(refused), refused)


def checked(
    file: Path, pieces: Callable[[], Iterator[bytes]]
) -> tuple[openlines.First, Entry, int]:
    """What the file says it is, its founding entry and how many entries it holds.

    Raises Refused, naming the first lines that are wrong, unless it is whole.
    """
    founding: list[Entry] = []

    def keep_first(entry: Entry) -> None:
        if not founding:
            founding.append(entry)

    reader = openlines.Reader(keep_first)
    try:
        for line in _lines(pieces()):
            reader.line(line)
            if len(reader.faults) > 20:
                break
    except BadBytes as fault:
        reader.faults.append((0, str(fault)))
    if not reader.whole and not reader.faults:
        reader.faults.append((0, "the line that closes the file is missing: it was cut off"))
    if reader.faults or reader.first is None:
        told = "; ".join(f"line {line}: {why}" if line else why for line, why in reader.faults[:20])
        raise Refused(
            f"{file} is not whole, so nothing was taken: {told.rstrip('.')}.", "Export it again."
        )
    if not founding or text_id(founding[0].id) != reader.first.farm:
        raise Refused(f"{file} does not begin with its farm's founding.", "Export it again.")
    return reader.first, founding[0], reader.entries


def _lines(pieces: Iterator[bytes]) -> Iterator[bytes]:
    held = bytearray()
    for piece in pieces:
        held += piece
        start = 0
        while (end := held.find(b"\n", start)) >= 0:
            yield bytes(held[start : end + 1])
            start = end + 1
        del held[:start]
        if len(held) > openlines.LINE_BYTES:
            raise BadBytes("A line is longer than any entry in words.")
    if held:
        yield bytes(held)


def _entries(view: View, wanted: set[bytes] | None) -> Iterator[Entry]:
    """Entries whole, in causal order."""
    for batch in view.log.folded_order():
        for told in batch:
            if wanted is None or told.id in wanted:
                entry = view.log.full(told.id)
                assert entry is not None, "what is listed is here"
                yield entry


VIEWS: dict[str, tuple[type[Struct], str]] = {
    "herd": (answers.HerdLine, "every animal, also gone and outside"),
    "due": (answers.DueLine, "all due work, also what is ahead"),
    "timers": (answers.Timer, "running clocks"),
    "conflicts": (answers.ConflictLine, "what does not agree, closed ones too"),
    "trail": (answers.TrailLine, "every change, newest first"),
    "settings": (answers.SettingLine, "the farm's settings"),
    "plan": (answers.PlanLine, "the care plan"),
    "held": (reports.HeldAnimal, "what animals may not do yet"),
    "medicine": (reports.MedicineLine, "the medicines on the shelf"),
    "courses": (reports.CourseLine, "courses under way"),
    "worms": (reports.WormLine, "newest scores and egg counts"),
    "kidding-due": (reports.KiddingLine, "does mated or bred"),
    "kids": (reports.KidBoard, "kids and the windows of their first months"),
    "exposures": (reports.ExposureLine, "does that shared a pen with a male able to sire"),
    "heads": (sights.HeadsLine, "counts that do not agree with the records"),
    "milk-days": (reports.MilkLine, "milk of each doe over ten years"),
    "lactations": (reports.LactationLine, "lactations by their test days"),
    "tests": (reports.TestLine, "the newest disease tests"),
}
