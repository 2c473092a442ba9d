"""Every verb's help has examples, and what they say can be typed: nothing in a help text is out of date."""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping
from pathlib import Path

import click
import pytest

from herdsync.cli.command import FILES, command
from herdsync.cli.examples import EXAMPLES
from herdsync.deeds import deed_of_verb
from herdsync.wall import Wall
from scenarios.demo import make_demo
from scenarios.stage import Outcome, typed_in
from tests.cli.laptops import Laptops

# An id of an example is none of the demo farm's, and what needs a partner or a dashboard needs more
# than a line: of these is tried that the verb understands every word.
UNDERSTOOD_ALONE = frozenset({
    "join", "admit", "exchange", "watch", "recover", "rehearse", "found", "restore", "adopt", "set-aside",
    "skip", "postpone", "retract", "resolve", "same", "different", "demo", "play", "hand-over", "remove",
    "role",
})  # fmt: skip
FILES_OF_THE_KEEPER = {
    "notebook.csv": "Goat,Date,Weight\nAgate,2026-04-13,138 lb\n",
    "herd.csv": "Name;DOB;Sex;Dam\nSlate;22.3.2023;F;Granite\n",
    "weights.csv": "animal,on,weight\nAgate,2026-04-14,138\n",
    "winter.toml": '[[feed]]\nname = "Hill hay"\namount_g = 2000\n',
}


def test_every_verb_has_examples_of_itself() -> None:
    assert set(EXAMPLES) == set(FILES)
    for name, lines in EXAMPLES.items():
        assert lines
        assert all(shlex.split(line)[0] == name for line in lines), name


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_verb_understands_every_word(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("farm-backup.db").touch()
    verb = command.get_command(click.Context(command), name)
    assert verb is not None
    for line in EXAMPLES[name]:
        verb.make_context(name, shlex.split(line)[1:])


def test_no_help_says_one_thing_twice_or_two_names_for_one() -> None:
    for name in FILES:
        verb = command.get_command(click.Context(command), name)
        assert verb is not None
        told = verb.get_help(click.Context(verb, info_name=name))
        assert " ".join(told.split()).count(deed_of_verb(name).help) == 1, told
        assert "Examples:" in told
        assert "claim" not in told.casefold(), "what stands against another is called an account"


def test_what_can_be_typed_by_itself_ends_well_on_the_invented_farm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = tmp_path / "keys"
    monkeypatch.setenv("HERDSYNC_KEYS", str(keys))
    demo = make_demo(tmp_path / "demo", Wall())
    monkeypatch.chdir(tmp_path)
    for file, text in FILES_OF_THE_KEEPER.items():
        Path(file).write_text(text)
    house = {"HERDSYNC_FARM": demo.house}
    for name, lines in EXAMPLES.items():
        for line in lines if name not in UNDERSTOOD_ALONE else ():
            if line.startswith("export weighing"):
                Path("weights.csv").unlink(missing_ok=True)
            if line.startswith("proof --check"):
                typed(house, "papers sale-sheet Mica --out agate --no-pdf")
                line = line.replace("agate.", "mica.").replace("sheet-agate", "sheet-mica")
            done = typed(house, line)
            assert done.code == 0, (line, done.err)
            Path("weights.csv").write_text(FILES_OF_THE_KEEPER["weights.csv"])


def typed(environment: Mapping[str, str | None], line: str) -> Outcome:
    return typed_in(shlex.split(line), {"HERDSYNC_AT": None, **environment})


def test_options_that_would_be_passed_over_are_refused(pair: Laptops, tmp_path: Path) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01")
    whole, ade = tmp_path / "farm.jsonl", tmp_path / "animals.json"
    pair.ask("house", "export", "farm", str(whole))
    pair.ask("house", "export", "ade", str(ade))
    before = pair.ask("barn", "herd")
    for words, why in (
        ((str(whole), "--dry-run"), "Leave out --dry-run"),
        ((str(whole), "--dates", "dmy"), "Leave out --dates"),
        ((str(ade), "--kind", "ade", "--unit", "weight_kg=lb"), "Leave out --unit"),
    ):
        assert re.search(why, pair.refusal("barn", "import", *words))
    assert pair.ask("barn", "herd") == before
    table = tmp_path / "animals.csv"
    told = pair.refusal("house", "export", "animal", str(table), "--as-of", "2026-01-01")
    assert "--known ENTRY" in told
    assert not table.exists()
