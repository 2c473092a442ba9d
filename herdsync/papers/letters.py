"""Letters a font lacks, written in near ones: a word so written is marked, and nothing is left out.

Must not know any font's file.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

from herdsync.safe_text import safe_text

# Stands after every word that holds a near letter or an escape in place of a letter.
NEAR = "*"
SAYS = (
    f"Words with {NEAR} are in near letters, as the font of this print lacks some; the text file that "
    "goes with it has them as they were written."
)
# The letters of western Europe that a font of the first PDF kind has (code page 1252).
WESTERN = frozenset(bytes(one for one in range(0x20, 0x100)).decode("cp1252", "ignore"))

# From memory, after common passport spelling; no single standard is followed.
_CYRILLIC = dict(
    zip(
        "абвгдезийклмнопрстуфхыэ", "abvgdezijklmnoprstufhye", strict=True
    )
) | {"ж": "zh", "ц": "ts", "ч": "ch", "ш": "sh", "щ": "shch", "ъ": "", "ь": "", "ю": "yu",
     "я": "ya", "і": "i", "є": "ye", "ґ": "g", "ђ": "dj", "ј": "j", "љ": "lj", "њ": "nj", "ћ": "c",
     "џ": "dz"}  # fmt: skip
_GREEK = dict(zip("αβγδεζηικλμνξοπρσςτυφω", "avgdeziiklmnxoprsstyfo", strict=True)) | {
    "θ": "th", "χ": "ch", "ψ": "ps",
}  # fmt: skip
_OTHERS = {
    "ł": "l", "đ": "d", "ħ": "h", "ı": "i", "ŋ": "ng", "ŧ": "t", "ə": "e", "ĸ": "k", "‐": "-",
    "‑": "-", "‒": "-", "−": "-", "×": "x", "≤": "<=", "≥": ">=", "′": "'", "″": '"',
}  # fmt: skip
_NEAR = _CYRILLIC | _GREEK | _OTHERS
_WORD = re.compile(r"\S+")


def written(text: str, has: Container[str]) -> str:
    """Safe text in letters the font ``has``; a word that had others is marked."""
    shown = safe_text(text)
    if all(letter in has for letter in shown):
        return shown
    near = _WORD.sub(lambda found: _word(found[0], has), shown)
    # What is left are blanks of other widths.
    return "".join(letter if letter in has else " " for letter in near)


def _word(word: str, has: Container[str]) -> str:
    if all(letter in has for letter in word):
        return word
    return "".join(_letter(letter, has) for letter in word) + NEAR


def _letter(letter: str, has: Container[str]) -> str:
    if letter in has:
        return letter
    lower = letter.lower()
    near = _NEAR.get(lower)
    if near is None:
        apart = unicodedata.normalize("NFKD", letter)
        bare = "".join(one for one in apart if not unicodedata.combining(one))
        near = bare if bare != letter else None
    elif letter != lower:
        near = near.capitalize()
    if near is not None and all(one in has for one in near):
        return near
    code = ord(letter)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
