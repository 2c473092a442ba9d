"""Naming the procedure a check follows: the record of it, or just its kind.

A keeper in the barn knows that the disbudding is being looked at, not the id of its record.
"""

from __future__ import annotations

import re
from typing import ClassVar

from herdsync.faults import BadBytes
from herdsync.kinds.forms import Json, NameOf, Rank, Reading, Ref, Value
from herdsync.kinds.texts import NAME_LIMIT, typed_text

FOLLOWED = (
    "disbudding",
    "castration",
    "hoof-trim",
    "scurs",
    "tattoo",
    "dose",
    "vaccination",
    "mating",
    "kidding",
    "abortion",
    "dry-off",
    "weaning",
    "arrival",
)

_KIND_NAME = re.compile(r"[a-z][a-z0-9-]{2,63}", re.ASCII)


class Procedure(Ref, frozen=True):
    """A record id (bytes), or the name of a kind (text) for the latest such act before."""

    word: ClassVar[str] = "procedure"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return f"the id of the record, or the kind of act: {', '.join(FOLLOWED)}"

    def parse(self, text: str, reading: Reading) -> Value:
        """The kind's name where it is one of ``FOLLOWED``, else the record named. Raises Refused."""
        typed = typed_text(text, NAME_LIMIT, lines=False)
        word = "-".join(typed.lower().replace("_", " ").split())
        return word if word in FOLLOWED else reading.find("", typed)

    def check(self, value: object) -> None:
        """Raise BadBytes unless a record id or the name of a kind."""
        if type(value) is not str:
            super().check(value)
        elif not _KIND_NAME.fullmatch(value):
            raise BadBytes("Expected a record or a kind of act, found other text.")

    def answer(self, value: Value) -> Json:
        """The id as text, or the kind's name."""
        return value if isinstance(value, str) else super().answer(value)

    def show(self, value: Value, name_of: NameOf) -> str:
        """The record's name, or the kind's name."""
        return value if isinstance(value, str) else super().show(value, name_of)

    def rank(self, value: Value, *, late: bool) -> Rank:
        """The text of either: an order without meaning, the same everywhere."""
        return value if isinstance(value, str) else super().rank(value, late=late)


PROCEDURE = Procedure()
