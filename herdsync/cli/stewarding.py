"""Verbs of who may take part: remove, role, hand-over, adopt, set-aside, unvouched, recover."""

from __future__ import annotations

from collections.abc import Iterator

import click

from herdsync import founding
from herdsync.answers import Recovered, TrailLine
from herdsync.cli.asking import Asked, verb
from herdsync.cli.auditing import names_in, told_trail
from herdsync.cli.beginning import DEVICE, KEEPER
from herdsync.cli.columns import sentence, several
from herdsync.cli.sheet import recovery_words

BECAUSE = click.option("--because", default="", metavar="WHY", help="Why, for the trail.")


@verb("remove")
@click.argument("device")
@click.option("--last", multiple=True, metavar="ENTRY", help="Its newest entry still vouched for.")
@BECAUSE
def remove(asked: Asked, device: str, last: tuple[str, ...], because: str) -> None:
    """Put DEVICE out of the farm; what it writes from now on counts for safety alone."""
    with asked.farm() as farm:
        written = farm.remove(device, because, last)
    said = (
        f"{device} is out. The bundles written from now on are closed to it, and what it writes "
        "later waits for a keeper's word ('herdsync unvouched')."
    )
    asked.answer(written, sentence(said))


@verb("role")
@click.argument("device")
@click.argument("role", type=click.Choice(["keeper", "helper", "reader"]))
@BECAUSE
def role(asked: Asked, device: str, role: str, because: str) -> None:
    """Give DEVICE another role, for all it writes that has not been seen here yet."""
    with asked.farm() as farm:
        written = farm.rank(device, role, because)
    asked.answer(written, sentence(f"{device} is a {role}'s from now on."))


@verb("hand-over")
@click.argument("device")
@BECAUSE
def hand_over(asked: Asked, device: str, because: str) -> None:
    """Make DEVICE the steward in place of this one."""
    with asked.farm() as farm:
        written = farm.hand_over(device, because)
    asked.answer(written, sentence(f"{device} is the steward from now on."))


@verb("unvouched", known=True)
def unvouched(asked: Asked) -> None:
    """List entries nobody vouches for; they count for safety alone."""
    with asked.farm() as farm:
        lines = farm.unvouched()
        names = {} if asked.as_json else names_in(farm, lines)
    asked.answer(lines, told_unvouched(lines, names))


@verb("adopt")
@click.argument("entry", nargs=-1, required=True)
@BECAUSE
def adopt(asked: Asked, entry: tuple[str, ...], because: str) -> None:
    """Let unvouched entries count after all."""
    with asked.farm() as farm:
        written = farm.adopt(entry, because)
    asked.answer(written, sentence(f"Adopted: {several(len(entry), 'entry', 'entries')}."))


@verb("set-aside")
@click.argument("entry", nargs=-1, required=True)
@BECAUSE
def set_aside(asked: Asked, entry: tuple[str, ...], because: str) -> None:
    """Let unvouched entries count for nothing; holds that rest on them end."""
    with asked.farm() as farm:
        written = farm.set_aside(entry, because)
    said = f"Set aside: {several(len(entry), 'entry', 'entries')}. They stay in the trail."
    asked.answer(written, sentence(said))


@verb("rehearse")
@click.option(
    "--words", default="", metavar="@FILE", help="Where the 24 words stand; else asked for."
)
def rehearse(asked: Asked, words: str) -> None:
    """Read the recovery words back from the sheet, and learn whether they are right."""
    told = recovery_words(words)
    with asked.farm() as farm:
        rehearsed = farm.rehearse(told)
    said = f"These words rule {rehearsed.name}. Put the sheet back where it is safe."
    asked.answer(rehearsed, sentence(said))


@verb("recover")
@click.argument("carrier")
@KEEPER
@DEVICE
@click.option(
    "--words", default="", metavar="@FILE", help="Where the 24 words stand; else asked for."
)
@click.option("--remove", "out", multiple=True, metavar="DEVICE", help="A lost laptop to put out.")
def recover(
    asked: Asked, carrier: str, keeper: str, device: str, words: str, out: tuple[str, ...]
) -> None:
    """Begin again from CARRIER with the recovery words; this laptop becomes the steward."""
    told = recovery_words(words)
    recovered = founding.recover(
        asked.folder, asked.wall("UTC"), told, carrier,
        keeper=keeper, device=device, remove=out,
    )  # fmt: skip
    asked.answer(recovered, told_recovered(recovered))


def told_unvouched(lines: list[TrailLine], names: dict[str, str]) -> Iterator[str]:
    """What waits for a keeper's word."""
    if not lines:
        yield "Nothing waits for a keeper's word."
        return
    yield from told_trail(lines, names)
    yield ""
    said = (
        "These count for safety alone. Let them count with 'herdsync adopt ENTRY', or for nothing "
        "with 'herdsync set-aside ENTRY --because WHY'."
    )
    yield from sentence(said)


def told_recovered(recovered: Recovered) -> Iterator[str]:
    """What was won back."""
    yield from sentence("The farm is back, and this laptop is its steward.")
    for device in recovered.removed:
        yield from sentence(f"{device} was put out.")
    yield from sentence("Keep the recovery words where they were; they rule the farm still.")
