"""Verbs that print: papers, calendar."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from herdsync.acts.printing import PAPERS
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import padded_list, sentence, several
from herdsync.cli.typed import complete_animal
from herdsync.papers.as_pdf import PAGES
from herdsync.papers.outcomes import PaperLine
from herdsync.safe_text import safe_text

LIST = "list"


@verb("papers", known=True)
@click.argument("paper", type=click.Choice((*PAPERS, LIST)), metavar="PAPER", default=LIST)
@click.argument("animals", nargs=-1, shell_complete=complete_animal)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="A folder for files.")
@click.option("--from", "first", metavar="DAY", help="A treatment record's first day.")
@click.option("--until", "last", metavar="DAY", help="Its last day; left out, today.")
@click.option("--seller", metavar="NAME", help="Who sells; left out, this laptop's keeper.")
@click.option("--buyer", metavar="NAME", help="Who buys.")
@click.option("--no-pdf", is_flag=True, help="Text files only.")
@click.option("--font", metavar="FILE", help="A TrueType font for the PDF.")
@click.option("--page", type=click.Choice(PAGES, case_sensitive=False),
              help="The size of a page; left out, what the farm's country uses.")  # fmt: skip
def papers(
    asked: Asked, paper: str, animals: Sequence[str], out: Path | None, first: str | None,
    last: str | None, seller: str | None, buyer: str | None, no_pdf: bool, font: str | None,
    page: str | None,
) -> None:  # fmt: skip
    """PAPER is one of those that 'herdsync papers' lists. Without --out, the text is printed.

    What may not be handed over says so on its first lines and is not signed. A signed one has a proof file
    beside it: the buyer checks it with 'herdsync proof --check FILE', or as the file itself says.
    """
    if paper == LIST:
        asked.answer(PAPERS, padded_list(list(PAPERS.items())))
        return
    with asked.farm() as farm:
        lines = farm.papers(
            paper, animals, first=first or "", last=last or "", seller=seller or "",
            buyer=buyer or "", out=out.expanduser() if out else None, pdf=not no_pdf,
            font=font or "", page=page or "",
        )  # fmt: skip
    asked.answer(lines, told_papers(lines))
    if not asked.as_json:
        for line in _for_the_keeper(lines):
            click.echo(line, err=True)


@verb("calendar")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--days", type=click.IntRange(0, 400), default=60, help="How far ahead.")
@click.option("--since", type=click.Path(path_type=Path, dir_okay=False), metavar="EARLIER",
              help="The calendar taken in before; left out, the one FILE replaces.")  # fmt: skip
def calendar(asked: Asked, file: Path, days: int, since: Path | None) -> None:
    """FILE (.ics) is made anew each time; taken into a calendar again, its events replace the old ones.

    What the earlier calendar held and is done or gone since is told as cancelled.
    """
    with asked.farm() as farm:
        made = farm.calendar(file.expanduser(), days, since.expanduser() if since else None)
    gone = f" Done or gone since the earlier one: {made.cancelled}." if made.cancelled else ""
    asked.answer(made, sentence(f"Wrote {several(made.events, 'event')} to {made.file}.{gone}"))


def _for_the_keeper(lines: list[PaperLine]) -> Iterator[str]:
    """What stands in the way of papers that were only shown, with the records to look up."""
    for line in lines:
        if line.files or not (line.blocks or line.marks):
            continue
        yield from sentence(f"Not on the paper, but to look up ({line.title}, {line.about}):")
        for told in (*line.blocks, *line.marks):
            yield from sentence(f"! {told}", 2, 4)


def told_papers(lines: list[PaperLine]) -> Iterator[str]:
    """The papers' texts, or the files they were written to."""
    for at, line in enumerate(lines):
        if not line.files:
            yield from ["", ""] if at else []
            yield from line.text.splitlines()
            continue
        yield from sentence(
            f"{line.title}, {line.about}" + ("" if line.fit else ": not to be handed over")
        )
        for told in (*line.blocks, *line.marks):
            yield from sentence(f"! {told}", 2, 4)
        for file in line.files:
            yield f"  {safe_text(file)}"
        if line.says:
            yield from sentence(line.says, 2, 4)
