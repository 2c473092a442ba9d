"""Verbs that carry: exchange, watch, backup, restore."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import msgspec

from herdsync import founding
from herdsync.answers import Exchanged
from herdsync.cli.agreeing import several_conflicts
from herdsync.cli.asking import Asked, no_farm, verb
from herdsync.cli.columns import sentence, several
from herdsync.faults import Fault
from herdsync.store.database import FILE


@verb("exchange")
@click.argument("carrier")
def exchange(asked: Asked, carrier: str) -> None:
    """Exchange with partners through CARRIER, a folder or stick."""
    moved = exchange_once(asked, carrier)
    asked.answer(moved, told_exchange(moved))


def exchange_once(asked: Asked, carrier: str) -> Exchanged:
    """One exchange; of a laptop that was just admitted, its first. Raises Refused."""
    if (asked.folder / FILE).exists():
        with asked.farm() as farm:
            return farm.exchange(carrier)
    joined = founding.exchange_joining(asked.folder, asked.wall(), Path(carrier).expanduser())
    if joined is None:
        raise no_farm(asked.folder)
    return joined


@verb("watch")
@click.argument("carrier", type=click.Path(path_type=Path))
@click.option("--polling", is_flag=True, help="Look every two seconds: for network shares.")
def watch(asked: Asked, carrier: Path, polling: bool) -> None:
    """Exchange at every change of CARRIER until stopped with ctrl+c; one line each time."""
    import asyncio

    from herdsync.exchange.watch import watch as watch_folder

    if not (asked.folder / FILE).exists():
        raise no_farm(asked.folder)

    async def on_change() -> None:
        tell_watched(asked, str(carrier))

    click.echo(f"Watching {carrier}. Stop with ctrl+c.", err=True)
    asyncio.run(watch_folder(carrier, on_change, asyncio.Event(), polling=polling))


def tell_watched(asked: Asked, carrier: str) -> None:
    """One exchange of a watch: a line where anything moved; what is refused does not end the watch."""
    try:
        moved = exchange_once(asked, carrier)
    except Fault as fault:
        click.echo("\n".join(sentence(str(fault))), err=True)
        return
    if not (moved.sent or moved.received or moved.refused):
        return
    if asked.as_json:
        click.echo(msgspec.json.encode(moved, order="sorted").decode())
        return
    for line in told_exchange(moved):
        click.echo(line)


@verb("backup")
@click.argument("file", type=click.Path(path_type=Path))
def backup(asked: Asked, file: Path) -> None:
    """Write the farm to FILE."""
    with asked.farm() as farm:
        backed = farm.backup(file)
    asked.answer(
        backed, sentence(f"Wrote {several(backed.entries, 'entry', 'entries')} to {file}.")
    )


@verb("restore")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
def restore(asked: Asked, file: Path) -> None:
    """Bring a farm back from FILE into the farm's folder."""
    backed = founding.restore(file, asked.folder)
    said = (
        f"Restored {several(backed.entries, 'entry', 'entries')} to {asked.folder}. It opens to "
        "read; to write, join the farm afresh from here."
    )
    asked.answer(backed, sentence(said))


def told_exchange(moved: Exchanged) -> Iterator[str]:
    """What moved, what was refused, what now disagrees."""
    if moved.joined:
        yield from sentence(f"Joined {moved.joined}.")
    yield f"Sent {moved.sent}, received {moved.received}; {several_conflicts(moved.conflicts)}."
    if moved.unvouched:
        yield f"Not vouched for: {moved.unvouched}."
    for one in moved.refused:
        yield from sentence(f"Set aside {one.what}: {one.why}", 0, 2)
