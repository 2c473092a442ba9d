"""Verbs that move tables and whole farms: export, import."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import click
from click.shell_completion import CompletionItem

from herdsync.acts.exporting import EVERYTHING, VIEWS
from herdsync.acts.importing import to_nobody
from herdsync.acts.papering import chunks_of
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import padded_list, sentence, several
from herdsync.cli.typed import complete_kind
from herdsync.faults import Refused
from herdsync.founding import unfold
from herdsync.kinds import CATALOGUE
from herdsync.kinds.on import parse_on, span
from herdsync.papers.cells import row_of, written
from herdsync.papers.notebook import ORDERS
from herdsync.papers.openlines import is_open_farm
from herdsync.papers.outcomes import Exported, Imported
from herdsync.papers.rows import ENCODINGS
from herdsync.store.database import FILE

SHOWN = 50
FARM, STANDARD = "farm", "ade"
WHOLE = {
    EVERYTHING: "a folder with a table of each",
    FARM: "the whole farm as open text",
    STANDARD: "animals and acts as ICAR-ADE JSON v1.3",
}
EVERY_LINES = 10_000


def complete_what(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """What can be exported and begins so."""
    del context, parameter
    names = [*CATALOGUE, *VIEWS, *WHOLE]
    return [CompletionItem(name) for name in names if name.startswith(incomplete)]


@verb("export", known=True)
@click.argument("what", shell_complete=complete_what)
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--as-of", metavar="MOMENT", help="Of the farm: only what was written by then.")
def export(asked: Asked, what: str, file: Path | None, as_of: str | None) -> None:
    """WHAT is a kind, a view, 'all' (a folder of tables), 'farm' (everything, JSON lines), or 'ade'.

    Without FILE, or with 'list': tell what there is. A file that is there is not written over.
    """
    with asked.farm() as farm:
        if what == "list" or file is None:
            tables = farm.tables() | WHOLE
            if what not in ("list", *tables):
                raise Refused(f"Nothing is called {what[:60]!r}.", "See 'herdsync export list'.")
            shown = tables if what == "list" else {what: tables[what]}
            asked.answer(shown, padded_list(list(shown.items())))
            return
        file = file.expanduser()
        if as_of is not None and what != FARM:
            raise Refused(
                "--as-of is for 'export farm' alone; nothing was written.",
                "For a table of an earlier state give --known ENTRY, an entry of 'herdsync trail'.",
            )
        if what == FARM:
            done = farm.export_farm(file, _moment(as_of, farm.zone, farm.moment()))
        elif what == STANDARD:
            done = farm.export_standard(file)
        elif what == EVERYTHING:
            done = farm.export_tables(file)
        else:
            done = farm.export_table(what, file)
    asked.answer(done, told_export(done))


def _moment(told: str | None, zone: ZoneInfo, now: datetime) -> datetime | None:
    return None if told is None else span(parse_on(told, now, zone), zone)[1]


def told_export(done: Exported) -> Iterator[str]:
    """One line a file."""
    for name, count in done.files.items():
        what = several(count, "entry", "entries") if done.what == FARM else several(count, "row")
        yield from sentence(f"Wrote {name}: {what}.")


@verb("import")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--kind", shell_complete=complete_kind, help="What a line is; 'ade' for ICAR-ADE JSON."
)
@click.option("--match", multiple=True, metavar="HEADING=FIELD", help="Which column is which.")
@click.option("--unit", multiple=True, metavar="FIELD=UNIT", help="The unit of bare numbers.")
@click.option("--dates", type=click.Choice(ORDERS), help="Order of day and month.")
@click.option("--encoding", type=click.Choice(tuple(ENCODINGS)), help="Of the file.")
@click.option("--add-parents", is_flag=True, help="Write unknown parents as animals outside.")
@click.option(
    "--refused", type=click.Path(path_type=Path), help="A new file for every refused line."
)
@click.option("--dry-run", is_flag=True, help="Tell what would be written, and write nothing.")
def import_(
    asked: Asked, file: Path, kind: str | None, match: Sequence[str], unit: Sequence[str],
    dates: str | None, encoding: str | None, add_parents: bool, refused: Path | None, dry_run: bool,
) -> None:  # fmt: skip
    """FILE is a table (CSV) with headings, ICAR-ADE JSON, or a whole farm from 'export farm'.

    A line that cannot stand is told with the reason, and the others are taken. The same line again is the
    same record, on any laptop; 'herdsync undo' takes an import back whole.
    """
    file = file.expanduser()
    of_tables = {
        "--match": match, "--unit": unit, "--dates": dates, "--encoding": encoding,
        "--add-parents": add_parents, "--refused": refused,
    }  # fmt: skip
    if is_open_farm(next(chunks_of(file), b"")):
        _none_of(
            of_tables | {"--dry-run": dry_run}, "A whole farm is taken as it is, all or nothing"
        )
        whole = _whole(asked, file)
        asked.answer(whole, told_import(whole))
        return
    if kind == STANDARD:
        _none_of(of_tables, "ICAR-ADE JSON says by itself what is what")
        with asked.farm() as farm:
            told = farm.import_standard(file, dry_run=dry_run)
        asked.answer(told, told_import(told))
        return
    if not kind:
        raise Refused("Nothing says what its lines are.", "Say --kind animal, --kind weighing, ...")

    told_at, taken = 0, (0, 0)

    def progress(lines: int, written: int, refused: int) -> None:
        nonlocal told_at, taken
        taken = (lines, written)
        if lines - told_at >= EVERY_LINES:
            told_at = lines
            click.echo(f"{lines} lines, {written} written, {refused} refused", err=True)

    try:
        with asked.farm() as farm, _refusals(refused) as sink:
            outcome = farm.import_sheet(
                file, kind, match=_pairs(match), units=_pairs(unit), dates=dates or "",
                encoding=encoding or "",
                add_parents=add_parents, dry_run=dry_run, progress=progress,
                told=sink,
            )  # fmt: skip
    except KeyboardInterrupt:
        so_far = f"{taken[0]} lines were read and {taken[1]} written, each batch whole"
        click.echo(f"{so_far}; the same command again goes on from there.", err=True)
        raise
    asked.answer(outcome, told_import(outcome))


def _none_of(options: Mapping[str, object], why: str) -> None:
    """Refuse what was asked for and would be passed over in silence."""
    given = [name for name, told in options.items() if told]
    if given:
        raise Refused(f"{why}; nothing was taken.", f"Leave out {' and '.join(given)}.")


@contextmanager
def _refusals(file: Path | None) -> Iterator[Callable[[int, str], None]]:
    """Where refused lines go one by one: a new table, or nowhere."""
    if file is None:
        yield to_nobody
        return
    try:
        opened = file.expanduser().open("xb")
    except FileExistsError:
        raise Refused(f"{file} is there already; nothing was taken.", "Name a new file.") from None
    with opened:
        opened.writelines(written(("line", "why"), []))

        def told(line: int, why: str) -> None:
            opened.write(row_of((line, why)))

        yield told


def _whole(asked: Asked, file: Path) -> Imported:
    if not (asked.folder / FILE).exists():
        return unfold(file, asked.folder)
    with asked.farm() as farm:
        return farm.import_whole(file)


def _pairs(words: Sequence[str]) -> dict[str, str]:
    pairs = {}
    for word in words:
        name, equals, text = word.rpartition("=")
        if not equals or not name:
            raise click.UsageError(f"{word!r} is not of the form NAME=VALUE.")
        pairs[name] = text.strip()
    return pairs


def told_import(outcome: Imported) -> Iterator[str]:
    """What was taken, what was not and why."""
    for column in outcome.columns:
        unit = f", bare numbers in {column.unit}" if column.unit else ""
        meant = f"{column.field}{unit}" if column.field else "left out"
        yield from sentence(f"column {column.heading!r}: {meant}", 2, 4)
    verb = "would write" if outcome.dry_run else "wrote"
    one_of = "member" if outcome.kind == STANDARD else "line"
    yield from sentence(
        f"Read {several(outcome.lines, 'line')}: {verb} {outcome.written}, here already "
        f"{outcome.here}, refused {outcome.refused_lines}."
    )
    for warning in outcome.warnings[:SHOWN]:
        yield from sentence(warning, 2, 4)
    for one in outcome.refused[:SHOWN]:
        yield from sentence(f"{one_of} {one.line}: {one.why}", 2, 4)
    if outcome.refused_lines > SHOWN:
        yield f"  and {outcome.refused_lines - SHOWN} more refused; --json lists a thousand."
