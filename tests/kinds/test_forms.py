"""Text, choices, marks and the rest: what is taken, and what is refused with a sentence."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.faults import BadBytes, Refused
from herdsync.kinds.castration import METHOD
from herdsync.kinds.forms import Choice, Count, Date, Flag, Form, Key, Ref, Text, Value
from herdsync.kinds.hooves import FOOT
from herdsync.kinds.identity import SEX, STANDING
from herdsync.kinds.ids import text_id
from herdsync.kinds.lines import LONG_TEXT, NAME
from herdsync.kinds.marks import CHIP, MARK
from herdsync.kinds.medicine import COUNTED_FROM
from herdsync.kinds.procedures import PROCEDURE
from herdsync.kinds.seasons import SEASON_DAY
from herdsync.kinds.texts import NAME_LIMIT, NOTE_LIMIT
from tests.kinds.reading import Barn, id_of

BARN = Barn()


@pytest.mark.parametrize(
    ("form", "typed", "stored"),
    [
        (NAME, "  Agate ", "Agate"),
        (NAME, "[bold]Agate[/]", "[bold]Agate[/]"),
        (NAME, "\u202eetagA", "\u202eetagA"),
        (NAME, "A\u0308gate", "\u00c4gate"),
        (NAME, "=1+1", "=1+1"),
        (LONG_TEXT, "one\ntwo\tthree", "one\ntwo\tthree"),
        (Key(), "Law.Castration", "law.castration"),
        (SEX, "Doeling", "doe"),
        (SEX, "male", "buck"),
        (METHOD, "banded", "ring"),
        (METHOD, "Rubber Ring", "ring"),
        (FOOT, "OK", "ok"),
        (FOOT, "not done", "not-done"),
        (FOOT, "Sole is Thin", "Sole is Thin"),
        (Count(1, 10), "2", 2),
        (Count(-5, 5), "-2", -2),
        (Flag(), "Yes", True),
        (Flag(), "no", False),
        (Date(), "2028-02-29", "2028-02-29"),
        (Ref("animal"), "Agate", id_of("Agate")),
        (MARK, " qmr  12 ", "QMR 12"),
        # 15 digits, country 276 and twelve of the animal: the printed example of a code of
        # ISO 11784 in the ICAR animal identifier type.
        (CHIP, "276 000312312345", "276000312312345"),
        (CHIP, "840-003-123456789", "840003123456789"),
        (PROCEDURE, "Disbudding", "disbudding"),
        (PROCEDURE, "hoof trim", "hoof-trim"),
        (PROCEDURE, "Agate", id_of("Agate")),
        (SEASON_DAY, "02-29", "02-29"),
    ],
)
def test_taken(form: Form, typed: str, stored: Value) -> None:
    value = form.parse(typed, BARN)
    assert value == stored
    form.check(value)


@pytest.mark.parametrize(
    ("form", "typed"),
    [
        (NAME, " \t "),
        (NAME, "A\ngate"),
        (NAME, "A\x1b[31mgate"),
        (NAME, "A\x00gate"),
        (NAME, "A\u2028gate"),
        (NAME, "A\udc80gate"),
        (NAME, "x" * (NAME_LIMIT + 1)),
        (LONG_TEXT, "x" * (NOTE_LIMIT + 1)),
        (LONG_TEXT, "ring\x07"),
        (LONG_TEXT, "one\rtwo"),
        (Key(), "two words"),
        (SEX, "dow"),
        (SEX, "wether"),
        (STANDING, "sold"),
        (Count(1, 10), "0"),
        (Count(1, 10), "2.0"),
        (Count(1, 10), "²"),
        (Count(1, 10), "1" * 900),
        (Count(1, 10), "--1"),
        (Count(1, 10), ""),
        (Flag(), "maybe"),
        (Date(), "2026-02-30"),
        (Ref("animal"), "Nobody"),
        (CHIP, "27600031231234"),
        (CHIP, "27600031231234X"),
        (CHIP, "٢٧٦٠٠٠٣١٢٣١٢٣٤٥"),
        (PROCEDURE, "disbuding"),
        (SEASON_DAY, "02-30"),
        (SEASON_DAY, "2-3"),
    ],
)
def test_refused_with_a_sentence_and_a_mend(form: Form, typed: str) -> None:
    with pytest.raises(Refused) as refused:
        form.parse(typed, BARN)
    assert refused.value.what.endswith((".", "?"))
    assert refused.value.mend.endswith(".")
    assert len(str(refused.value)) < 500


def test_a_near_word_is_suggested() -> None:
    with pytest.raises(Refused, match="Did you mean surgical"):
        METHOD.parse("surgcal", BARN)


def test_a_word_of_a_newer_program_is_carried_and_ranks_as_the_strictest() -> None:
    COUNTED_FROM.check("from-the-moon")
    ranks = [COUNTED_FROM.rank(word, late=True) for word in (*COUNTED_FROM.words, "from-the-moon")]
    assert ranks == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("form", "stored"),
    [
        (NAME, ""),
        (NAME, "A\0"),
        (NAME, "\ud800"),
        (NAME, "x" * 101),
        (NAME, b"Agate"),
        (SEX, 1),
        (Count(1, 10), True),
        (Count(1, 10), 2.0),
        pytest.param(Count(1, 10), 10**5000, id="a number too long to print"),
        (Flag(), 1),
        (Ref("animal"), b"short"),
        (Ref("animal"), text_id(id_of("Agate"))),
        (Ref("animal"), bytearray(16)),
        (CHIP, "276"),
        (PROCEDURE, "Not a kind"),
        (Key(), "A"),
        (Date(), "2026-02-30"),
        (SEASON_DAY, "13-01"),
    ],
)
def test_foreign_values_are_set_aside(form: Form, stored: object) -> None:
    with pytest.raises(BadBytes):
        form.check(stored)


def test_answers_and_words() -> None:
    agate = id_of("Agate")
    assert Ref("animal").answer(agate) == text_id(agate)
    assert Ref("animal").show(agate, lambda _: "Agate") == "Agate"
    assert Flag().answer(True) is True
    assert Flag().show(False, str) == "no"
    assert PROCEDURE.answer("disbudding") == "disbudding"
    assert PROCEDURE.answer(agate) == text_id(agate)


@given(st.text(max_size=200))
def test_any_text_is_taken_composed_or_refused(typed: str) -> None:
    for form in (NAME, LONG_TEXT, MARK, Text(20), Choice(("a",), open=True)):
        try:
            value = form.parse(typed, BARN)
        except Refused:
            continue
        assert isinstance(value, str)
        assert value == unicodedata.normalize("NFC", value)
        form.check(value)
