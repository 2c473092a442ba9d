"""The whole command: every verb gathered, the dashboard where none is said, faults as sentences.

Exit codes: 0 done, 1 refused, 2 usage, 3 this farm's own bytes are damaged.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence
from typing import Any

import click

from herdsync.cli.asking import (
    COMPLETE_VARIABLE,
    PROGRAM,
    Asked,
    every_verbs_options,
    no_farm,
)
from herdsync.deeds import all_printed, deed_of_verb, printed_as
from herdsync.faults import DamagedFarm, Fault
from herdsync.safe_text import safe_text
from herdsync.store.database import FILE

REFUSED, USAGE, DAMAGED, STOPPED = 1, 2, 3, 130

# The verbs by family, each with the file of this room that holds it.
FAMILIES = {
    "Beginning": {"found": "beginning", "join": "beginning", "admit": "beginning",
                  "devices": "auditing", "settings": "explaining"},
    "Every day": {"due": "care", "timers": "care", "record": "writing", "skip": "writing",
                  "postpone": "writing", "herd": "looking", "show": "looking", "find": "looking"},
    "Medicine": {"holds": "medicine", "medicine": "medicine", "eggs": "medicine",
                 "screening": "medicine"},
    "Breeding": {"bucks": "breeding", "kidding": "breeding", "exposures": "breeding",
                 "kids": "breeding", "mark": "breeding"},
    "Milk": {"milk": "yields"},
    "Mending": {"amend": "writing", "retract": "writing", "undo": "writing"},
    "Agreeing": {"conflicts": "agreeing", "resolve": "agreeing", "same": "agreeing",
                 "different": "agreeing"},
    "Carrying": {"exchange": "carrying", "watch": "carrying", "backup": "carrying",
                 "restore": "carrying"},
    "Taking part": {"remove": "stewarding", "role": "stewarding", "hand-over": "stewarding",
                    "unvouched": "stewarding", "adopt": "stewarding", "set-aside": "stewarding",
                    "rehearse": "stewarding", "recover": "stewarding"},
    "Proving": {"trail": "auditing", "proof": "auditing", "verify": "auditing"},
    "Papers": {"papers": "papers", "calendar": "papers", "export": "tables", "import": "tables"},
    "Working out": {"dose": "reckoning", "match": "reckoning", "ration": "reckoning"},
    "Learning": {"kinds": "explaining", "plan": "planning", "demo": "stories", "play": "stories",
                 "completion": "explaining"},
}  # fmt: skip
FILES = {verb: file for family in FAMILIES.values() for verb, file in family.items()}


class Verbs(click.Group):
    """The verbs, listed by family; the file of one is read when that one is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The verbs in the order of their families."""
        del ctx
        return list(FILES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The verb of that name, or None."""
        if cmd_name in FILES and cmd_name not in self.commands:
            file = importlib.import_module(f"herdsync.cli.{FILES[cmd_name]}")
            verbs = (one for one in vars(file).values() if isinstance(one, click.Command))
            self.add_command(next(one for one in verbs if one.name == cmd_name))
        return super().get_command(ctx, cmd_name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The verb typed; a word that is none is refused with the verbs that are written like it."""
        if args[0] not in FILES:
            for verb in FILES:
                self.get_command(ctx, verb)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """One section a family."""
        del ctx
        for heading, family in FAMILIES.items():
            with formatter.section(heading):
                formatter.write_dl([(verb, deed_of_verb(verb).help) for verb in family])


@click.group(
    cls=Verbs,
    invoke_without_command=True,
    help="The work of a small dairy-goat herd, shared by two keepers. Without a verb: the dashboard.",
)
@click.option(
    "--plain", metavar="PLACE",
    help=f"Print a place as lines, for pipes and screen readers: {all_printed()}.",
)  # fmt: skip
@click.version_option(package_name=PROGRAM, prog_name=PROGRAM)
@click.pass_context
def command(context: click.Context, /, plain: str | None, **told: Any) -> None:
    """Keep what goes with every verb; without a verb, open the dashboard."""
    context.obj = Asked(**{word: value for word, value in told.items() if value})
    if context.invoked_subcommand is None:
        context.exit(dashboard(context.obj, plain))


for _option in every_verbs_options(known=False):
    _option(command)


def dashboard(asked: Asked, plain: str | None) -> int:
    """Open the dashboard, or print one of its places as lines; answers the exit code."""
    if plain is not None and printed_as(plain) is None:
        raise click.UsageError(f"No place is called {plain!r}. Places are: {all_printed()}.")
    there = (asked.folder / FILE).exists()
    if not there and (plain is not None or not sys.stdout.isatty()):
        raise no_farm(asked.folder)
    if plain is None and not sys.stdout.isatty():
        raise click.UsageError("The dashboard needs a terminal. Use --plain PLACE for its lines.")
    from tui.app import run

    # Without a farm the dashboard opens on the first morning: found one, join one, win one back.
    wall = asked.wall(ticking=plain is None) if there else asked.wall("UTC", ticking=True)
    return run(asked.folder, wall, asked.person, plain=plain or "")


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
