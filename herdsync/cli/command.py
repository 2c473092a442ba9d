"""The whole command: every verb gathered, the dashboard where none is said, faults as sentences.

Exit codes: 0 done, 1 refused, 2 usage, 3 this farm's own bytes are damaged.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any

import click

from herdsync.cli import (
    agreeing,
    auditing,
    beginning,
    breeding,
    care,
    carrying,
    explaining,
    looking,
    medicine,
    papers,
    reckoning,
    stewarding,
    stories,
    tables,
    writing,
    yields,
)
from herdsync.cli.asking import Asked, every_verbs_options, no_farm
from herdsync.cli.explaining import COMPLETE_VARIABLE, PROGRAM
from herdsync.deeds import PLACES, place_named
from herdsync.faults import DamagedFarm, Fault
from herdsync.safe_text import safe_text
from herdsync.store.database import FILE

REFUSED, USAGE, DAMAGED, STOPPED = 1, 2, 3, 130

FAMILIES: dict[str, tuple[click.Command, ...]] = {
    "Beginning": (beginning.found, beginning.join, beginning.admit, auditing.devices,
                  explaining.settings),
    "Every day": (care.due, care.timers, writing.record, writing.skip, writing.postpone,
                  looking.herd, looking.show, looking.find),
    "Medicine": (medicine.holds, medicine.medicine, medicine.eggs, medicine.screening),
    "Breeding": (breeding.bucks, breeding.kidding, breeding.exposures, breeding.kids,
                 breeding.mark),
    "Milk": (yields.milk,),
    "Mending": (writing.amend, writing.retract, writing.undo),
    "Agreeing": (agreeing.conflicts, agreeing.resolve, agreeing.same, agreeing.different),
    "Carrying": (carrying.exchange, carrying.watch, carrying.backup, carrying.restore),
    "Taking part": (stewarding.remove, stewarding.role, stewarding.hand_over, stewarding.unvouched,
                    stewarding.adopt, stewarding.set_aside, stewarding.rehearse, stewarding.recover),
    "Proving": (auditing.trail, auditing.proof, auditing.verify),
    "Papers": (papers.papers, papers.calendar, tables.export, tables.import_),
    "Working out": (reckoning.dose, reckoning.match, reckoning.ration),
    "Learning": (explaining.kinds, care.plan, stories.demo, stories.play, explaining.completion),
}  # fmt: skip


class Verbs(click.Group):
    """The verbs, listed by family."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The verbs in the order of their families."""
        del ctx
        return [str(one.name) for family in FAMILIES.values() for one in family]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """One section a family."""
        del ctx
        for heading, family in FAMILIES.items():
            with formatter.section(heading):
                formatter.write_dl([(str(one.name), one.help or "") for one in family])


@click.group(
    cls=Verbs,
    invoke_without_command=True,
    help="The work of a small dairy-goat herd, shared by two keepers. Without a verb: the dashboard.",
)
@click.option(
    "--plain", metavar="PLACE",
    help=f"Print a place as lines: {', '.join(place.id for place in PLACES)}.",
)  # fmt: skip
@click.version_option(package_name=PROGRAM, prog_name=PROGRAM)
@click.pass_context
def command(context: click.Context, /, plain: str | None, **told: Any) -> None:
    """Keep what goes with every verb; without a verb, open the dashboard."""
    context.obj = Asked(**{word: value for word, value in told.items() if value})
    if context.invoked_subcommand is None:
        context.exit(dashboard(context.obj, plain))


for _family in FAMILIES.values():
    for _verb in _family:
        command.add_command(_verb)
for _option in every_verbs_options(known=False):
    _option(command)


def dashboard(asked: Asked, plain: str | None) -> int:
    """Open the dashboard, or print one of its places as lines; answers the exit code."""
    place = place_named(plain) if plain is not None else None
    if plain is not None and place is None:
        places = ", ".join(one.id for one in PLACES)
        raise click.UsageError(f"No place is called {plain!r}. Places are: {places}.")
    there = (asked.folder / FILE).exists()
    if not there and (place is not None or not sys.stdout.isatty()):
        raise no_farm(asked.folder)
    if place is None and not sys.stdout.isatty():
        raise click.UsageError("The dashboard needs a terminal. Use --plain PLACE for its lines.")
    from tui.app import run

    # Without a farm the dashboard opens on the first morning: found one, join one, win one back.
    wall = asked.wall(ticking=place is None) if there else asked.wall("UTC", ticking=True)
    return run(asked.folder, wall, asked.person, plain=place.id if place else "")


def run_words(words: Sequence[str]) -> int:
    """Run one command line; prints to the standard streams and answers the exit code."""
    try:
        answer = command.main(list(words), PROGRAM, COMPLETE_VARIABLE, standalone_mode=False)
        return answer if isinstance(answer, int) else 0
    except click.exceptions.Exit as exit:
        return exit.exit_code
    except click.Abort:
        return _say("Stopped.", STOPPED)
    except click.ClickException as fault:
        return _say(_usage(fault), USAGE)
    except DamagedFarm as fault:
        return _say(str(fault), DAMAGED)
    except Fault as fault:
        return _say(str(fault), REFUSED)
    except BrokenPipeError:
        raise
    except OSError as fault:
        where = f" ({fault.filename})" if fault.filename else ""
        what = f"The system refused: {fault.strerror or fault}{where}."
        return _say(f"{what} See that the folder is there and can be written.", REFUSED)


def _usage(fault: click.ClickException) -> str:
    told = fault.format_message().rstrip()
    context = getattr(fault, "ctx", None)
    path = context.command_path if context is not None else PROGRAM
    ended = told if told.endswith((".", "?", ")")) else f"{told}."
    return f"{ended} See '{path} --help'."


def _say(sentence: str, code: int) -> int:
    click.echo(safe_text(" ".join(sentence.split())), err=True)
    return code
