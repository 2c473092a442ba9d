"""Marks: year letters, prefixes, left-ear numbers and electronic codes against printed rules."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.identity import (
    DAIRY,
    MEAT,
    NATIONAL_MOST,
    SERIES,
    LetterSeries,
    Share,
    check_letter,
    electronic_code,
    herd_prefix,
    left_ear,
    mark_free_again,
    next_number,
    read_left_ear,
    tattoo_sites,
    us_official_id,
    year_letter,
)

# American Dairy Goat Association and Miniature Dairy Goat Association, tattoo pages; 2031 and
# 2032 extrapolated.
DAIRY_LETTERS = dict(zip(range(2015, 2033), "FHJKLMNPRSTVWXYZAB", strict=True))
# US Goat Working Group, registry identification list (1993 to 2014); later years extrapolated.
MEAT_LETTERS = {2010: "Z", **dict(zip(range(2015, 2033), "EFGHJKLMNPRSTVWXYZ", strict=True))}


@pytest.mark.parametrize(("year", "letter"), DAIRY_LETTERS.items())
def test_c113_to_c118_dairy_year_letters(year: int, letter: str) -> None:
    answer = year_letter(year, DAIRY)
    assert answer.letter == letter
    assert answer.printed is (year <= 2030)
    assert ("as printed" if answer.printed else "extrapolated") in answer.reason


@pytest.mark.parametrize(("series", "first"), [(DAIRY, 2009), (MEAT, 1993)])
def test_the_first_printed_year(series: LetterSeries, first: int) -> None:
    # The same pages: 2009 to 2030, and 1993 to 2014.
    assert year_letter(first, series).printed
    assert not year_letter(first - 1, series).printed


@pytest.mark.parametrize(("year", "letter"), MEAT_LETTERS.items())
def test_c119_to_c124_meat_year_letters(year: int, letter: str) -> None:
    answer = year_letter(year, MEAT)
    assert answer.letter == letter
    assert answer.printed is (year <= 2014)


@given(st.sampled_from(sorted(SERIES)), st.integers(1950, 2100))
def test_a_series_repeats_after_its_length_and_skips_its_letters(name: str, year: int) -> None:
    series = SERIES[name]
    assert (
        year_letter(year, series).letter == year_letter(year + len(series.letters), series).letter
    )
    assert year_letter(year, series).letter not in "IOQU"


def test_a_letter_announced_by_the_society_overrides_the_series() -> None:
    told = year_letter(2026, DAIRY, {2026: "q"})
    assert (told.letter, told.printed) == ("Q", True)
    assert year_letter(2026, None, {2026: "C"}).letter == "C"
    with pytest.raises(ValueError, match="no letter is announced for 2027"):
        year_letter(2027, None, {2026: "C"})
    with pytest.raises(ValueError, match="is not one letter A to Z"):
        year_letter(2026, None, {2026: "CC"})
    with pytest.raises(ValueError, match="the year must be 1950 to 2150"):
        year_letter(1900, DAIRY)


def test_a_typed_letter_is_warned_of_and_not_rewritten() -> None:
    expected = year_letter(2026, DAIRY)
    assert check_letter("v", expected).advice == "ok"
    warned = check_letter("W", expected)
    assert warned.advice == "look"
    assert warned.reason.startswith("W was typed")


def test_left_ear_of_the_third_kid_of_2024() -> None:
    # American Dairy Goat Association, tattoo policy page: letter, then number of the kid.
    assert left_ear(year_letter(2024, DAIRY).letter, 3) == "S3"


@pytest.mark.parametrize("text", ["S3", "S03", "s3", " s 3 "])
def test_one_and_two_digits_are_the_same_mark(text: str) -> None:
    # One registry accepts 1 and 01 alike.
    assert read_left_ear(text) == ("S", 3)


@pytest.mark.parametrize("text", ["", "3S", "S0", "SS3", "S3\u202e", "S٣", "S99999"])
def test_what_is_no_left_ear_mark_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a year letter and a number"):
        read_left_ear(text)


@given(st.sampled_from("ABCXYZ"), st.integers(1, 9999))
def test_a_written_mark_reads_back(letter: str, number: int) -> None:
    assert read_left_ear(left_ear(letter, number)) == (letter, number)


def test_a_mark_that_would_not_read_back_is_not_written() -> None:
    with pytest.raises(ValueError, match="left ear"):
        left_ear("S", 10000)
    with pytest.raises(ValueError, match="used up"):
        next_number((9999,))


@pytest.mark.parametrize(("text", "prefix"), [("ABCD", "ABCD"), ("AB12", "AB12"), (" qmr ", "QMR")])
def test_herd_prefixes_a_registry_takes(text: str, prefix: str) -> None:
    # American Dairy Goat Association, tattoo policy page.
    assert herd_prefix(text) == prefix


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("ABCDE", "longer than 4"),
        ("K2", "reads as year letter and number"),
        ("D347", "reads as year letter and number"),
        ("", "plain letters"),
        ("A-B", "plain letters"),
        ("ÄB", "plain letters"),
    ],
)
def test_herd_prefixes_a_registry_refuses(text: str, sentence: str) -> None:
    # Same page: at most 4, not one letter and digits.
    with pytest.raises(ValueError, match=sentence):
        herd_prefix(text)


@pytest.mark.parametrize(
    ("taken", "share", "block", "number"),
    [
        ((), "every", None, 1),
        ((1, 2, 5), "every", None, 6),
        ((), "even", None, 2),
        ((1, 2, 3), "odd", None, 5),
        ((1, 4), "odd", None, 3),
        ((1, 2, 3), "even", None, 4),
        ((1, 2, 55), "every", (51, 99), 56),
        ((1, 2), "every", (51, 99), 51),
        ((51,), "even", (51, 99), 52),
        ((98,), "every", (51, 99), 99),
    ],
)
def test_next_left_ear_number(
    taken: tuple[int, ...], share: Share, block: tuple[int, int] | None, number: int
) -> None:
    assert next_number(taken, share, block) == number


def test_a_used_up_block_is_refused() -> None:
    with pytest.raises(ValueError, match="the numbers 1 to 9 are used up; set a new block"):
        next_number((9,), "odd", (1, 9))
    with pytest.raises(ValueError, match="the last number of the block"):
        next_number((), "every", (9, 1))


@given(st.sets(st.integers(1, 500)), st.sets(st.integers(1, 500)))
def test_two_laptops_on_odd_and_even_never_suggest_one_number(one: set[int], two: set[int]) -> None:
    odd, even = next_number(one, "odd"), next_number(two, "even")
    assert odd != even
    assert odd not in one
    assert even not in two


def test_a_mark_is_free_again_after_22_years() -> None:
    # American Dairy Goat Association, tattoo page (22 years; an older text 20).
    assert mark_free_again(2004, 2025).advice == "stop"
    assert mark_free_again(2004, 2026).advice == "ok"


def test_short_ears_take_their_marks_in_the_tail_web() -> None:
    assert tattoo_sites(short_ears=False).herd_mark == "right ear"
    assert tattoo_sites(short_ears=True).herd_mark == "right tail web"


def test_c127_a_15_digit_code_splits() -> None:
    # ICAR-ADE animal identifier types, after ISO 11784.
    code = electronic_code("276000312312345")
    assert (code.prefix, code.national, code.kind) == ("276", "000312312345", "country")
    assert electronic_code("840 003 123456789").code == "840003123456789"


def test_c128_the_national_part_has_38_bits() -> None:
    # From memory.
    assert NATIONAL_MOST == 274877906943
    assert electronic_code("276274877906943").national == "274877906943"
    with pytest.raises(ValueError, match="over 274877906943"):
        electronic_code("276274877906944")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("900000000000001", "manufacturer"),
        ("998000000000001", "manufacturer"),
        ("999000000000001", "test"),
    ],
)
def test_manufacturer_and_test_codes_name_no_country(text: str, kind: str) -> None:
    # From memory.
    assert electronic_code(text).kind == kind


@pytest.mark.parametrize(
    "text", ["", "27600031231234", "2760003123123456", "27600031231234A", "٢" * 15]
)
def test_what_is_no_15_digit_code_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a code of 15 digits"):
        electronic_code(text)
    with pytest.raises(ValueError, match="cannot begin with 000"):
        electronic_code("000000000000001")


@pytest.mark.parametrize(
    ("on", "wether", "slaughter", "advice"),
    [
        ("2024-03-30", False, True, "look"),
        ("2025-08-28", True, False, "ok"),
        ("2025-08-29", True, False, "look"),
        ("2025-08-29", True, True, "ok"),
    ],
)
def test_us_scrapie_identification(on: str, wether: bool, slaughter: bool, advice: str) -> None:
    # Ohio State Extension 2019 scrapie summary; Florida Administrative Code 5C-29.002; 9 CFR 79:
    # intact goats of any age, wethers from 18 months unless they go to slaughter.
    day, born = date.fromisoformat(on), date(2024, 2, 29)
    assert us_official_id(day, born, wether=wether, to_slaughter=slaughter).advice == advice
    assert us_official_id(day, None, wether=True).advice == "look"
