"""A story as data: laptops, steps in the command line's own words, moments, what is to hold.

A story is a TOML file beside this module. Must not know how it is played.
"""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any

import msgspec
from msgspec import Struct

from herdsync.faults import BadBytes, Refused

FOLDER = "stories"


class Laptop(Struct, frozen=True, forbid_unknown_fields=True):
    """One laptop of a story: its name and whose it is."""

    name: str
    keeper: str


class Expect(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What is to hold of an answer; ``at`` is a path as `scenarios.reaching` reads it.

    Exactly one of: ``equals`` a value, ``holds`` a part of a text, ``count`` of what is there.
    ``says`` tells it to a reader.
    """

    at: str = ""
    equals: str | int | float | bool | None = None
    holds: str | None = None
    count: int | None = None
    says: str = ""


class Step(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One step: a keeper types command lines on a laptop, or something is checked from outside.

    ``on`` and ``run``: the laptop and what is typed, without the program's name; a word may hold
    ``{name}``, the folders ``{stick}`` and ``{folder}`` among them. ``keep``: names for parts of
    the answer, by path. ``refused``: the command is refused with a sentence that holds this text.
    ``usage``: likewise, but it was typed wrong. ``shown``: print what a person would see.
    ``paper``: files written beforehand, name to text, as a keeper would lay a sheet on the table.
    ``alike``: this command answers the same bytes on every laptop. ``proved``: this proof file is
    checked with openssl alone. ``listens``: this laptop listens on the network from here on, at
    ``{LAPTOP-line}``.
    """

    says: str = ""
    at: str = ""
    on: str = ""
    by: str = ""
    run: str | list[str] = []
    keep: dict[str, str] = {}
    expect: list[Expect] = []
    refused: str = ""
    usage: str = ""
    shown: bool = False
    alike: list[str] = []
    paper: dict[str, str] = {}
    proved: str = ""
    listens: str = ""

    @property
    def lines(self) -> list[str]:
        """The command lines of the step."""
        return [self.run] if isinstance(self.run, str) else list(self.run)


class Story(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A story whole; the laptops and steps of the story it ``begins_with`` come first.

    ``depot``: there is an SFTP account on this machine, at ``{depot}``.
    """

    title: str
    about: str = ""
    begins_with: str = ""
    depot: bool = False
    laptop: list[Laptop] = []
    step: list[Step] = []


def names() -> list[str]:
    """The stories there are; what only begins others is left out."""
    folder = resources.files(__package__) / FOLDER
    found = [one.name.removesuffix(".toml") for one in folder.iterdir()]
    return sorted(name for name in found if not name.startswith("_"))


def titles() -> list[tuple[str, str]]:
    """Every story's name and title."""
    return [(name, _read(name).title) for name in names()]


def story_named(name: str) -> Story:
    """The story of that name, with what it begins with. Raises Refused naming those there are."""
    if name not in names():
        raise Refused(f"No story is called {name!r}.", f"Play one of: {', '.join(names())}.")
    story = _read(name)
    if not story.begins_with:
        return story
    before = _read(story.begins_with)
    return Story(
        title=story.title,
        about=story.about,
        depot=story.depot,
        laptop=[*before.laptop, *story.laptop],
        step=[*before.step, *story.step],
    )


def _read(name: str) -> Story:
    raw = (resources.files(__package__) / FOLDER / f"{name}.toml").read_bytes()
    story = shaped(raw, Story, name)
    assert isinstance(story, Story)
    return story


def shaped(raw: bytes, shape: type[Struct], name: str) -> Any:
    """The bytes of a TOML file as ``shape``. Raises BadBytes with the first fault."""
    try:
        return msgspec.convert(tomllib.loads(raw.decode("utf-8")), shape)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, msgspec.ValidationError) as fault:
        raise BadBytes(f"The story '{name}' cannot be read: {fault}.", "Mend that line.") from fault
