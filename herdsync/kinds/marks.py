"""Marks read off an animal: tattoos, tags, herd-book numbers and electronic codes.

Must not know whose mark it is, nor the rules of any registry.
"""

from __future__ import annotations

from typing import ClassVar

from herdsync.faults import BadBytes, Refused
from herdsync.kinds.forms import Form, Reading, Value
from herdsync.kinds.texts import stored_text, typed_text

MARK_LIMIT = 40
CHIP_DIGITS = 15


class Mark(Form, frozen=True):
    """A mark as it reads on the animal, in capitals, so that two readings compare."""

    word: ClassVar[str] = "mark"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return f"a mark of up to {MARK_LIMIT} characters; letters become capitals"

    def parse(self, text: str, reading: Reading) -> Value:
        """The mark in capitals, single blanks inside. Raises Refused."""
        del reading
        return " ".join(typed_text(text.upper(), MARK_LIMIT, lines=False).split())

    def check(self, value: object) -> None:
        """Raise BadBytes unless a short text."""
        stored_text(value, MARK_LIMIT, "a mark")


class Chip(Form, frozen=True):
    """An electronic code of 15 digits (ISO 11784), kept as text: noughts in front count."""

    word: ClassVar[str] = "chip"

    @property
    def takes(self) -> str:
        """What the keeper may type."""
        return f"{CHIP_DIGITS} digits; blanks and hyphens between them are left out"

    def parse(self, text: str, reading: Reading) -> Value:
        """The 15 digits. Raises Refused."""
        del reading
        code = "".join(text.replace("-", " ").split())
        if not _is_chip(code):
            found = f"{len(code)} characters" if len(code) != CHIP_DIGITS else "other characters"
            raise Refused(
                f"An electronic code has {CHIP_DIGITS} digits, this has {found}.",
                "Read it off again.",
            )
        return code

    def check(self, value: object) -> None:
        """Raise BadBytes unless 15 digits."""
        if not _is_chip(stored_text(value, CHIP_DIGITS, "an electronic code")):
            raise BadBytes(f"Expected an electronic code of {CHIP_DIGITS} digits.")


def _is_chip(code: str) -> bool:
    return len(code) == CHIP_DIGITS and code.isascii() and code.isdigit()


MARK = Mark()
CHIP = Chip()
