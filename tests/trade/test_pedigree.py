"""The herd book: order, loops and impossible parents as values, and how much is known."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdsync.trade.completeness import Depths
from herdsync.trade.pedigree import UNKNOWN, HerdBook, Parentage, herd_book
from tests.trade.whole_book import inbreeding_of_all


def _kinds(book: HerdBook) -> list[str]:
    return [fault.kind for fault in book.faults]


def test_c090_a_loop_is_said_and_survived() -> None:
    # sgkit 0.10.0 raises an error here; the farm's book stays usable instead.
    book = herd_book([Parentage("1", sire="2"), Parentage("2", dam="1"), Parentage("3", "1", "4")])
    (fault,) = book.faults
    assert (fault.kind, fault.animals, fault.left_out) == ("loop", ("1", "2"), True)
    assert "descend from each other" in fault.reason
    assert inbreeding_of_all(book) == dict.fromkeys("1234", 0)
    assert book.sires[book.place("3")] == book.place("1")


def test_two_rings_that_touch_by_descent_stay_two() -> None:
    lines = [
        Parentage("a", "b", "outside"), Parentage("b", "a"),
        Parentage("c", "d", "a"), Parentage("d", "e"), Parentage("e", "c"),
    ]  # fmt: skip
    book = herd_book(lines)
    assert [fault.animals for fault in book.faults] == [("a", "b"), ("c", "d", "e")]
    # Only the links inside a ring are left out.
    assert book.dams[book.place("c")] == book.place("a")
    assert book.dams[book.place("a")] == book.place("outside")


def test_impossible_parents_are_left_out() -> None:
    book = herd_book([Parentage("a", "a", "b"), Parentage("c", "b", "b")])
    assert _kinds(book) == ["own-parent", "one-parent-twice"]
    assert all(fault.left_out for fault in book.faults)
    assert book.sires[book.place("a")] == UNKNOWN
    assert book.dams[book.place("a")] == book.place("b")
    assert (book.sires[book.place("c")], book.dams[book.place("c")]) == (UNKNOWN, UNKNOWN)


def test_doubtful_parents_are_said_and_kept() -> None:
    born = date(2025, 3, 1)
    lines = [
        Parentage("kid", "s", "d", born=born, name="Shale"),
        Parentage("s", sex="doe", born=date(2024, 9, 1), name="Agate"),
        Parentage("d", sex="buck", born=date(2025, 3, 2), name="Flint"),
    ]
    book = herd_book(lines)
    assert _kinds(book) == ["sex", "age", "sex", "age"]
    assert not any(fault.left_out for fault in book.faults)
    assert "Agate is the sire of Shale but is written down as a doe" in book.faults[0].reason
    assert book.sires[book.place("kid")] == book.place("s")


@pytest.mark.parametrize(("days", "said"), [(56 + 139, True), (56 + 140, False)])
def test_youngest_sire(days: int, said: bool) -> None:
    # 56 days and the earliest day worth watching, 140 (Storey's Guide to Raising Dairy Goats).
    born = date(2025, 1, 1)
    kid = date.fromordinal(born.toordinal() + days)
    book = herd_book([Parentage("k", "s", born=kid), Parentage("s", sex="buck", born=born)])
    assert ("age" in _kinds(book)) is said


def test_one_animal_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="two lines"):
        herd_book([Parentage("a"), Parentage("a", "b")])


_NAMES = st.sampled_from("abcdefgh")
_LINES = st.lists(
    st.builds(
        Parentage, _NAMES, st.none() | _NAMES, st.none() | _NAMES,
        sex=st.sampled_from(["doe", "buck", "unknown"]),
    ),
    unique_by=lambda line: line.animal,
)  # fmt: skip


@given(lines=_LINES, data=st.data())
def test_any_nonsense_gives_one_book_whatever_its_order(
    lines: list[Parentage], data: st.DataObject
) -> None:
    book = herd_book(lines)
    assert herd_book(data.draw(st.permutations(lines))) == book
    for place in range(len(book.ids)):
        assert all(parent < place for parent in book.parents(place))
    assert all(0 <= value < 1 for value in inbreeding_of_all(book).values())


def test_completeness_behind_an_animal_and_a_kid_not_born() -> None:
    lines = [
        Parentage("a", "b", "c"), Parentage("b", "d", "e", sire_sure=False),
        Parentage("c", "d", None), Parentage("d", "f", "g", dam_sure=False),
    ]  # fmt: skip
    depths = Depths(herd_book(lines))
    known = depths.of("a")
    assert (known.complete_generations, known.deepest_generations) == (1, 3)
    shares = [Fraction(1), Fraction(3, 4), Fraction(1, 2), 0, 0]
    assert list(known.known_by_generation) == shares
    assert known.equivalent_generations == 1 + Fraction(3, 4) + Fraction(1, 2)
    assert known.presumed == (("d", "dam"), ("b", "sire"))
    assert "without a gap: 1," in known.reason
    kid = depths.of_kid("b", "a")
    assert (kid.complete_generations, kid.deepest_generations) == (2, 4)
    founder = depths.of("g")
    assert (founder.complete_generations, founder.deepest_generations) == (0, 0)
