"""Two laptops for tests of the command line: real farm folders, separate keys, the real commands."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenarios.stage import Outcome, Stage

AT = "2026-03-09T07:00:00+00:00"


@dataclass
class Laptops:
    """Commands typed on laptops of one stage, at a moment that each call may set."""

    stage: Stage
    recovery: str = ""

    @classmethod
    def beside(cls, folder: Path) -> Laptops:
        return cls(Stage(folder))

    @property
    def stick(self) -> str:
        return self.stage.kept["stick"]

    def type(self, laptop: str, *words: str, at: str = AT) -> Outcome:
        """What a command line does, as typed."""
        return self.stage.run(laptop, [*words, "--at", at])

    def ask(self, laptop: str, *words: str, at: str = AT) -> Any:
        """The JSON answer of a command that must end well."""
        done = self.type(laptop, *words, "--json", at=at)
        assert done.code == 0, done.err
        assert done.err == ""
        return json.loads(done.out)

    def refusal(self, laptop: str, *words: str, code: int = 1) -> str:
        """The one sentence of a command that must be refused, with nothing on standard output."""
        done = self.type(laptop, *words)
        assert (done.code, done.out) == (code, ""), done
        assert len(done.err.splitlines()) == 1
        assert done.err.rstrip().endswith((".", "?", ")", "'"))
        return done.err

    def found(self) -> None:
        found = (
            "found",
            "Quillmoor Dairy",
            "--keeper",
            "Oda",
            "--device",
            "house",
            "--prefix",
            "QMR",
        )
        self.recovery = self.ask("house", *found)["recovery"]

    def pair(self) -> None:
        """Found on house, join and admit barn through the stick."""
        self.found()
        code = self.ask("barn", "join", self.stick, "--keeper", "Ravi", "--device", "barn")["code"]
        self.ask("house", "admit", self.stick, "--code", code)
        self.ask("barn", "exchange", self.stick)

    def meet(self) -> None:
        """The stick goes house, barn, house."""
        for laptop in ("house", "barn", "house"):
            self.ask(laptop, "exchange", self.stick)
