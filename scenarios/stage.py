"""Where stories are played: real farm folders, a keys folder a laptop, and the real commands.

Each laptop has its own folder and its own keys, as two machines would; what passes between them
is the stick. Must not know what any story tells.
"""

from __future__ import annotations

import json
import shlex
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
from click.testing import CliRunner
from msgspec import Struct

from herdsync.cli.columns import sentence
from herdsync.cli.command import run_words
from herdsync.faults import Refused
from scenarios.beside import depot, listening
from scenarios.reaching import reach_one, unmet
from scenarios.story import Expect, Step, Story, story_named, titles

__all__ = ["Played", "Stage", "play_story", "story_named", "titles"]

Tell = Callable[[str], Any]
GOOD_SIGNATURE = "Signature Verified Successfully"
SHELL_SECONDS = 60
ID_SHOWN = 12
VALUE_SHOWN = 40
# What people read out to each other is shown whole.
READ_OUT = ("code", "check")
LINE = "-line"
DEPOT = "depot"
KEY_VARIABLE = "HERDSYNC_SFTP_KEY"


class Played(Struct, frozen=True):
    """How a story went: its steps, what held, and a sentence for each thing that did not."""

    title: str
    steps: int
    held: int
    failed: list[str]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one command line did."""

    code: int
    out: str
    err: str


def typed_in(words: list[str], surroundings: Mapping[str, str | None]) -> Outcome:
    """What a command line does with these environment variables (None: unset)."""
    with CliRunner().isolation(env=surroundings) as streams:
        code = run_words(words)
        out, err = streams[0].getvalue(), streams[1].getvalue()
    return Outcome(code, out.decode(), err.decode())


@dataclass
class Stage:
    """The laptops of one play, in ``folder``; what was kept along the way is in ``kept``."""

    folder: Path
    kept: dict[str, str] = field(default_factory=dict)
    # What the environment holds besides: where the key of the depot's account is.
    besides: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        stick = self.folder / "stick"
        stick.mkdir(parents=True, exist_ok=True)
        self.kept |= {"stick": str(stick), "folder": str(self.folder)}

    def run(self, laptop: str, words: list[str]) -> Outcome:
        """One command line on a laptop, through the real command."""
        return typed_in(words, {**self.surroundings(laptop), "HERDSYNC_AT": None})

    def surroundings(self, laptop: str) -> dict[str, str]:
        """What makes a command run on one laptop rather than another."""
        return {
            "HERDSYNC_KEYS": str(self.folder / f"{laptop}-keys"),
            "HERDSYNC_FARM": str(self.folder / laptop),
            **self.besides,
        }

    def words_of(self, line: str) -> list[str]:
        """The words of a command line, with what was kept put in."""
        return [self.filled(word) for word in shlex.split(line)]

    def filled(self, text: str) -> str:
        """``text`` with ``{name}`` replaced by what was kept under it."""
        for name, value in self.kept.items():
            text = text.replace(f"{{{name}}}", value)
        return text

    def told(self, text: str) -> str:
        """``text`` for a reader: ids cut short, the stage's folders by their own names."""
        for name, value in self.kept.items():
            short = name if Path(value).is_absolute() or name == DEPOT else value[:ID_SHOWN]
            whole = name in READ_OUT or name.endswith(LINE)
            text = text.replace(f"{{{name}}}", value if whole else short)
        return text.replace("folder/", "")


def play_story(story: Story, keep: Path | None, *, tell: Tell | None) -> Played:
    """Play a story from its beginning; ``keep``: an empty folder to leave the laptops in.

    ``tell`` is given the story's lines. Raises Refused where ``keep`` holds something already.
    """
    with _folder(keep) as folder, ExitStack() as beside:
        play = _Play(Stage(folder), story, tell or _silent, beside)
        play.begin()
        for step in story.step:
            play.step(step)
    return Played(story.title, len(story.step), play.held, play.failed)


@contextmanager
def _folder(keep: Path | None) -> Iterator[Path]:
    if keep is None:
        with tempfile.TemporaryDirectory(prefix="herdsync-play-") as made:
            yield Path(made)
        return
    if keep.exists() and (not keep.is_dir() or any(keep.iterdir())):
        raise Refused(f"{keep} holds something already.", "Name a new folder with --keep.")
    keep.mkdir(parents=True, exist_ok=True)
    yield keep.absolute()


def _silent(line: str) -> None:
    del line


