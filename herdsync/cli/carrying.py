"""Verbs that carry: exchange, watch, backup, restore."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import click
import msgspec

from herdsync import founding
from herdsync.cli.agreeing import several_conflicts
from herdsync.cli.asking import Asked, no_farm, verb
from herdsync.cli.columns import sentence, several
from herdsync.cli.sheet import recovery_words
from herdsync.exchange.addresses import address_in, is_depot
from herdsync.faults import Fault, Refused
from herdsync.meetings import Exchanged, Visited
from herdsync.store.database import FILE
from herdsync.store.store import AFRESH

POLL_S = 60
LEAST_POLL_S = 5


@verb("exchange")
@click.argument("carrier")
@click.option(
    "--words",
    default="",
    metavar="@FILE",
    help="Where the 24 words stand, or 'ask': open what is sealed to others of a side apart.",
)
def exchange(asked: Asked, carrier: str, words: str) -> None:
    """CARRIER is a folder or stick; another laptop that listens, as HOST:PORT or [IPV6]:PORT, or by its
    name once it has answered; or a depot, as sftp://USER@HOST/PATH or s3://BUCKET/PREFIX?endpoint=URL.

    An SFTP server is named with its key the first time (?hostkey=SHA256:...). What opens a depot is never
    typed here: the SSH agent, HERDSYNC_SFTP_KEY (a key's file) or HERDSYNC_SFTP_PASSWORD; AWS_ACCESS_KEY_ID
    and AWS_SECRET_ACCESS_KEY; from the environment, else from this laptop's keyring.

    Exchange as often as you like: only what is missing moves, and what is refused costs nothing else.
    """
    moved = exchange_once(asked, carrier, recovery_words(words) if words else "")
    asked.answer(moved, told_exchange(moved))


def exchange_once(asked: Asked, carrier: str, words: str = "") -> Exchanged:
    """One exchange; of a laptop that was just admitted, its first. Raises Refused."""
    if (asked.folder / FILE).exists():
        with asked.farm() as farm:
            return farm.exchange(carrier, words)
    joined = founding.exchange_joining(asked.folder, asked.wall(), carrier)
    if joined is None:
        raise no_farm(asked.folder)
    return joined


@verb("watch")
@click.argument("carrier", default="")
@click.option("--listen", metavar="PORT", default="", help="Answer other laptops; also HOST:PORT.")
@click.option("--polling", is_flag=True, help="Look every two seconds: for network shares.")
@click.option(
    "--every",
    type=click.IntRange(LEAST_POLL_S),
    default=POLL_S,
    show_default=True,
    metavar="SECONDS",
    help="How often a depot or another laptop is asked.",
)
def watch(asked: Asked, carrier: str, listen: str, polling: bool, every: int) -> None:
    """CARRIER is whatever 'herdsync exchange' takes: a folder or stick is exchanged over at every change, as
    soon as it is there; a depot or another laptop every --every SECONDS.

    With --listen this laptop answers those of the farm that call; the steward's also hears who asks to join
    ('herdsync join HOST:PORT' there, 'herdsync admit' here). Both may go together, until stopped with
    ctrl+c: one line each time, also of who was refused and why.
    """
    if not (carrier or listen):
        raise click.UsageError("Name a carrier, or a port to --listen on.")
    if not (asked.folder / FILE).exists():
        raise no_farm(asked.folder)
    with ExitStack() as open_ones:
        if listen:
            host, port = listening_at(listen)
            farm = open_ones.enter_context(asked.farm())
            told = open_ones.enter_context(farm.listening(port, visitor(asked), host))
            click.echo(f"Listening on port {told}. Stop with ctrl+c.", err=True)
        if not carrier:
            threading.Event().wait()
        click.echo(f"Watching {carrier}. Stop with ctrl+c.", err=True)
        watched = Watched(asked, carrier)
        if is_folder(carrier):
            watch_one(watched, polling)
        else:
            pause = threading.Event()
            while True:
                watched.look()
                pause.wait(every)


def watch_one(watched: Watched, polling: bool) -> None:
    """Exchange over a folder at every change of it."""
    import asyncio

    from herdsync.exchange.watch import watch as watch_folder

    async def on_change() -> None:
        await asyncio.to_thread(watched.look)

    folder = Path(watched.carrier).expanduser()
    asyncio.run(watch_folder(folder, on_change, asyncio.Event(), polling=polling))


def is_folder(carrier: str) -> bool:
    """Whether a carrier is a folder or stick, be it there or not."""
    return Path(carrier).expanduser().is_dir() or not (
        is_depot(carrier) or address_in(carrier) is not None
    )


def listening_at(text: str) -> tuple[str, int]:
    """The host (empty for every network of this laptop) and port to listen on. Raises Refused."""
    address = address_in(text if ":" in text else f"localhost:{text}")
    if address is None:
        raise Refused(f"'{text}' is no port.", "Write --listen 7070 or --listen 192.0.2.7:7070.")
    return (address.host if ":" in text else "", address.port)


def visitor(asked: Asked) -> Callable[[Visited], None]:
    """What tells of each laptop that called: its own line, or why it was refused."""

    def tell(visit: Visited) -> None:
        if asked.as_json:
            click.echo(msgspec.json.encode(visit, order="sorted").decode())
        elif visit.check:
            said = (
                f"{visit.who} asks to join and shows {visit.check}. Let it in with the code read out: "
                f"herdsync admit --code CODE --check {visit.check.replace(' ', '')}"
            )
            click.echo("\n".join(sentence(said, 0, 2)))
        elif visit.moved is None:
            click.echo("\n".join(sentence(f"Refused {visit.who}: {visit.why}", 0, 2)), err=True)
        else:
            click.echo("\n".join([f"{visit.who} called.", *told_exchange(visit.moved)]))

    return tell


@dataclass
class Watched:
    """A carrier that is watched; what was refused, noticed or went wrong is told once, not at every look."""

    asked: Asked
    carrier: str
    told: list[str] = field(default_factory=list)
    fault: str = ""

    def look(self) -> None:
        """One exchange: told where anything moved or is newly said; no fault ends the watch."""
        try:
            moved = exchange_once(self.asked, self.carrier)
        except Fault as fault:
            if str(fault) != self.fault:
                click.echo("\n".join(sentence(str(fault))), err=True)
            self.fault = str(fault)
            return
        known, self.told, self.fault = self.told, moved.told, ""
        new = [one for one in moved.told if one not in known]
        if moved.sent or moved.received or new:
            self._tell(moved, new)

    def _tell(self, moved: Exchanged, new: list[str]) -> None:
        if self.asked.as_json:
            click.echo(msgspec.json.encode(moved, order="sorted").decode())
            return
        for line in [*counted(moved), *told_sentences(new)]:
            click.echo(line)


@verb("backup")
@click.argument("file", type=click.Path(path_type=Path))
def backup(asked: Asked, file: Path) -> None:
    """FILE holds every entry, and no key: 'herdsync restore FILE' reads it."""
    with asked.farm() as farm:
        backed = farm.backup(file)
    asked.answer(
        backed, sentence(f"Wrote {several(backed.entries, 'entry', 'entries')} to {file}.")
    )


@verb("restore")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
def restore(asked: Asked, file: Path) -> None:
    """Bring a farm back from FILE into the farm's folder, to read. It holds no key: the answer tells the two
    ways to write again.
    """
    backed = founding.restore(file, asked.folder)
    said = (
        f"Restored {several(backed.entries, 'entry', 'entries')} to {asked.folder}. It opens to "
        f"read. To write: {AFRESH[0].lower()}{AFRESH[1:]} What no other laptop has goes there with "
        "'herdsync export farm FILE' here and 'herdsync import FILE' there."
    )
    asked.answer(backed, sentence(said))


def told_exchange(moved: Exchanged) -> Iterator[str]:
    """What moved, what now disagrees, what was refused and noticed."""
    yield from counted(moved)
    yield from told_sentences(moved.told)


def counted(moved: Exchanged) -> Iterator[str]:
    """How much moved, and what it left to look at."""
    if moved.joined:
        yield from sentence(f"Joined {moved.joined}.")
    yield f"Sent {moved.sent}, received {moved.received}; {several_conflicts(moved.conflicts)}."
    if moved.unvouched:
        yield f"Not vouched for: {moved.unvouched}."
    if moved.only_here:
        yield f"On no other laptop yet, as far as known: {moved.only_here}."


def told_sentences(told: Iterable[str]) -> Iterator[str]:
    """Each sentence on lines of its own."""
    for one in told:
        yield from sentence(one, 0, 2)
