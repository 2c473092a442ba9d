"""No letter that acts on a terminal, or hides in it, gets through the gate.

Classes of code points: the Unicode Standard's general categories and Default_Ignorable_Code_Point;
C0, C1 and DEL: ISO/IEC 6429.
"""

from __future__ import annotations

import sys
import unicodedata

import pytest

from herdsync.safe_text import clipped, padded, safe_lines, safe_text, width

HARMFUL = [
    *range(0x20),
    *range(0x7F, 0xA0),
    *(0x00AD, 0x061C, 0x200B, 0x200C, 0x200D, 0x200E, 0x200F, 0xFEFF),
    *range(0x2028, 0x202F),
    *range(0x2060, 0x206A),
    *(0x034F, 0x3164, 0xFE0F, 0xE0001, 0xE0041, 0xD800, 0xE000, 0x0378),
]


@pytest.mark.parametrize("code", HARMFUL, ids=lambda code: f"U+{code:04X}")
def test_harmful_letters_are_written_out(code: int) -> None:
    shown = safe_text(f"a{chr(code)}b")
    assert chr(code) not in shown
    assert shown.isascii()
    assert shown.startswith("a\\")
    assert shown.endswith("b")


def test_no_code_point_at_all_gives_a_control_or_a_new_line() -> None:
    for code in range(sys.maxunicode + 1):
        shown = safe_text(chr(code))
        assert all(unicodedata.category(one)[0] != "C" for one in shown), hex(code)
        assert len(shown.splitlines()) == 1, hex(code)


def test_ordinary_names_stay_as_written() -> None:
    for name in ("Agate", "Mädchen", "Żubrówka", "石", "Ñandú [b]x[/b]", "e\u0301clair"):
        assert safe_text(name) == name


def test_a_tower_of_marks_is_cut_down() -> None:
    shown = safe_text("o" + "\u0301" * 40)
    assert shown.count("\u0301") == 4
    assert shown.count("\\u0301") == 36


def test_a_note_keeps_its_lines() -> None:
    assert safe_lines("one\ntwo\x1b[2J") == ["one", "two\\x1b[2J"]


def test_width_counts_columns() -> None:
    assert width("Agate") == 5
    assert width("石頭") == 4
    assert width("e\u0301") == 1
    assert padded("石", 4) == "石  "


@pytest.mark.parametrize(("columns", "cut"), [(10, "Agate"), (5, "Agate"), (4, "Aga…"), (1, "…")])
def test_clipped_to_columns(columns: int, cut: str) -> None:
    assert clipped("Agate", columns) == cut


def test_a_wide_letter_is_not_cut_in_half() -> None:
    assert clipped("石頭石", 4) == "石…"
