"""Text from keepers and from elsewhere: what may be stored, and how what was typed is tidied.

Must not know any form, field or kind. Markup and bidirectional characters stay as written: making
them harmless belongs to whoever shows them.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Mapping, Sequence

from herdsync.faults import BadBytes, Refused

NAME_LIMIT = 100
NOTE_LIMIT = 4000
KEY_LIMIT = 100

_LINE_ENDS = frozenset("\u2028\u2029")


def foreign(value: object, wanted: str) -> BadBytes:
    """The fault of a value of the wrong shape; says its sort, never its content."""
    return BadBytes(f"Expected {wanted}, found {_SORTS.get(type(value), 'something else')}.")


_SORTS: Mapping[type, str] = {
    str: "text",
    int: "a number",
    float: "a fraction",
    bool: "yes or no",
    bytes: "bytes",
    list: "a list",
    dict: "a table",
    type(None): "nothing",
}


def stored_text(value: object, limit: int, wanted: str) -> str:
    """``value`` where it is text that may be stored. Raises BadBytes.

    Composition (NFC) is not checked here: its tables grow with the language version, and a verdict
    on stored bytes must not.
    """
    if type(value) is not str:
        raise foreign(value, wanted)
    if not value or len(value) > limit:
        raise BadBytes(f"Expected {wanted} of 1 to {limit} characters, found {len(value)}.")
    lone = not value.isascii() and any("\ud800" <= letter <= "\udfff" for letter in value)
    if lone or "\0" in value:
        raise BadBytes(f"Expected {wanted}, found characters no text may hold.")
    return value


def typed_text(text: str, limit: int, *, lines: bool) -> str:
    """What the keeper typed, composed and without blanks around it. Raises Refused."""
    typed = unicodedata.normalize("NFC", text.strip())
    if not typed:
        raise Refused("Nothing was written.", "Write something, or leave the field out.")
    if len(typed) > limit:
        raise Refused(f"That is {len(typed)} characters; at most {limit} fit.", "Shorten it.")
    allowed = "\n\t" if lines else ""
    for letter in typed:
        sort = unicodedata.category(letter)
        if sort == "Cs" or (sort == "Cc" and letter not in allowed):
            raise Refused(f"It holds the control character {ord(letter):#06x}.", "Take it out.")
        if letter in _LINE_ENDS and not lines:
            raise Refused("It holds a line end.", "Write it on one line.")
    return typed


def nearest(word: str, words: Sequence[str]) -> str:
    """The one of ``words`` most like ``word``, or the empty text."""
    found = difflib.get_close_matches(word[:NAME_LIMIT], words, n=1, cutoff=0.6)
    return found[0] if found else ""
