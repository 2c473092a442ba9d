"""The door's papers: tables in and out. Files are read and written here; what they hold is `papers`'."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import chain, islice
from pathlib import Path

from herdsync.acts import finding
from herdsync.acts.exporting import Exporting
from herdsync.acts.importing import (
    ANIMALS_MOST,
    Importing,
    Progress,
    Refusing,
    Tally,
    nothing_to_tell,
    to_nobody,
    unknown_parents,
)
from herdsync.acts.printing import Printing
from herdsync.acts.roll import Roll
from herdsync.acts.typed import Index
from herdsync.faults import Refused
from herdsync.kinds import kind_named
from herdsync.kinds.ids import text_id
from herdsync.log.entry import keyed_record_id
from herdsync.merge.payloads import line_key
from herdsync.papers.columns import Column, key_column, matched
from herdsync.papers.lines import Line, sheet_lines
from herdsync.papers.notebook import ORDERS
from herdsync.papers.outcomes import ColumnRead, Imported
from herdsync.papers.rows import Row, rows_of
from herdsync.papers.standard_in import (
    FILE_BYTES,
    animal_key,
    identities,
    members_of,
    standard_lines,
)

CHUNK_BYTES = 65_536


class Papering(Importing, Exporting, Printing):
    """Tables of a farm: taken from files, written to files."""

    def import_sheet(
        self,
        file: Path,
        kind: str,
        *,
        match: Mapping[str, str] | None = None,
        units: Mapping[str, str] | None = None,
        dates: str = "",
        encoding: str = "",
        add_parents: bool = False,
        dry_run: bool = False,
        progress: Progress = nothing_to_tell,
        told: Refusing = to_nobody,
    ) -> Imported:
        """Records of one kind from a table (CSV) a keeper made; each line stands or is told why not.

        ``match``: fields by heading, ``units``: units of bare numbers by field, ``dates``: the order
        of day and month. ``told`` is given every line that is not taken. Raises Refused where the
        file, its headings or what was told cannot stand.
        """
        spec = kind_named(kind)
        if dates and dates not in ORDERS:
            raise Refused(
                f"{dates[:20]!r} is no order of a date.", f"Say one of {', '.join(ORDERS)}."
            )
        rows = rows_of(chunks_of(file), encoding)
        headings = _headings(rows, file)
        columns = matched(spec, headings, match or {}, units or {})
        lines: Iterator[Line] = sheet_lines(rows, spec, columns, key_column(headings), dates)
        parents: list[Line] = []
        if add_parents:
            given = list(islice(lines, ANIMALS_MOST + 1))
            parents = self._parents(given)
            lines = chain(parents, given)
        tally = self.take_lines(kind, lines, dry_run=dry_run, progress=progress, told=told)
        outside = [
            f"{one.pairs['name']} is written as an animal outside the herd" for one in parents
        ]
        tally.warnings[:0] = outside
        return _imported(file, kind, dry_run, tally, columns)

    def import_whole(self, file: Path) -> Imported:
        """Every entry of this farm's open text. Raises Refused where it is not whole, or another's."""
        return self.import_farm(file, lambda: chunks_of(file))

    def import_standard(self, file: Path, *, dry_run: bool = False) -> Imported:
        """Records from resources of ICAR-ADE JSON; each stands or is told why not. Raises Refused."""
        members = members_of(_whole(file))
        brought = {
            one: text_id(keyed_record_id(self._store.farm, "animal", line_key(list(key))))
            for one, key in identities(members).items()
        }
        zone, own = self.zone, self.scheme
        with self._looking() as (_, shelf):

            def whom(scheme: str, id: str) -> str:
                if scheme == own:
                    return id
                key = line_key(list(animal_key(scheme, id)))
                known = keyed_record_id(self._store.farm, "animal", key)
                there = shelf.get(known) is not None
                return text_id(known) if there else brought.get((scheme, id), id)

            lines = list(standard_lines(members, whom, zone, own))
        herd, tally = Roll(), Tally()
        kinds = dict.fromkeys(["animal", *(line.kind for line in lines if not line.why)])
        for line in lines:
            if line.why:
                tally.lines += 1
                tally.refuse(line.number, line.why)
        for kind in kinds:
            own_lines = [line for line in lines if line.kind == kind and not line.why]
            tally.add(self.take_lines(kind, own_lines, dry_run=dry_run, herd=herd))
        return _imported(file, "ade", dry_run, tally, [])

    def _parents(self, lines: list[Line]) -> list[Line]:
        """A line for each parent that lines name and nobody knows."""
        with self._looking() as (view, shelf):
            index = Index(view)
            index.records = shelf

            def known(name: str) -> bool:
                try:
                    finding.find(index, "animal", name)
                except Refused as fault:
                    return "may mean" in fault.what
                return True

            return unknown_parents(lines, known)


def chunks_of(file: Path) -> Iterator[bytes]:
    """A file's bytes piece by piece. Raises Refused where it cannot be read."""
    try:
        with file.open("rb") as opened:
            while chunk := opened.read(CHUNK_BYTES):
                yield chunk
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise Refused(
            f"{file} could not be read ({why}).", "Name a file that can be read."
        ) from fault


def _whole(file: Path) -> bytes:
    """A file's bytes, one more than may be read at most."""
    held = bytearray()
    for chunk in chunks_of(file):
        held += chunk
        if len(held) > FILE_BYTES:
            break
    return bytes(held)


def _headings(rows: Iterator[Row], file: Path) -> tuple[str, ...]:
    first = next(rows, None)
    if first is None:
        raise Refused(f"{file} is empty.", "Its first line should be the headings.")
    if first.why:
        raise Refused(
            f"The headings of {file} cannot be read: {first.why}.", "Mend the first line."
        )
    return first.cells


def _imported(
    file: Path, kind: str, dry_run: bool, tally: Tally, columns: list[Column]
) -> Imported:
    return Imported(
        str(file), kind, dry_run, tally.lines, tally.written, tally.here,
        tally.refused_lines, sorted(tally.refused, key=lambda one: one.line), tally.warnings,
        [ColumnRead(one.heading, one.field, one.unit) for one in columns],
    )  # fmt: skip
