"""What explains itself: kinds and fields, completion of words, sums, and lines for a person."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.shell_completion import CompletionItem, ShellComplete

from herdsync.cli.columns import LINE, labelled, left, sentence, table
from herdsync.cli.command import command
from herdsync.deeds import DEEDS
from herdsync.kinds import CATALOGUE
from herdsync.safe_text import width
from tests.cli.laptops import Laptops

HOSTILE = "\x1b]0;t\x07\u202eAgate[/red]石石石"


def test_every_verb_of_the_table_is_there_with_its_help() -> None:
    verbs = {deed.verb: deed.help for deed in DEEDS if deed.verb}
    context = click.Context(command)
    found = {verb: command.get_command(context, verb) for verb in command.list_commands(context)}
    assert {verb: one.help for verb, one in found.items() if one is not None} == verbs


def test_the_help_lists_every_verb_and_a_slip_is_met_with_the_nearest(laptops: Laptops) -> None:
    told = laptops.type("house", "--help").out
    assert all(f"  {deed.verb} " in told for deed in DEEDS if deed.verb)
    slip = laptops.type("house", "recrod")
    assert slip.code == 2
    assert "record" in slip.err


def test_every_kind_and_field_is_explained(laptops: Laptops) -> None:
    told = {one["kind"]: one for one in laptops.ask("house", "kinds")}
    assert set(told) == set(CATALOGUE)
    for name, kind in CATALOGUE.items():
        assert set(told[name]["fields"]) == set(kind.fields)
        shown = laptops.type("house", "kinds", name).out
        assert all(width(line) <= LINE for line in shown.splitlines())
        assert all(field in shown for field in kind.fields)
        assert not kind.caution or "Caution" in shown
    dose = laptops.ask("house", "kinds", "dose")["fields"]
    assert dose["amount_ml"]["bond"] == dose["product"]["bond"] == "given"
    assert (dose["on"]["default"], dose["on"]["required"]) == ("now", False)
    assert dose["product"]["required"] is True
    assert "hoof-trim" in laptops.refusal("house", "kinds", "hooftrim")


def completed(laptops: Laptops, *words: str) -> list[str]:
    *before, last = words
    farm = ["--farm", str(laptops.stage.folder / "house")]
    shell = ShellComplete(command, {}, "herdsync", "_HERDSYNC_COMPLETE")
    found: list[CompletionItem] = shell.get_completions([*farm, *before], last)
    return [item.value for item in found]


def test_kinds_fields_words_and_animals_are_completed(farm: Laptops) -> None:
    farm.ask("house", "record", "animal", "name=Agate", "sex=doe")
    farm.ask("house", "record", "animal", "name=Opal", "sex=doe")
    assert completed(farm, "record", "hoof") == ["hoof-trim"]
    assert completed(farm, "record", "hoof-trim", "front_") == ["front_left=", "front_right="]
    assert completed(farm, "record", "hoof-trim", "front_left=o") == [
        "front_left=ok",
        "front_left=overgrown",
    ]
    assert completed(farm, "record", "hoof-trim", "lame=") == ["lame=yes", "lame=no"]
    assert completed(farm, "record", "hoof-trim", "animal=ag") == ["animal=Agate"]
    assert completed(farm, "record", "hoof-trim", "animal", "=", "o") == ["Opal"]
    assert completed(farm, "record", "hoof-trim", "--for", "A") == ["Agate"]
    assert completed(farm, "show", "O") == ["Opal"]
    assert "hoof-trim" in completed(farm, "kinds", "")


def test_completion_without_a_farm_is_quiet(laptops: Laptops) -> None:
    assert completed(laptops, "show", "A") == []


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_the_script_for_a_shell_is_printed(laptops: Laptops, shell: str) -> None:
    done = laptops.stage.run("house", ["completion", shell])
    assert done.code == 0
    assert f"_HERDSYNC_COMPLETE={shell}_complete" in done.out


def test_no_farm_text_reaches_a_terminal_unescaped(farm: Laptops) -> None:
    for word in ("\u202eAgate", "a[/red]b", "石" * 40):
        farm.ask("house", "record", "animal", f"name={word}", "sex=doe")
    note = "one\ntwo\u202e"
    id = farm.ask("house", "record", "note", f"text={note}", "about=a[/red]b")["id"]
    for words in (["herd"], ["find", "a"], ["show", id], ["due"], ["trail", "a[/red]b"]):
        done = farm.type("house", *words)
        assert done.code == 0
        assert "\u202e" not in done.out
        assert all(width(line) <= LINE for line in done.out.splitlines()), words
    as_json = farm.type("house", "herd", "--json").out
    assert as_json.isascii()
    assert "\u202eAgate" in {line["name"] for line in json.loads(as_json)}


def test_a_fault_is_one_safe_line(farm: Laptops) -> None:
    sentence_told = farm.refusal("house", "show", HOSTILE)
    assert "\x1b" not in sentence_told
    assert "\u202e" not in sentence_told


def test_columns_fit_and_align() -> None:
    rows = [("Agate", "x" * 200, 3), ("石頭", None, None)]
    lines = table(("name", "what", "n"), rows)
    assert [width(line) <= LINE for line in lines] == [True] * 3
    assert lines[1].startswith("Agate  xxx")
    assert lines[1].endswith("3")
    assert table(("name", "what"), [("Agate", "")])[0] == "name"
    assert table(("name",), []) == []
    assert all(width(line) <= LINE for line in sentence("石 " * 90, 4))
    assert labelled("note", "one\ntwo") == ["  note              one", " " * 20 + "two"]


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(59, "0 min"), (3_660, "1 h 1 min"), (90_000, "1 d 1 h"), (-90_000, "1 d 1 h over")],
)
def test_time_left_in_two_units(seconds: int, told: str) -> None:
    assert left(seconds) == told


def test_sums_from_typed_figures(farm: Laptops, tmp_path: Path) -> None:
    """Plain arithmetic: 60 kg at 2 mg/kg of 25 mg/mL is 4.8 mL; 12 g to 6 g is 2 to 1."""
    farm.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")
    farm.ask("house", "record", "animal", "name=Basalt", "sex=buck", "born=2021-03-05")
    farm.ask("house", "record", "weighing", "animal=Agate", "weight_kg=60")
    words = ("dose", "--animal", "Agate", "--rate", "2", "--strength", "25", "--step", "0.5")
    volume = farm.ask("house", *words)
    assert (volume["weight_kg"], volume["volume_ml"], volume["rounded_ml"]) == (60, 4.8, 5)
    assert "label" in farm.type("house", *words).out
    mating = farm.ask("house", "match", "Agate", "Basalt", "--on", "2026-08-01")
    assert (mating["inbreeding"], mating["due"]) == (0, "2026-12-29")
    ration = tmp_path / "ration.toml"
    ration.write_text(
        '[[feed]]\nname = "hay"\namount_g = 1200\ncalcium_percent = 1.0\nphosphorus_percent = 0.5\n'
        'basis = "as fed"\n'
    )
    total = farm.ask("house", "ration", str(ration))
    assert (total["calcium_g"], total["phosphorus_g"], total["ratio"]) == (12, 6, 2)
    farm.refusal("house", "ration", str(tmp_path / "none.toml"))
    farm.refusal("house", "dose", "--animal", "Agate", "--rate", "much", "--strength", "25")
