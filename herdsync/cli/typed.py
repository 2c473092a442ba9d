"""What is typed as ``field=value``: split, read from files, completed by the shell.

Must not know what a value means: reading it belongs to the kinds.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click
from click.shell_completion import CompletionItem

from herdsync.cli.asking import Asked
from herdsync.faults import Fault, Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Choice, Flag, Ref
from herdsync.kinds.kind import Field, Kind

FILE_MARK = "@"
FILE_BYTES = 65_536
CANDIDATES = 200


def pairs_of(words: Sequence[str]) -> dict[str, str]:
    """``field=value`` words as a mapping. Raises UsageError for another shape or a field said twice."""
    pairs: dict[str, str] = {}
    for word in words:
        name, equals, text = word.partition("=")
        if not equals or not name:
            raise click.UsageError(f"{word!r} is not of the form field=value.")
        if name in pairs:
            raise click.UsageError(f"'{name}' is said twice.")
        pairs[name] = from_file(text)
    return pairs


def changes_of(words: Sequence[str]) -> list[str]:
    """The changes of an amendment, as ``field=text`` with files read. Raises UsageError."""
    changes = []
    for word in words:
        name, equals, text = word.partition("=")
        if not equals or not name:
            raise click.UsageError(f"{word!r} is not of the form field=value.")
        changes.append(f"{name}={from_file(text)}")
    return changes


def from_file(text: str) -> str:
    """The text, or that of the file named by ``@FILE``; ``@@`` begins a text with ``@``."""
    if not text.startswith(FILE_MARK):
        return text
    name = text[1:]
    if name.startswith(FILE_MARK):
        return name
    mend = (
        f"Name a file that can be read, or write {FILE_MARK}{FILE_MARK} for a text that begins so."
    )
    try:
        with Path(name).expanduser().open("rb") as file:
            raw = file.read(FILE_BYTES + 1)
        if len(raw) > FILE_BYTES:
            raise Refused(f"{name} is too long to be a note.", "Shorten it.")
        return raw.decode("utf-8-sig")
    except (OSError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or "not text in UTF-8"
        raise Refused(f"The file {name!r} was not read ({why}).", mend) from fault


def complete_kind(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """The kinds that begin so, with their titles."""
    del context, parameter
    return [
        CompletionItem(kind.name, help=kind.title)
        for kind in CATALOGUE.values()
        if kind.name.startswith(incomplete)
    ]


def complete_animal(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """The animals whose names begin so."""
    del parameter
    return [CompletionItem(one) for one in animals(context) if _begins(one, incomplete)]


def complete_pair(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Fields of the kind that are not said yet, or values of the field being said."""
    kind = CATALOGUE.get(str(context.params.get("kind")))
    if kind is None:
        return []
    said = [str(word) for word in context.params.get(parameter.name or "") or ()]
    name, equals, value = incomplete.partition("=")
    if equals:
        values = _values(context, kind, name)
        return [CompletionItem(f"{name}={one}") for one in values if _begins(one, value)]
    # Some shells break words at "=": the field then stands alone before what is completed.
    alone = next((word for word in reversed(said) if word != "="), "")
    if said and (said[-1] == "=" or alone in kind.fields):
        values = _values(context, kind, alone)
        return [CompletionItem(one) for one in values if _begins(one, incomplete)]
    told = {word.partition("=")[0] for word in said}
    return [
        CompletionItem(f"{field.name}=", help=field.help)
        for field in kind.fields.values()
        if field.name.startswith(incomplete) and field.name not in told
    ]


def animals(context: click.Context) -> list[str]:
    """The names of the herd, as far as they are plain words; none where no farm opens."""
    try:
        with Asked(farm_folder=_folder_said(context)).looking() as farm:
            names = [line.name for line in farm.herd()]
    except Fault:
        return []
    return [name for name in names if name.isprintable()][:CANDIDATES]


def _folder_said(context: click.Context | None) -> str:
    """What was typed for --farm, after the verb or before it."""
    while context is not None:
        if context.params.get("farm_folder"):
            return str(context.params["farm_folder"])
        context = context.parent
    return ""


def _values(context: click.Context, kind: Kind, name: str) -> list[str]:
    field: Field | None = kind.fields.get(name)
    if field is None:
        return []
    if isinstance(field.form, Choice):
        return list(field.form.words)
    if isinstance(field.form, Flag):
        return ["yes", "no"]
    if isinstance(field.form, Ref) and field.form.kind == "animal":
        return animals(context)
    return []


def _begins(word: str, beginning: str) -> bool:
    return word.casefold().startswith(beginning.casefold())
