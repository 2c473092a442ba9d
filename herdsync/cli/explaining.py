"""Verbs that explain: kinds, settings, completion."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import click
from click.shell_completion import get_completion_class

from herdsync.answers import SettingLine
from herdsync.cli.asking import COMPLETE_VARIABLE, PROGRAM, Asked, verb
from herdsync.cli.columns import padded_list, sentence
from herdsync.cli.typed import complete_kind
from herdsync.cli.writing import BECAUSE, tell_recorded
from herdsync.kinds import CATALOGUE, kind_named
from herdsync.kinds.kind import Field, Kind

SHELLS = ("bash", "zsh", "fish")


@verb("kinds")
@click.argument("kind", required=False, shell_complete=complete_kind)
def kinds(asked: Asked, kind: str | None) -> None:
    """List the kinds of record; with KIND, explain its fields."""
    if kind is None:
        every = list(CATALOGUE.values())
        asked.answer([explained(one) for one in every], told_kinds(every))
        return
    spec = kind_named(kind)
    asked.answer(explained(spec), told_kind(spec))


@verb("settings", known=True)
@click.argument("key", required=False)
@click.argument("value", required=False)
@BECAUSE
def settings(asked: Asked, key: str | None, value: str | None, because: str) -> None:
    """List the settings; with KEY and VALUE, set one."""
    with asked.acting() as farm:
        if key is not None and value is not None:
            tell_recorded(asked, farm.set(key, value, because), "setting")
            return
        lines = farm.settings()
    if key is not None:
        lines = [line for line in lines if line.key == key]
        if not lines:
            raise click.UsageError(f"No setting is called {key!r}.")
    asked.answer(lines, told_settings(lines))


@verb("completion")
@click.argument("shell", type=click.Choice(SHELLS))
@click.pass_context
def completion(context: click.Context, asked: Asked, shell: str) -> None:
    """Print the script for SHELL, such as: eval "$(herdsync completion bash)"."""
    made = get_completion_class(shell)
    assert made is not None, "each shell of the choice is known"
    root = context.find_root().command
    script = made(root, {}, PROGRAM, COMPLETE_VARIABLE).source()
    asked.answer({"shell": shell, "script": script}, [script])


def explained(kind: Kind) -> Mapping[str, object]:
    """A kind and its fields as data."""
    return {
        "kind": kind.name,
        "version": kind.version,
        "title": kind.title,
        "help": kind.help,
        "subject": kind.subject,
        "keyed": kind.keyed,
        "caution": kind.caution,
        "fields": {name: _explained_field(field) for name, field in kind.fields.items()},
    }


def _explained_field(field: Field) -> Mapping[str, object]:
    return {
        "help": field.help,
        "form": field.form.word,
        "takes": field.form.takes,
        "required": field.required and not field.default_now,
        "set": field.many,
        "bond": field.register if field.register != field.name else "",
        "default": "now" if field.default_now else "",
    }


def told_kinds(every: list[Kind]) -> Iterator[str]:
    """One line a kind."""
    yield from padded_list([(kind.name, kind.help.splitlines()[0]) for kind in every])
    yield ""
    yield "Fields of a kind: herdsync kinds KIND"


def told_kind(kind: Kind) -> Iterator[str]:
    """The kind, its caution, and each field: what it says and what may be typed."""
    for line in kind.help.splitlines():
        yield from sentence(line)
    if kind.caution:
        yield ""
        yield from sentence(f"Caution: {kind.caution}")
    for field in kind.fields.values():
        yield ""
        yield field.name + "".join(f", {mark}" for mark in _marks(kind, field))
        yield from sentence(field.help, 4)
        takes = "several with commas: " if field.many else ""
        yield from sentence(f"{takes}{field.form.takes}", 4)
    yield ""
    yield from sentence(f"herdsync record {kind.name} {_example(kind)}", 0, 4)


def _marks(kind: Kind, field: Field) -> Iterator[str]:
    if field.default_now:
        yield "now where left out"
    elif field.required:
        yield "needed"
    if field.many:
        yield "a set (field+=x, field-=x)"
    if field.register != field.name:
        others = [name for name in kind.registers[field.register] if name != field.name]
        yield f"goes with {' and '.join(others)}"


def _example(kind: Kind) -> str:
    needed = [f for f in kind.fields.values() if f.required and not f.default_now]
    return " ".join(f"{field.name}=..." for field in needed or list(kind.fields.values())[:2])


def told_settings(lines: list[SettingLine]) -> Iterator[str]:
    """Each setting, what counts, what it means."""
    for line in lines:
        disputed = "  (disputed)" if line.disputed else ""
        yield from sentence(f"{line.key} = {line.value or '(none)'}{disputed}", 0, 4)
        yield from sentence(line.help, 4)
    yield ""
    yield "Set one: herdsync settings KEY VALUE"