@dataclass
class _Play:
    """One story being played: tells it, and gathers what held and what did not."""

    stage: Stage
    story: Story
    tell: Tell
    beside: ExitStack
    held: int = 0
    failed: list[str] = field(default_factory=list)
    when: str = ""

    def begin(self) -> None:
        if self.story.depot:
            place, key = self.beside.enter_context(depot(self.stage.folder))
            self.stage.kept[DEPOT] = place
            self.stage.besides[KEY_VARIABLE] = str(key)
        self.tell(self.story.title)
        self.tell("=" * len(self.story.title))
        self._tell(self.story.about)

    def step(self, step: Step) -> None:
        self.tell("")
        self._tell(self.stage.filled(step.says))
        self.when = step.at or self.when
        if step.listens:
            self._listen(step.listens)
        for name, text in step.paper.items():
            sheet = Path(self.stage.filled(name))
            sheet.parent.mkdir(exist_ok=True)
            sheet.write_text(self.stage.filled(text), encoding="utf-8")
        for line in step.lines:
            self._typed(step, line)
        for line in step.alike:
            self._alike(line)
        if step.proved:
            self._proved(Path(self.stage.filled(step.proved)))

    def _listen(self, laptop: str) -> None:
        surroundings = self.stage.surroundings(laptop)
        address = self.beside.enter_context(listening(surroundings, self.when))
        self.stage.kept[f"{laptop}{LINE}"] = address
        self._prompt(laptop, f"watch --listen {address.rpartition(':')[2]}", [])

    def _tell(self, text: str, indent: int = 0) -> None:
        for line in sentence(text, indent):
            self.tell(line)

    def _typed(self, step: Step, line: str) -> None:
        by = ["--by", step.by] if step.by else []
        words = [*self.stage.words_of(line), "--at", self.when, *by]
        self._prompt(step.on, line, by)
        outcome = self.stage.run(step.on, [*words, "--json"])
        if step.refused or step.usage:
            self._refused(outcome, step)
            return
        self._holds(f"'{line}' ends well: {outcome.err.strip()}", outcome.code == 0)
        if outcome.code != 0:
            return
        answer = json.loads(outcome.out)
        for name, path in step.keep.items():
            self._keep(name, path, answer)
        if step.shown:
            for shown in self.stage.run(step.on, words).out.splitlines():
                self.tell(f"    {shown}".rstrip())
        else:
            self._tell_scalars(answer)
        for expect in step.expect:
            told = unmet(answer, _filled(expect, self.stage))
            self._holds(expect.says or told, not told, told)

    def _prompt(self, laptop: str, line: str, by: list[str]) -> None:
        day, _, clock = self.when.partition("T")
        typed = " ".join([self.stage.told(line), *by])
        for one in sentence(f"{laptop}, {day} {clock[:5]} $ herdsync {typed}", 2, 6):
            self.tell(one)

    def _keep(self, name: str, path: str, answer: Any) -> None:
        try:
            self.stage.kept[name] = str(reach_one(answer, path))
        except LookupError as fault:
            self.failed.append(f"nothing to keep as {name}: {fault}")

    def _refused(self, outcome: Outcome, step: Step) -> None:
        wanted = self.stage.filled(step.refused or step.usage)
        code = 1 if step.refused else 2
        sound = outcome.code == code and not outcome.out and len(outcome.err.splitlines()) == 1
        self._tell(outcome.err.strip(), 4)
        self._holds(
            f"refused with one sentence, exit code {code}",
            sound and wanted in outcome.err,
            f"exit code {outcome.code}, {outcome.out!r} {outcome.err!r}, not {wanted!r}",
        )

    def _alike(self, line: str) -> None:
        laptops = [laptop.name for laptop in self.story.laptop]
        self._prompt(" and ".join(laptops), line, [])
        words = [*self.stage.words_of(line), "--at", self.when, "--json"]
        outs = [self.stage.run(laptop, words) for laptop in laptops]
        sound = all(one.code == 0 for one in outs) and len({one.out for one in outs}) == 1
        size = len(outs[0].out.encode())
        self._holds(f"the same {size} bytes on every laptop", sound, f"'{line}' differs")

    def _proved(self, proof: Path) -> None:
        told = check_proof(proof)
        for line in told.splitlines():
            self._tell(line, 4)
        self._holds("openssl alone says the signature holds", GOOD_SIGNATURE in told)

    def _tell_scalars(self, answer: Any) -> None:
        if isinstance(answer, dict):
            told = [
                f"{name} {value}"
                for name, value in answer.items()
                if isinstance(value, str | int | float)
                and value != ""
                and len(str(value)) <= VALUE_SHOWN
            ]
            self._tell(", ".join(told), 4)

    def _holds(self, says: str, sound: bool, why: str = "") -> None:
        if sound:
            self.held += 1
            if says and not says.startswith("'"):
                self._tell(f"holds: {says}", 4)
            return
        told = f"{says} ({why})" if why and why != says else says
        self.failed.append(told)
        self._tell(f"DOES NOT HOLD: {told}", 4)


def _filled(expect: Expect, stage: Stage) -> Expect:
    equals = expect.equals
    return msgspec.structs.replace(
        expect,
        at=stage.filled(expect.at),
        equals=stage.filled(equals) if isinstance(equals, str) else equals,
        holds=stage.filled(expect.holds) if expect.holds is not None else None,
    )


def check_proof(proof: Path) -> str:
    """What the shell and openssl say of a proof file, by the commands written in the file itself."""
    if shutil.which("openssl") is None:
        raise Refused("This machine has no openssl to check a proof with.", "Install openssl.")
    lines = proof.read_text().splitlines()
    typed = [line.strip().replace("F=proof.txt", f"F={proof.name}") for line in lines]
    start = next(place for place, line in enumerate(typed) if line.startswith("F="))
    end = next(place for place, line in enumerate(typed) if line.startswith("openssl pkeyutl"))
    done = subprocess.run(
        ["sh", "-c", "\n".join(typed[start : end + 1])],
        cwd=proof.parent, capture_output=True, text=True, timeout=SHELL_SECONDS, check=False,
    )  # fmt: skip
    return done.stdout + done.stderr
