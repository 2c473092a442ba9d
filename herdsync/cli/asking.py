"""What every verb is asked with: whose farm, who is at the keyboard, at what moment, in which form.

Must not know any single verb.
"""

from __future__ import annotations

import functools
import inspect
import json
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from zoneinfo import ZoneInfo

import click
import msgspec

from herdsync.cli.examples import EXAMPLES
from herdsync.deeds import deed_of_verb
from herdsync.faults import Refused
from herdsync.kinds.on import check_on, parse_on, span
from herdsync.store.database import FILE
from herdsync.wall import Wall, environment

if TYPE_CHECKING:
    from herdsync.acts.acting import Acting
    from herdsync.acts.door import Door
    from herdsync.acts.looking import Looking
    from herdsync.farm import Farm

D = TypeVar("D", bound="Door")

PROGRAM = "herdsync"
COMPLETE_VARIABLE = "_HERDSYNC_COMPLETE"
FARM_VARIABLE = "HERDSYNC_FARM"
AT_VARIABLE = "HERDSYNC_AT"
NAME_LETTERS = 80


class Asked(msgspec.Struct, frozen=True):
    """The words that go with any verb; empty where they were left out."""

    farm_folder: str = ""
    by: str = ""
    at: str = ""
    known: str = ""
    as_json: bool = False

    @property
    def folder(self) -> Path:
        """The farm's folder: said, set in the environment, the one we stand in, else the user's own."""
        told = self.farm_folder or environment(FARM_VARIABLE)
        if told:
            return Path(told).expanduser()
        if Path(FILE).is_file():
            return Path()
        return own_folder() / "farm"

    def wall(self, zone: str = "", *, ticking: bool = False) -> Wall:
        """This run's clock. Raises Refused where --at is no moment.

        A moment without an offset is read in ``zone``, or the zone of the farm that is there.
        """
        told = (self.at or environment(AT_VARIABLE) or "").strip()
        if not told:
            return Wall(ticking=ticking)
        try:
            check_on(told.upper())
            exact = "T" in told.upper()
        except ValueError:
            exact = False
        if exact:
            return Wall(datetime.fromisoformat(told.upper()), ticking=ticking)
        local = ZoneInfo(zone) if zone else self._zone()
        try:
            on = parse_on(told, Wall().now(), local)
        except Refused as fault:
            mend = "Write --at 2026-02-22T06:30:00+01:00."
            raise Refused(f"--at: {fault.what}", mend) from fault
        return Wall(span(on, local)[0], ticking=ticking)

    def _zone(self) -> ZoneInfo:
        if not (self.folder / FILE).exists():
            return ZoneInfo("UTC")
        from herdsync.acts.looking import Looking

        with Looking.open(self.folder, Wall()) as farm:
            return farm.zone

    def looking(self) -> Looking:
        """The farm, open for one verb that looks. Raises Refused where there is none."""
        from herdsync.acts.looking import Looking

        return self._open(Looking)

    def acting(self) -> Acting:
        """The farm, open for one verb that writes records. Raises Refused where there is none."""
        from herdsync.acts.acting import Acting

        return self._open(Acting)

    def farm(self) -> Farm:
        """The whole farm, open for one verb. Raises Refused where there is none."""
        from herdsync.farm import Farm

        return self._open(Farm)

    def _open(self, door: type[D]) -> D:
        if not (self.folder / FILE).exists():
            raise no_farm(self.folder)
        return door.open(self.folder, self.wall(), by=self.person, known=self.known)

    @property
    def person(self) -> str:
        """Who is at the keyboard. Raises Refused for what no trail should carry as a name."""
        if len(self.by) > NAME_LETTERS or not self.by.isprintable():
            mend = f"Give at most {NAME_LETTERS} plain characters."
            raise Refused("The name given with --by is unfit.", mend)
        return self.by.strip()

    def answer(self, value: Any, lines: Iterable[str]) -> None:
        """Print one JSON document, or the lines a person reads."""
        if self.as_json:
            built = msgspec.to_builtins(value)
            click.echo(json.dumps(built, indent=2, sort_keys=True, ensure_ascii=True))
            return
        for line in lines:
            click.echo(line)


def own_folder() -> Path:
    """The user's data folder for this program."""
    import platformdirs

    return Path(platformdirs.user_data_dir("herdsync"))


def no_farm(folder: Path) -> Refused:
    """The fault of a folder without a farm."""
    return Refused(
        f"There is no farm in {folder}.",
        "Found one with 'herdsync found', join one with 'herdsync join', name its folder with "
        "--farm DIR, or look at an invented one with 'herdsync demo'.",
    )


def verb(name: str, *, known: bool = False) -> Callable[[Callable[..., None]], click.Command]:
    """Make a function ``f(asked, ...)`` a verb; its help sentence comes from the table of actions.

    What its own docstring adds stands below the options, then examples. ``known`` adds --known to a
    verb that reads.
    """

    def made(function: Callable[..., None]) -> click.Command:
        @functools.wraps(function)
        @click.pass_context
        def run(context: click.Context, /, **told: Any) -> None:
            before = context.find_object(Asked) or Asked()
            words = {word: told.pop(word) for word in _WORDS if told.get(word)}
            for word in _WORDS:
                told.pop(word, None)
            function(msgspec.structs.replace(before, **words), **told)

        options = every_verbs_options(known=known)
        for option in reversed(options):
            run = option(run)
        says = deed_of_verb(name).help
        return click.command(name, help=says, epilog=_below(name, says, function.__doc__ or ""))(
            run
        )

    return made


def _below(name: str, says: str, doc: str) -> str:
    """What stands below a verb's options: what its docstring adds to ``says``, and examples."""
    told = inspect.cleandoc(doc)
    examples = "\n".join(["\b", "Examples:", *(f"  {PROGRAM} {one}" for one in EXAMPLES[name])])
    return examples if told == says else f"{told}\n\n{examples}"


_WORDS = ("farm_folder", "by", "at", "known", "as_json")


def every_verbs_options(*, known: bool) -> list[Callable[[Any], Any]]:
    """The options that every verb takes."""
    options = [
        click.option("--json", "as_json", is_flag=True, help="Answer with one JSON document."),
        click.option(
            "--farm",
            "farm_folder",
            metavar="DIR",
            help=f"The farm's folder (or set {FARM_VARIABLE}).",
        ),
        click.option("--by", metavar="PERSON", help="Who is at the keyboard."),
        click.option(
            "--at",
            metavar="MOMENT",
            help=f"This run's clock, as 2026-02-22T06:30:00+01:00 (or set {AT_VARIABLE}).",
        ),
    ]
    if known:
        options.append(
            click.option("--known", metavar="ENTRY", help="The farm as that entry knew it.")
        )
    return options
