"""The forms a field's value can take: how a keeper types it, how it is stored, answered and shown.

Stored values are text, whole numbers, flags, 16-byte ids and lists of these; never a float.
Each form checks stored values by their exact Python type: a converter that takes 5.0 for 5 or
text for bytes would let two programs disagree about one entry. Must not know any kind or the farm;
what it needs of the farm it asks a ``Reading``.
"""

from __future__ import annotations

from abc import ABCMeta, abstractmethod
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from fractions import Fraction
from typing import ClassVar, Protocol, TypeAlias
from zoneinfo import ZoneInfo

from msgspec import Struct, StructMeta, field

from herdsync.faults import BadBytes, Refused
from herdsync.kinds import on as moments
from herdsync.kinds.ids import RECORD_ID_BYTES, text_id
from herdsync.kinds.texts import KEY_LIMIT, NAME_LIMIT, foreign, nearest, stored_text, typed_text

Value: TypeAlias = "str | int | bytes | list[Value]"
Json: TypeAlias = "str | int | float | bool | list[Json] | dict[str, Json] | None"
Rank: TypeAlias = "Fraction | datetime | str | int"
NameOf: TypeAlias = Callable[[bytes], str]

COUNT_LIMIT = 1_000_000_000

_KEY_CHARACTERS = frozenset("abcdefghijklmnopqrstuvwxyz0123456789-._/")


class Reading(Protocol):
    """What reading a keeper's text may ask of the farm."""

    def now(self) -> datetime:
        """This run's moment, aware."""

    def zone(self) -> ZoneInfo:
        """The farm's zone."""

    def find(self, kind: str, text: str) -> bytes:
        """The record of ``kind`` ("" for any) the text names. Raises Refused."""


class _FormMeta(StructMeta, ABCMeta):
    """Structs with abstract methods."""


class Form(Struct, frozen=True, metaclass=_FormMeta):
    """One form of value. ``word`` names it, ``takes`` says in a sentence what may be typed.

    ``stored`` is the Python type of its stored values.
    """

    word: ClassVar[str]
    stored: ClassVar[type] = str

    @property
    @abstractmethod
    def takes(self) -> str:
        """What the keeper may type, for the explanation of a field."""

    @abstractmethod
    def parse(self, text: str, reading: Reading) -> Value:
        """The stored value of what the keeper typed. Raises Refused."""

    @abstractmethod
    def check(self, value: object) -> None:
        """Raise BadBytes unless ``value`` is a stored value of this form."""

    def answer(self, value: Value) -> Json:
        """A stored value for JSON."""
        assert isinstance(value, str | int)
        return value

    def show(self, value: Value, name_of: NameOf) -> str:
        """A stored value in the keeper's words; ``name_of`` names a record."""
        del name_of
        return str(value)

    def rank(self, value: Value, *, late: bool) -> Rank:
        """Where a stored value stands among others of its form, for a strict order.

        ``late`` asks for the later end where a value spans time.
        """
        del late
        assert isinstance(value, str | int)
        return value


class Text(Form, frozen=True):
    """Words as the keeper wrote them; ``lines`` lets them run over several lines."""

    word: ClassVar[str] = "text"
    limit: int = NAME_LIMIT
    lines: bool = False

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return f"text of up to {self.limit} characters"

    def parse(self, text: str, reading: Reading) -> Value:
        """The text, composed (NFC), blanks around it taken off. Raises Refused."""
        del reading
        return typed_text(text, self.limit, lines=self.lines)

    def check(self, value: object) -> None:
        """Raise BadBytes unless text of fitting length."""
        stored_text(value, self.limit, "text")


class Key(Form, frozen=True):
    """The key of a keyed record: lower-case letters, digits and ``- . _ /``."""

    word: ClassVar[str] = "key"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return "a key of lower-case letters, digits, hyphens and dots"

    def parse(self, text: str, reading: Reading) -> Value:
        """The key in lower case. Raises Refused."""
        del reading
        key = typed_text(text, KEY_LIMIT, lines=False).lower()
        if not _KEY_CHARACTERS.issuperset(key):
            raise Refused("A key holds only letters a-z, digits and - . _ /.", "Write it so.")
        return key

    def check(self, value: object) -> None:
        """Raise BadBytes unless a key."""
        if not _KEY_CHARACTERS.issuperset(stored_text(value, KEY_LIMIT, "a key")):
            raise BadBytes("Expected a key of a-z, 0-9 and - . _ /, found other characters.")


class Choice(Form, frozen=True):
    """One of a list of words, given from least to most strict where the field has a strict order.

    ``open``: the keeper's own word is taken too. ``also``: other spellings. ``not_here``: words
    refused with the reason, because something else says them. A stored word this program does not
    know (a newer one wrote it) is carried and shown, and ranks as the strictest.
    """

    word: ClassVar[str] = "choice"
    words: tuple[str, ...]
    open: bool = False
    also: Mapping[str, str] = field(default_factory=dict)
    not_here: Mapping[str, str] = field(default_factory=dict)

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        own = ", or your own words" if self.open else ""
        return f"one of: {', '.join(self.words)}{own}"

    def parse(self, text: str, reading: Reading) -> Value:
        """The word chosen. Raises Refused naming the nearest word."""
        del reading
        typed = typed_text(text, NAME_LIMIT, lines=False)
        word = "-".join(typed.lower().replace("_", " ").split())
        word = self.also.get(word, word)
        if word in self.words:
            return word
        if word in self.not_here:
            raise Refused(f"{typed!r} is not written here.", self.not_here[word])
        if self.open:
            return typed
        like = nearest(word, self.words)
        hint = f"Did you mean {like}? " if like else ""
        raise Refused(f"{typed!r} is none of the words here.", f"{hint}Write {self.takes}.")

    def check(self, value: object) -> None:
        """Raise BadBytes unless a short text."""
        stored_text(value, NAME_LIMIT, "a word")

    def rank(self, value: Value, *, late: bool) -> Rank:
        """The place of the word in the list."""
        del late
        return self.words.index(value) if value in self.words else len(self.words)


