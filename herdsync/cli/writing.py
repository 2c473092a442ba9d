"""Verbs that write: record, amend, retract, undo, skip, postpone."""

from __future__ import annotations

from collections.abc import Sequence

import click
import msgspec

from herdsync.answers import Recorded, Written
from herdsync.cli.asking import Asked, verb
from herdsync.cli.columns import sentence, several
from herdsync.cli.typed import changes_of, complete_animal, complete_kind, complete_pair, pairs_of
from herdsync.kinds import kind_named

BECAUSE = click.option("--because", default="", metavar="TEXT", help="The reason.")
REASON = click.option("--because", required=True, metavar="TEXT", help="The reason.")
ABOUT = click.option("--about", default="", metavar="REF", help="The animal or record it is about.")


@verb("record")
@click.argument("kind", shell_complete=complete_kind)
@click.argument("pairs", nargs=-1, shell_complete=complete_pair, metavar="[FIELD=VALUE]...")
@click.option(
    "--for", "animals", multiple=True, shell_complete=complete_animal, metavar="ANIMAL",
    help="An animal it was done to; again for each one more.",
)  # fmt: skip
def record(asked: Asked, kind: str, pairs: Sequence[str], animals: Sequence[str]) -> None:
    """Write an act or thing down; field=@FILE takes the text of a file."""
    spec = kind_named(kind)
    told = pairs_of(pairs)
    with asked.acting() as farm:
        written = farm.record(kind, told, animals)
    tell_recorded(asked, written, spec.title)


def tell_recorded(asked: Asked, written: Recorded, title: str) -> None:
    """Answer what was written, with its cautions and other warnings."""
    answer: dict[str, object] = {"kind": written.kind, "warnings": written.warnings}
    if written.batch:
        answer |= {"batch": written.batch, "ids": written.ids}
        said = f"Recorded: {several(len(written.ids), title, f'records of {title}')}."
    else:
        answer |= {"id": written.id}
        said = f"Recorded: {title}, {written.id}."
    asked.answer(answer, [said, *(f"  {id}" for id in written.ids)])
    warn(asked, written.warnings)


def warn(asked: Asked, warnings: Sequence[str]) -> None:
    """Say warnings beside the answer, where a person reads it."""
    if not asked.as_json:
        for warning in warnings:
            for line in sentence(warning, 0, 2):
                click.echo(line, err=True)


@verb("amend")
@click.argument("ref")
@click.argument("changes", nargs=-1, required=True, metavar="FIELD=VALUE...")
@BECAUSE
def amend(asked: Asked, ref: str, changes: Sequence[str], because: str) -> None:
    """Change fields: field=value, field= clears, field+=x and field-=x for sets, stands=yes."""
    told = changes_of(changes)
    with asked.acting() as farm:
        written = farm.amend(ref, told, because)
    tell_written(asked, written, "Amended")


@verb("retract")
@click.argument("ref")
@REASON
def retract(asked: Asked, ref: str, because: str) -> None:
    """It stays in the trail; 'herdsync amend REF stands=yes' brings it back."""
    with asked.acting() as farm:
        written = farm.retract(ref, because)
    tell_written(asked, written, "Retracted")


@verb("undo")
def undo(asked: Asked) -> None:
    """What was written together is taken back together; 'undo' again takes back the act before it."""
    with asked.acting() as farm:
        written = farm.undo()
    tell_written(asked, written, "Undone")


@verb("skip")
@click.argument("work")
@REASON
@ABOUT
def skip(asked: Asked, work: str, because: str, about: str) -> None:
    """Leave a piece of due work undone; WORK is its id, in brackets in 'herdsync due'."""
    with asked.acting() as farm:
        written = farm.skip(work, because, about)
    tell_recorded(asked, written, "work skipped")


@verb("postpone")
@click.argument("work")
@click.option("--until", required=True, metavar="DATE", help="The day it comes up again.")
@REASON
@ABOUT
def postpone(asked: Asked, work: str, until: str, because: str, about: str) -> None:
    """Put a piece of due work off; WORK is its id, in brackets in 'herdsync due'."""
    with asked.acting() as farm:
        written = farm.postpone(work, until, because, about)
    tell_recorded(asked, written, "work put off")


def tell_written(asked: Asked, written: Written, said: str) -> None:
    """Answer an act on what was there."""
    asked.answer(msgspec.to_builtins(written), [f"{said}: {written.id}."])
    warn(asked, written.warnings)
