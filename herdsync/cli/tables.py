"""Verbs that move tables: import."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import sentence, several
from herdsync.cli.typed import complete_kind
from herdsync.faults import Refused
from herdsync.papers.notebook import ORDERS
from herdsync.papers.outcomes import Imported
from herdsync.papers.rows import ENCODINGS

SHOWN = 50
EVERY_LINES = 10_000


@verb("import")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--kind", shell_complete=complete_kind, help="The kind of record a line is.")
@click.option("--match", multiple=True, metavar="HEADING=FIELD", help="Which column is which.")
@click.option("--unit", multiple=True, metavar="FIELD=UNIT", help="The unit of bare numbers.")
@click.option("--dates", type=click.Choice(ORDERS), help="Order of day and month.")
@click.option("--encoding", type=click.Choice(tuple(ENCODINGS)), help="Of the file.")
@click.option("--add-parents", is_flag=True, help="Write unknown parents as animals outside.")
@click.option("--dry-run", is_flag=True, help="Tell what would be written, and write nothing.")
def import_(
    asked: Asked, file: Path, kind: str | None, match: Sequence[str], unit: Sequence[str],
    dates: str | None, encoding: str | None, add_parents: bool, dry_run: bool,
) -> None:  # fmt: skip
    """FILE is a table (CSV) with headings. The same line again is the same record, on any laptop."""
    if not kind:
        raise Refused("Nothing says what its lines are.", "Say --kind animal, --kind weighing, ...")

    def progress(lines: int, written: int, refused: int) -> None:
        if lines % EVERY_LINES == 0:
            click.echo(f"{lines} lines, {written} written, {refused} refused", err=True)

    with asked.farm() as farm:
        outcome = farm.import_sheet(
            file, kind, match=_pairs(match), units=_pairs(unit), dates=dates or "",
            encoding=encoding or "",
            add_parents=add_parents, dry_run=dry_run, progress=progress,
        )  # fmt: skip
    asked.answer(outcome, told_import(outcome))


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
    yield from sentence(
        f"Read {several(outcome.lines, 'line')}: {verb} {outcome.written}, here already "
        f"{outcome.here}, refused {outcome.refused_lines}."
    )
    for warning in outcome.warnings[:SHOWN]:
        yield from sentence(warning, 2, 4)
    for one in outcome.refused[:SHOWN]:
        yield from sentence(f"line {one.line}: {one.why}", 2, 4)
    if outcome.refused_lines > SHOWN:
        yield f"  and {outcome.refused_lines - SHOWN} more refused; --json lists a thousand."
