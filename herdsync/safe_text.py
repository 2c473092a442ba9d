"""The one gate between text from people and a terminal, file name or export.

Names and notes may hold anything a partner's bundle can carry: escape sequences that drive the
terminal, marks that turn the direction of a line, letters of no width that make two names look
alike. What is stored stays as written; what is shown passes through here.
Must not know who shows it.
"""

from __future__ import annotations

import unicodedata

# Cc controls, Cf formats (direction, joiners, no width), Cs halves of pairs, Co private, Cn not
# assigned, Zl and Zp line and paragraph ends (Unicode Standard, general categories).
_UNSAFE_SORTS = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
# Letters and marks that show nothing (Unicode Standard, Default_Ignorable_Code_Point) though their
# category is harmless: the joiner of graphemes, fillers of Hangul and Khmer, variation selectors.
_UNSEEN = frozenset(
    [
        *(0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x3164, 0xFFA0),
        *range(0x180B, 0x1810),
        *range(0xFE00, 0xFE10),
        *range(0xE0100, 0xE01F0),
    ]
)
# Written languages stack a few marks on a letter; more is a way to draw over the lines above.
MARKS_MOST = 4
ELLIPSIS = "…"


def safe_text(text: str) -> str:
    """``text`` on one line with everything unseen or active written out as an escape."""
    if text.isascii() and text.isprintable():
        return text
    shown = []
    marks = 0
    for letter in text:
        sort = unicodedata.category(letter)
        marks = marks + 1 if sort in ("Mn", "Me") else 0
        unsafe = sort in _UNSAFE_SORTS or ord(letter) in _UNSEEN or marks > MARKS_MOST
        shown.append(_escape(letter) if unsafe else letter)
    return "".join(shown)


def safe_lines(text: str) -> list[str]:
    """The lines of a note, each of them safe."""
    return [safe_text(line) for line in text.split("\n")]


def width(text: str) -> int:
    """How many columns of a terminal safe text takes (Unicode Standard Annex 11: wide letters, 2)."""
    if text.isascii():
        return len(text)
    return sum(_width(letter) for letter in text)


def clipped(text: str, columns: int) -> str:
    """Safe text cut to at most ``columns`` columns; a cut shows as an ellipsis."""
    if width(text) <= columns:
        return text
    kept: list[str] = []
    left = columns - 1
    for letter in text:
        left -= _width(letter)
        if left < 0:
            break
        kept.append(letter)
    return "".join(kept).rstrip() + ELLIPSIS


def padded(text: str, columns: int) -> str:
    """Safe text filled up with blanks to ``columns`` columns."""
    return text + " " * (columns - width(text))


def _width(letter: str) -> int:
    if unicodedata.category(letter) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in ("W", "F") else 1


def _escape(letter: str) -> str:
    code = ord(letter)
    if code <= 0xFF:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
