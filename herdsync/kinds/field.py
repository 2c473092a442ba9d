"""One field of a kind: what a declaration says of it, and how its values are read and checked.

Must not know any particular kind.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from msgspec import Struct

from herdsync.faults import BadBytes
from herdsync.kinds.forms import Form, Json, NameOf, Rank, Reading, Value
from herdsync.kinds.texts import foreign

MEMBER_LIMIT = 200

Strict = Literal["", "most", "least", "latest", "earliest"]


class Says(Struct, frozen=True):
    """What a declaration says of one field beside its name and whether it may be left out.

    ``help``: one plain sentence. ``bond``: the register it shares. ``many``: a set of the form.
    ``strict``: which of several disputed values is the safe one. ``default_now``: left out, it is
    the moment of recording.
    """

    help: str
    form: Form
    bond: str = ""
    many: bool = False
    strict: Strict = ""
    default_now: bool = False


class Field(Struct, frozen=True):
    """One field of a kind. ``register`` is its own name, or that of the bond it shares."""

    name: str
    form: Form
    help: str
    required: bool = False
    register: str = ""
    many: bool = False
    strict: Strict = ""
    default_now: bool = False

    def parse(self, text: str, reading: Reading) -> Value:
        """The stored value of what was typed; a set is typed with commas. Raises Refused."""
        if not self.many:
            return self.form.parse(text, reading)
        return self.members(self.form.parse(part, reading) for part in text.split(","))

    def check(self, value: object) -> None:
        """Raise BadBytes unless ``value`` is a stored value of this field.

        Order and doubles within a set mean nothing and are not looked at: a change of a set names
        what it adds and drops in one list.
        """
        if not self.many:
            self.form.check(value)
            return
        if type(value) is not list:
            raise foreign(value, "a list")
        if len(value) > MEMBER_LIMIT:
            raise BadBytes(f"Expected at most {MEMBER_LIMIT} members, found {len(value)}.")
        for member in value:
            self.form.check(member)

    def members(self, values: Iterable[Value]) -> list[Value]:
        """A set as it is stored: each value once, in order."""
        unique: dict[str | bytes, Value] = {}
        for value in values:
            assert isinstance(value, str | bytes), "sets hold text or ids"
            unique[value] = value
        return [unique[key] for key in sorted(unique, key=_bytes_of)]

    def strictest(self, values: Sequence[Value]) -> Value:
        """The safe one of disputed values given in display order: by ``strict``, else the last."""
        if not self.strict:
            return values[-1]
        late = self.strict in ("most", "latest")
        best = values[0]
        for value in values[1:]:
            order = _compared(self.form.rank(value, late=late), self.form.rank(best, late=late))
            if order == 0 or (order > 0) == late:
                best = value
        return best

    def answer(self, value: Value) -> Json:
        """A stored value for JSON."""
        if not self.many:
            return self.form.answer(value)
        assert isinstance(value, list)
        return [self.form.answer(member) for member in value]

    def show(self, value: Value, name_of: NameOf) -> str:
        """A stored value in the keeper's words."""
        if not self.many:
            return self.form.show(value, name_of)
        assert isinstance(value, list)
        return ", ".join(self.form.show(member, name_of) for member in value)


def _bytes_of(value: str | bytes) -> bytes:
    return value if isinstance(value, bytes) else value.encode("utf-8")


def _compared(one: Rank, other: Rank) -> int:
    """-1, 0 or 1; ranks of one form are of one type."""
    assert type(one) is type(other)
    return (one > other) - (one < other)  # type: ignore[operator]
