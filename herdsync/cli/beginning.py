"""Verbs by which a farm and its laptops come to be: found, join, admit."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from pathlib import Path

import click

from herdsync import founding
from herdsync.answers import Founded
from herdsync.cli.asking import Asked, verb
from herdsync.cli.carrying import exchange_once, told_exchange
from herdsync.cli.columns import moment, sentence, table
from herdsync.cli.picture import drawn
from herdsync.meetings import Admission, Exchanged, Joining

WORDS_A_LINE = 4
LETTERS_A_GROUP = 4
ASK_AGAIN_S = 3.0

KEEPER = click.option("--keeper", required=True, metavar="NAME", help="Whose laptop this is.")
DEVICE = click.option("--device", required=True, metavar="NAME", help="What this laptop is called.")


@verb("found")
@click.argument("name")
@KEEPER
@DEVICE
@click.option("--prefix", default="", metavar="P", help="The herd prefix, tattooed on the right.")
@click.option("--zone", default="UTC", show_default=True, metavar="Z", help="Europe/Berlin, ...")
@click.option(
    "--letters",
    type=click.Choice(["dairy", "meat", "none"]),
    default="dairy",
    show_default=True,
    help="The series of tattoo year letters.",
)
def found(
    asked: Asked, name: str, keeper: str, device: str, prefix: str, zone: str, letters: str
) -> None:
    """NAME is what the farm is called; this laptop becomes its steward.

    The 24 recovery words are shown once: have paper and a pencil ready.
    """
    wall = asked.wall("UTC")
    founded = founding.found(
        asked.folder, wall, name=name, keeper=keeper, device=device,
        prefix=prefix, zone=zone, letters=letters,
    )  # fmt: skip
    asked.answer(founded, told_founded(founded, name, asked.folder))


@verb("join")
@click.argument("carrier")
@KEEPER
@DEVICE
@click.option("--qr", is_flag=True, help="Show the request as a picture too, for a phone to carry.")
@click.option("--wait", is_flag=True, help="Wait here until let in, then take the farm.")
def join(asked: Asked, carrier: str, keeper: str, device: str, qr: bool, wait: bool) -> None:
    """Leave a request to join on CARRIER: the folder, stick or depot (sftp://..., s3://...) both laptops
    reach, or HOST:PORT where the steward's laptop listens ('herdsync watch --listen PORT'). The code it
    shows is read out to the steward, in person or by telephone; over a network the six digits too.
    """
    joining = founding.join(asked.folder, asked.wall("UTC"), carrier, keeper=keeper, device=device)
    picture = drawn(joining.picture or joining.code) if qr else []
    asked.answer(joining, [*picture, *told_joining(joining, carrier)])
    if wait:
        joined = waited(asked, carrier)
        asked.answer(joined, told_exchange(joined))


def waited(asked: Asked, carrier: str) -> Exchanged:
    """The first exchange of a laptop that asked to join, once it is let in. Raises Refused."""
    pause = threading.Event()
    while True:
        with contextlib.suppress(founding.NotAdmitted):
            return exchange_once(asked, carrier)
        pause.wait(ASK_AGAIN_S)


@verb("admit")
@click.argument("carrier", default="")
@click.option("--code", default="", metavar="C", help="The code read out on the laptop that asks.")
@click.option("--check", default="", metavar="N", help="The six digits read out with it.")
@click.option(
    "--role",
    type=click.Choice(["keeper", "helper", "reader"]),
    default="keeper",
    show_default=True,
    help="What the new laptop may do.",
)
def admit(asked: Asked, carrier: str, code: str, check: str, role: str) -> None:
    """List who waits on CARRIER (folder, stick or depot), or without one who asked over the network while
    'herdsync watch --listen' ran here; with --code, admit the one it belongs to. Give --check too where
    digits were shown: they tell whether someone stands between the two laptops.
    """
    with asked.farm() as farm:
        admission = farm.admit(carrier, code, role, check)
    asked.answer(admission, told_admission(admission, carrier))


def told_founded(founded: Founded, name: str, folder: Path) -> Iterator[str]:
    """The farm, and the recovery words to write on paper."""
    yield from sentence(f"Founded {name} in {folder.resolve()}.")
    yield ""
    yield from sentence(
        "Recovery words, shown this once and kept nowhere on this laptop. Write them on paper and "
        "keep it away from the laptops: with them a farm is won back when every laptop is lost, "
        "and whoever has them rules the farm."
    )
    yield ""
    words = founded.recovery.split()
    for first in range(0, len(words), WORDS_A_LINE):
        group = words[first : first + WORDS_A_LINE]
        told = [f"{first + place:>4} {word:<12}" for place, word in enumerate(group, 1)]
        yield "".join(told).rstrip()
    yield ""
    yield from sentence("Then read them back from the paper once: herdsync rehearse.")


def told_joining(joining: Joining, carrier: str) -> Iterator[str]:
    """The code, in groups that can be read out."""
    code = joining.code
    if "-" not in code:
        groups = range(0, len(code), LETTERS_A_GROUP)
        code = "-".join(code[first : first + LETTERS_A_GROUP] for first in groups)
    yield f"Code: {code}"
    where, check = f" {carrier}", ""
    if joining.check:
        yield f"Check: {joining.check}"
        where, check = "", f" --check {joining.check.replace(' ', '')}"
    yield from sentence(
        f"Read {'both' if check else 'it'} out to the steward, who runs: herdsync admit{where} "
        f"--code {code}{check}. Then run here: herdsync exchange {carrier}."
    )


def told_admission(admission: Admission, carrier: str) -> Iterator[str]:
    """Who waits and who was let in."""
    for one in admission.admitted:
        yield from sentence(f"Admitted {one.keeper}'s laptop {one.device}. Now exchange.")
    rows = [(one.device, one.keeper, moment(one.asked), one.check) for one in admission.waiting]
    yield from table(("laptop", "keeper", "asked", "" if carrier else "check"), rows)
    if admission.waiting and not admission.admitted:
        where, check = (f" {carrier}", "") if carrier else ("", " --check DIGITS")
        yield f"Admit one with: herdsync admit{where} --code CODE{check}"
    if not admission.waiting and not admission.admitted:
        yield "Nobody waits there."
