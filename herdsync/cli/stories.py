"""Verbs that show: demo and play. The stories themselves are read only when one is asked for."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from herdsync.cli.asking import Asked, own_folder, verb
from herdsync.cli.columns import padded_list, sentence
from herdsync.faults import Refused
from herdsync.safe_text import safe_text


@verb("play")
@click.argument("name", required=False)
@click.option("--keep", type=click.Path(path_type=Path), help="Keep the laptops' folders here.")
def play(asked: Asked, name: str | None, keep: Path | None) -> None:
    """Play the story NAME through the real commands; without NAME, list the stories."""
    from scenarios.stage import play_story, story_named, titles

    if name is None:
        told = titles()
        asked.answer([{"name": one, "title": title} for one, title in told], padded_list(told))
        return
    story = story_named(name)
    played = play_story(story, keep, tell=None if asked.as_json else click.echo)
    if asked.as_json:
        asked.answer(played, [])
    if played.failed:
        raise Refused(f"The story went another way: {'; '.join(played.failed)}")


@verb("demo")
@click.argument("folder", required=False, type=click.Path(path_type=Path), metavar="[DIR]")
@click.option("--no-open", is_flag=True, help="Only make the farm; do not open the dashboard.")
def demo(asked: Asked, folder: Path | None, no_open: bool) -> None:
    """Make the invented Quillmoor Dairy in DIR, dated from today, and open it."""
    from scenarios.demo import make_demo

    wall = asked.wall("UTC")
    made = make_demo(folder or own_folder() / "demo" / wall.now().date().isoformat(), wall)
    if asked.as_json:
        asked.answer(made, [])
        return
    for line in sentence(f"Quillmoor Dairy (invented, as is everything in it) is in {made.house}."):
        click.echo(line)
    if no_open or not sys.stdout.isatty():
        _show_due(asked, made.house)
        return
    from herdsync.cli.command import dashboard

    raise click.exceptions.Exit(dashboard(Asked(made.house, asked.by, asked.at), None))


def _show_due(asked: Asked, house: str) -> None:
    from herdsync.cli.care import told_due

    with Asked(house, asked.by, asked.at).farm() as farm:
        for line in told_due(farm.due()):
            click.echo(line)
    click.echo("")
    click.echo(f"Look around: herdsync --farm {safe_text(house)}")
