"""Papers as pages: read back and measured with PDFium, which shares no code with their writer."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
from fontTools.fontBuilder import FontBuilder  # type: ignore[import-untyped]
from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.acts import fonts
from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.papers.as_pdf import Face, Style, pdf_of
from herdsync.papers.letters import SAYS, WESTERN, written
from herdsync.papers.one_page import fitted
from herdsync.papers.paper import Basis, Note, Paper, Section, text_of
from herdsync.safe_text import safe_text
from tests.papers.conftest import AT
from tests.papers.test_printing import fill

# ISO 216: 210 x 297 mm; US Letter: 8.5 x 11 inches; a PDF point is 1/72 inch.
SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
BASIS = Basis("Quillmoor Dairy", "Oda", "house", AT.isoformat(), "entry", ("Heard.",), "farm")


@pytest.fixture(autouse=True)
def no_fonts(monkeypatch: pytest.MonkeyPatch) -> None:
    """No font of the machine the tests run on."""
    monkeypatch.setattr(fonts, "folders", list)


def pages(raw: bytes) -> list[tuple[str, tuple[float, float]]]:
    document = pypdfium2.PdfDocument(raw)
    found = [
        (" ".join(page.get_textpage().get_text_range().split()), page.get_size())
        for page in document
    ]
    document.close()
    return found


def sheet(rows: int = 3, **more: Any) -> Paper:
    table = [[f"2026-01-{1 + row % 28:02d}", f"act {row}"] for row in range(rows)]
    sections = [Section("Acts", [("Name", "Agate"), ("Read by", "")], ("on", "what"), table)]
    told: dict[str, Any] = {"sections": sections} | more
    return Paper("sheet", "Sheet", "Agate", BASIS, **told)


@pytest.mark.parametrize("size", SIZES)
def test_every_page_says_whose_it_is_and_which_of_how_many(size: str) -> None:
    drawn = pdf_of(sheet(rows=150), AT, Style(size))
    found = pages(drawn.content)
    assert len(found) == drawn.pages > 2
    for number, (text, (wide, high)) in enumerate(found, 1):
        assert f"page {number} of {len(found)}" in text
        assert "Sheet: Agate, Quillmoor Dairy" in text
        # The headings of a table that runs on stand on each of its pages.
        assert "on what" in text
        assert (wide, high) == pytest.approx(SIZES[size], abs=0.5)
    told = " ".join(text for text, _ in found)
    assert all(f"act {row} " in f"{told} " for row in range(150))


def test_nothing_is_cut_at_the_edge_of_a_page() -> None:
    """Every letter drawn lies within its page, at least 5 mm from its edges."""
    long = "Sixty-two letters without any blank: " + "x" * 300
    section = Section(
        "Long", [("Label " * 20, long), ("A", long)], ("a", "b"), [[long, long]], [long]
    )
    paper = sheet(sections=[section], marks=[Note(long)], blocks=[Note(long)])
    document = pypdfium2.PdfDocument(pdf_of(paper, AT, Style()).content)
    for page in document:
        wide, high = page.get_size()
        text = page.get_textpage()
        for at in range(text.count_chars()):
            left, bottom, right, top = text.get_charbox(at)
            assert 14 < left <= right < wide - 14
            assert 14 < bottom <= top < high - 14
    document.close()


def test_a_paper_not_fit_says_so_on_every_page() -> None:
    found = pages(pdf_of(sheet(rows=120, blocks=[Note("A hold")]), AT, Style()).content)
    assert len(found) > 1
    assert all("NOT TO BE HANDED OVER" in text for text, _ in found)


def test_a_row_too_high_for_a_page_runs_on_and_nothing_of_it_is_lost() -> None:
    words = [f"word{at}" for at in range(1_500)]
    wide = tuple("abcdefgh")
    for columns in (wide, ("a", "b")):
        row = [" ".join(words), *("x" for _ in columns[1:])]
        paper = sheet(
            sections=[Section("Long", columns=columns, table=[["1"] * len(columns), row])]
        )
        found = pages(pdf_of(paper, AT, Style()).content)
        told = " ".join(text for text, _ in found).split()
        assert [word for word in told if word.startswith("word")] == words
        assert len(found) > 1
        # What fits one page is not parted.
        assert "word0 word1" in found[0][0] or "word0 word1" in found[1][0]


def test_near_letters_are_marked_and_said(farm: Farm, tmp_path: Path) -> None:
    farm.record("animal", {"name": "Łucja Дымка 日 Ørsted", "sex": "doe", "born": "2024-01-01"})
    (line,) = farm.papers("history", ["Łucja Дымка 日 Ørsted"], out=tmp_path)
    assert line.says == SAYS
    (text, _), *_ = pages(Path(line.files[1]).read_bytes())
    assert "Lucja* Dymka* \\u65e5* Ørsted" in text
    assert SAYS[:40] in text
    assert "Łucja Дымка 日 Ørsted" in Path(line.files[0]).read_text("utf-8")


def font_with(letters: str, file: Path) -> Face:
    """A TrueType font made here, with squares for glyphs."""
    names = [".notdef", *(f"u{ord(one):x}" for one in letters)]
    pen = TTGlyphPen(None)
    for at, point in enumerate(((0, 0), (0, 500), (500, 500), (500, 0))):
        pen.lineTo(point) if at else pen.moveTo(point)
    pen.closePath()
    glyph = pen.glyph()
    font = FontBuilder(1000, isTTF=True)
    font.setupGlyphOrder(names)
    font.setupCharacterMap({ord(one): f"u{ord(one):x}" for one in letters})
    font.setupGlyf(dict.fromkeys(names, glyph))
    font.setupHorizontalMetrics(dict.fromkeys(names, (600, 0)))
    font.setupHorizontalHeader(ascent=800, descent=-200)
    font.setupNameTable({"familyName": "Square", "styleName": "Regular"})
    font.setupOS2()
    font.setupPost()
    font.save(file)
    return Face(str(file))


ASCII = "".join(chr(code) for code in range(0x20, 0x7F))


def test_a_font_found_here_is_taken_where_western_letters_do_not_do(tmp_path: Path) -> None:
    few = font_with("日", tmp_path / "few.ttf")
    near = font_with(ASCII + "Ł…", tmp_path / "near.ttf")
    best = font_with(ASCII + "Ł日…", tmp_path / "best.ttf")
    (tmp_path / "broken.ttf").write_bytes(b"no font")
    found = (Face(str(tmp_path / "broken.ttf")), few, near, best)
    drawn = pdf_of(sheet(blocks=[Note("Łucja 日")]), AT, Style(found=found))
    assert drawn.says == ""
    assert "Łucja 日" in pages(drawn.content)[0][0]
    assert b"Square" not in pdf_of(sheet(), AT, Style(found=found)).content


def test_the_font_the_keeper_names_is_taken_and_its_gaps_are_said(tmp_path: Path) -> None:
    own = font_with(ASCII + "Ł", tmp_path / "own.ttf")
    drawn = pdf_of(sheet(blocks=[Note("Łucja 日")]), AT, Style(named=own))
    assert drawn.says == SAYS
    assert "Łucja \\u65e5*" in pages(drawn.content)[0][0]
    with pytest.raises(Refused, match="could not be used"):
        pdf_of(sheet(), AT, Style(named=Face(str(tmp_path / "none.ttf"))))


def test_fonts_are_found_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "deep").mkdir()
    for name in ("NotoSans-Regular.ttf", "deep/DejaVuSans.ttf", "deep/DejaVuSans-Bold.ttf"):
        (tmp_path / name).touch()
    monkeypatch.setattr(fonts, "folders", lambda: [tmp_path / "none", tmp_path])
    deep = tmp_path / "deep"
    assert fonts.faces() == [
        Face(str(deep / "DejaVuSans.ttf"), str(deep / "DejaVuSans-Bold.ttf")),
        Face(str(tmp_path / "NotoSans-Regular.ttf")),
    ]


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_no_letter_is_lost_in_silence(text: str) -> None:
    """What is shown holds only letters the font has, and a word that was changed is marked."""
    shown = written(text, WESTERN)
    assert set(shown) <= WESTERN
    if shown.split() != safe_text(text).split():
        assert "*" in shown


HOSTILE = st.text(alphabet=st.characters(max_codepoint=0x1F9FF), max_size=300) | st.sampled_from(
    [
        "W" * 400,
        "日" * 300,
        "a\n" * 200,
        "\U0001f410" * 200,
        "{nb} page 1 of {nb}",
        "**bold** __u__",
    ]
)


@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(
    texts=st.lists(HOSTILE, min_size=5, max_size=5), rows=st.integers(0, 300),
    notes=st.integers(0, 40), heard=st.integers(0, 30), size=st.sampled_from(sorted(SIZES)),
)  # fmt: skip
def test_one_page_stays_one_page_whatever_is_on_it(
    texts: list[str], rows: int, notes: int, heard: int, size: str
) -> None:
    about, value, cell, note, laptop = texts
    sections = [
        Section("Animal", [(f"Label {at}", value) for at in range(10)]),
        Section("History", (), ("on", "what", ""), [["2026-01-01", cell, cell]] * rows,
                [value], beyond=7),
    ]  # fmt: skip
    basis = Basis(about, about, laptop, AT.isoformat(), "entry", [laptop] * heard, "farm")
    marks = [Note(note, ("r" * 26,) * 40)] * notes
    paper = Paper("p", "History", about, basis, sections, marks, marks, ("Signed.",), one_page=True)
    drawn = pdf_of(paper, AT, Style(size))
    assert (drawn.pages, len(pages(drawn.content))) == (1, 1)
    kept = fitted(paper, lambda one: text_of(one).count("\n") <= 60)
    assert text_of(kept).count("\n") <= 60
    # What was left out is counted.
    told = re.findall(r"and (\d+) more, older", text_of(kept))
    assert len(kept.sections[1].table) + int(told[0]) == rows + 7


def test_the_history_of_a_real_farm_names_what_it_leaves_out(farm: Farm, tmp_path: Path) -> None:
    fill(farm)
    for day in range(1, 61):
        on = f"2026-{3 + day // 30:02d}-{1 + day % 30:02d}"
        farm.record("note", {"about": "Agate", "on": on, "text": f"{day} " + "long words " * 40})
        farm.record("temperature", {"animal": "Agate", "on": on, "temperature_c": "39.2"})
    for size in ("a4", "letter"):
        (line,) = farm.papers("history", ["Agate"], out=tmp_path / size, page=size)
        assert len(pages(Path(line.files[1]).read_bytes())) == 1
        assert re.search(r"and \d+ more, older", line.text)
        assert line.text.count("\n") <= 60
    with pytest.raises(Refused, match="No page"):
        farm.papers("history", ["Agate"], out=tmp_path / "x", page="A5")