class On(Form, frozen=True):
    """The time of something: a month, a date or a moment with an offset."""

    word: ClassVar[str] = "moment"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return (
            "a month 2026-02, a date 2026-02-22, a moment 2026-02-22T06:30:00+01:00, "
            "a time 06:30 (today), 2026-02-22 06:30, today, yesterday or now"
        )

    def parse(self, text: str, reading: Reading) -> Value:
        """The time as it is written down. Raises Refused."""
        return moments.parse_on(text, reading.now(), reading.zone())

    def check(self, value: object) -> None:
        """Raise BadBytes unless a month, date or moment from 1970 to 2200."""
        try:
            moments.check_on(stored_text(value, NAME_LIMIT, "a month, date or moment"))
        except ValueError as fault:
            raise BadBytes(str(fault)) from fault

    def rank(self, value: Value, *, late: bool) -> Rank:
        """The earliest or latest instant allowed, dates taken in UTC."""
        assert isinstance(value, str)
        return moments.span(value, ZoneInfo("UTC"))[1 if late else 0].astimezone(UTC)


class Date(Form, frozen=True):
    """A calendar date."""

    word: ClassVar[str] = "date"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return "a date 2026-02-22, today or tomorrow"

    def parse(self, text: str, reading: Reading) -> Value:
        """The date as ``YYYY-MM-DD``. Raises Refused."""
        return moments.parse_date(text, reading.now(), reading.zone())

    def check(self, value: object) -> None:
        """Raise BadBytes unless a date from 1970 to 2200."""
        try:
            moments.check_date(stored_text(value, NAME_LIMIT, "a date"))
        except ValueError as fault:
            raise BadBytes(str(fault)) from fault


class Count(Form, frozen=True):
    """A whole number from ``least`` to ``most``."""

    word: ClassVar[str] = "count"
    stored: ClassVar[type] = int
    least: int = 0
    most: int = COUNT_LIMIT

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return f"a whole number from {self.least} to {self.most}"

    def parse(self, text: str, reading: Reading) -> Value:
        """The number. Raises Refused."""
        del reading
        typed = text.strip()
        digits = typed.removeprefix("-")
        if not (digits.isascii() and digits.isdigit() and len(digits) <= 15):
            raise Refused(f"{typed[:60]!r} is no whole number.", f"Write {self.takes}.")
        if not self.least <= int(typed) <= self.most:
            raise Refused(f"{typed} cannot be right.", f"Write {self.takes}.")
        return int(typed)

    def check(self, value: object) -> None:
        """Raise BadBytes unless a whole number in range."""
        if type(value) is not int:
            raise foreign(value, "a whole number")
        if not self.least <= value <= self.most:
            raise BadBytes(f"Expected {self.takes}, found one outside.")


class Flag(Form, frozen=True):
    """Yes or no."""

    word: ClassVar[str] = "yes or no"
    stored: ClassVar[type] = bool
    _YES: ClassVar[frozenset[str]] = frozenset({"yes", "y", "true", "1"})
    _NO: ClassVar[frozenset[str]] = frozenset({"no", "n", "false", "0"})

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return "yes or no"

    def parse(self, text: str, reading: Reading) -> Value:
        """True or False. Raises Refused."""
        del reading
        word = text.strip().lower()
        if word not in self._YES | self._NO:
            raise Refused(f"{text.strip()[:60]!r} is neither yes nor no.", "Write yes or no.")
        return word in self._YES

    def check(self, value: object) -> None:
        """Raise BadBytes unless a flag."""
        if type(value) is not bool:
            raise foreign(value, "yes or no")

    def show(self, value: Value, name_of: NameOf) -> str:
        """``yes`` or ``no``."""
        del name_of
        return "yes" if value else "no"


class Ref(Form, frozen=True):
    """Another record, of ``kind`` ("" for any): an animal, a pen, a product, an act."""

    word: ClassVar[str] = "record"
    stored: ClassVar[type] = bytes
    kind: str = ""

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        what = f"the {self.kind}" if self.kind else "a record"
        marks = ", an ear tattoo, tag or chip" if self.kind == "animal" else ""
        return f"{what} by name, id or the start of its id{marks}"

    def parse(self, text: str, reading: Reading) -> Value:
        """The id of the record named. Raises Refused."""
        return reading.find(self.kind, typed_text(text, NAME_LIMIT, lines=False))

    def check(self, value: object) -> None:
        """Raise BadBytes unless a record id."""
        if type(value) is not bytes or len(value) != RECORD_ID_BYTES:
            raise foreign(value, "the id of a record (16 bytes)")

    def answer(self, value: Value) -> Json:
        """The id as text."""
        assert isinstance(value, bytes)
        return text_id(value)

    def show(self, value: Value, name_of: NameOf) -> str:
        """The record's name."""
        assert isinstance(value, bytes)
        return name_of(value)

    def rank(self, value: Value, *, late: bool) -> Rank:
        """The id as text: an order without meaning, the same everywhere."""
        del late
        assert isinstance(value, bytes)
        return text_id(value)
