"""Inbreeding and relationship against published pedigrees and against the plain tabular rule."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from herdsync.trade.advice import Advice
from herdsync.trade.kinship import Kinship
from herdsync.trade.pedigree import HerdBook, Parentage, herd_book
from herdsync.trade.relationship import (
    LOOK_FROM,
    STOP_ABOVE,
    inbreeding_of,
    plan_mating,
    rank_bucks,
    relate,
)
from tests.trade.whole_book import inbreeding_of_all

Pairs = dict[str, tuple[str | None, str | None]]


def _book(pairs: Pairs) -> HerdBook:
    return herd_book(Parentage(animal, sire, dam) for animal, (sire, dam) in pairs.items())


def _a(book: HerdBook, one: str, other: str) -> Fraction:
    return relate(book, one, other).relationship


def _tabular(pairs: Pairs) -> dict[tuple[str, str], Fraction]:
    """The rule as the textbook prints it, on pairs written parents first."""
    a: dict[tuple[str | None, str | None], Fraction] = {}
    done: list[str] = []
    for animal, (sire, dam) in pairs.items():
        for other in done:
            value = sum((a.get((p, other), Fraction(0)) for p in (sire, dam)), Fraction(0)) / 2
            a[animal, other] = a[other, animal] = value
        a[animal, animal] = 1 + a.get((sire, dam), Fraction(0)) / 2
        done.append(animal)
    return {(i, j): a[i, j] for i in done for j in done}


# Mrode, Linear Models for the Prediction of Animal Breeding Values, 3rd ed., CABI 2014, s. 2.2.
M: Pairs = {
    "1": (None, None), "2": (None, None), "3": ("1", "2"),
    "4": ("1", None), "5": ("4", "3"), "6": ("5", "2"),
}  # fmt: skip
# Royal Vet. and Agr. Univ. Copenhagen, population genetics notes 7.5.
N: Pairs = {
    "1": (None, None), "2": (None, None), "3": (None, None), "4": (None, None),
    "5": ("1", "2"), "6": ("1", "2"), "7": ("3", "4"), "8": ("5", "6"),
}  # fmt: skip
M_TABLE = """
1    0    .5    .5    .5    .25
0    1    .5    0     .25   .625
.5   .5   1     .25   .625  .5625
.5   0    .25   1     .625  .3125
.5   .25  .625  .625  1.125 .6875
.25  .625 .5625 .3125 .6875 1.125
"""


def test_c071_to_c074_whole_matrix_of_pedigree_m() -> None:
    # F5 and the block of 1, 4, 5 are printed (Mrode pp. 32, 310); sgkit 0.10.0 gives the same.
    book = _book(M)
    assert [len(Kinship(book).row(place)) for place in range(6)] == [6] * 6
    rows = [[Fraction(cell) for cell in line.split()] for line in M_TABLE.split("\n") if line]
    for i, row in enumerate(rows, 1):
        assert [_a(book, str(i), str(j)) for j in range(1, 7)] == row
    assert inbreeding_of_all(book) == {
        "1": 0, "2": 0, "3": 0, "4": 0, "5": Fraction(1, 8), "6": Fraction(1, 8)
    }  # fmt: skip


def test_c077_pedigree_n() -> None:
    book = _book(N)
    found = [_a(book, *pair) for pair in [("1", "8"), ("5", "6"), ("5", "8"), ("8", "8")]]
    assert found == [Fraction(1, 2), Fraction(1, 2), Fraction(3, 4), Fraction(5, 4)]
    assert inbreeding_of(book, "8").inbreeding == Fraction(1, 4)


def test_c078_sire_by_daughter() -> None:
    # sgkit 0.10.0 docstring: S2 = S0 x S1, S3 = S0 x S2.
    book = _book({"S2": ("S0", "S1"), "S3": ("S0", "S2")})
    assert (_a(book, "S3", "S3"), _a(book, "S0", "S3")) == (Fraction(5, 4), Fraction(3, 4))


# Inbreeding per kind of mating as printed in a breeder article quoting Boggess: the pair is
# (sire, dam) of the kid whose F is given.
COUSINS: Pairs = {
    "p": ("g", "h"), "q": ("g", "h"), "a": ("p", "u"), "b": ("v", "q"),
}  # fmt: skip
MATINGS: list[tuple[str, Pairs, tuple[str, str], str]] = [
    ("C079 half sibs", {"a": ("s", "d"), "b": ("s", "e")}, ("a", "b"), ".125"),
    ("C080 full sibs", {"a": ("s", "d"), "b": ("s", "d")}, ("a", "b"), ".25"),
    ("C081 parent and offspring", {"a": ("s", "d")}, ("s", "a"), ".25"),
    ("C082 grandparent", {"a": ("s", "d"), "b": ("x", "a")}, ("s", "b"), ".125"),
    ("C083 first cousins", COUSINS, ("a", "b"), ".0625"),
    (
        "half first cousins",
        {"p": ("g", "h"), "q": ("g", "i"), "a": ("p", "u"), "b": ("v", "q")},
        ("a", "b"),
        ".03125",
    ),
]


@pytest.mark.parametrize(("kind", "pairs", "pair", "expected"), MATINGS)
def test_c079_to_c083_simple_matings(
    kind: str, pairs: Pairs, pair: tuple[str, str], expected: str
) -> None:
    sire, dam = pair
    assert plan_mating(_book(pairs), dam, sire).inbreeding == Fraction(expected)
    with_kid = _book({**pairs, "kid": pair})
    assert inbreeding_of(with_kid, "kid").inbreeding == Fraction(expected)


def test_c085_c086_full_sibs_repeated() -> None:
    # 25, 37.5 and 50 % are printed by the same article; the two after follow from the rule.
    pairs: Pairs = {}
    parents = ("s0", "d0")
    for generation in range(1, 7):
        children = (f"s{generation}", f"d{generation}")
        pairs[children[0]] = pairs[children[1]] = parents
        parents = children
    book = _book(pairs)
    found = [inbreeding_of(book, f"s{generation}").inbreeding for generation in range(2, 7)]
    expected = ["1/4", "3/8", "1/2", "19/32", "43/64"]
    assert found == [Fraction(value) for value in expected]
    assert float(found[3]) == 0.59375
    assert float(found[4]) == 0.671875


@st.composite
def pedigrees(draw: st.DrawFn) -> Pairs:
    """Any pedigree of up to fifteen animals, parents first, also with half founders and selfing
    left out."""
    pairs: Pairs = {}
    for number in range(draw(st.integers(2, 15))):
        older = [None, *pairs]
        sire = draw(st.sampled_from(older))
        dam = draw(st.sampled_from([one for one in older if one is None or one != sire]))
        pairs[f"{number:02d}"] = (sire, dam)
    return pairs


@given(pairs=pedigrees(), data=st.data())
def test_every_row_equals_the_tabular_rule(pairs: Pairs, data: st.DataObject) -> None:
    table = _tabular(pairs)
    shuffled = data.draw(st.permutations(list(pairs.items())))
    book = _book(dict(shuffled))
    kinship = Kinship(book)
    for one in pairs:
        row = kinship.row(book.place(one))
        assert {other: row[book.place(other)] for other in pairs} == {
            other: table[one, other] for other in pairs
        }
        assert kinship.inbreeding(book.place(one)) == table[one, one] - 1
    one = data.draw(st.sampled_from(list(pairs)))
    other = data.draw(st.sampled_from(list(pairs)))
    assert _a(book, one, other) == table[one, other]


@settings(max_examples=25)
@given(
    numbers=st.lists(st.integers(0, 10**6), min_size=160, max_size=160), window=st.integers(3, 80)
)
def test_inbreeding_of_a_whole_herd_equals_the_tabular_rule(
    numbers: list[int], window: int
) -> None:
    # Eighty animals, parents from those just before: many families settled at one go.
    names = [f"{number:02d}" for number in range(80)]
    pairs: Pairs = {}
    for number, name in enumerate(names):
        near = names[max(0, number - window) : number]
        males, females = near[::2], near[1::2]
        sire = males[numbers[2 * number] % len(males)] if males else None
        dam = females[numbers[2 * number + 1] % len(females)] if females else None
        pairs[name] = (sire, dam)
    table = _tabular(pairs)
    found = inbreeding_of_all(_book(pairs))
    assert found == {name: table[name, name] - 1 for name in names}


def test_wright_coefficient_of_inbred_animals() -> None:
    # a(5,6) / sqrt(1.125 x 1.125) of pedigree M.
    answer = relate(_book(M), "5", "6")
    assert float(answer.wright_coefficient) == pytest.approx(0.6875 / 1.125, abs=1e-6)
    assert answer.kinship == Fraction("0.34375")
    assert answer.common_ancestors == ("2", "5")


def test_a_thousand_generations_of_one_line_need_no_deep_stack() -> None:
    pairs: Pairs = {f"{n:04d}": (f"{n - 1:04d}", None) for n in range(1, 1000)}
    book = _book(pairs)
    assert [(fault.kind, fault.left_out) for fault in book.faults] == [("too-deep", True)] * 3
    for fault in book.faults:
        assert book.deepest[book.place(fault.animals[0])] == 0
    assert _a(book, "0000", "0010") == Fraction(1, 2**10)
    assert inbreeding_of(book, "0999").inbreeding == 0


@pytest.mark.parametrize(
    ("relatives", "advice"),
    [(MATINGS[5], Advice.OK), (MATINGS[4], Advice.LOOK), (MATINGS[0], Advice.LOOK),
     (MATINGS[1], Advice.STOP)],
)  # fmt: skip
def test_advice_on_a_mating(
    relatives: tuple[str, Pairs, tuple[str, str], str], advice: Advice
) -> None:
    # common practice, no published source: under 6.25 % ok, to 12.5 % look, above stop
    _, pairs, (sire, dam), _ = relatives
    assert plan_mating(_book(pairs), dam, sire).advice is advice


def test_the_advice_begins_at_cousins_and_stops_above_half_sibs() -> None:
    # Boggess as quoted: first cousins 6.25 %, half sibs 12.5 %.
    assert Fraction(MATINGS[4][3]) == LOOK_FROM
    _, pairs, (sire, dam), half_sibs = MATINGS[0]
    assert Fraction(half_sibs) == STOP_ABOVE
    assert "F 12.5 %, through s;" in plan_mating(_book(pairs), dam, sire).reason


def test_three_generations_without_a_gap_are_enough_to_say_so() -> None:
    # Common practice, no published source.
    pairs: Pairs = {}
    for parent in ("s", "d"):
        pairs[parent] = (f"{parent}1", f"{parent}2")
        pairs[f"{parent}1"] = (f"{parent}3", f"{parent}4")
        pairs[f"{parent}2"] = (f"{parent}5", f"{parent}6")
    known = plan_mating(_book(pairs), "d", "s")
    assert (known.completeness.complete_generations, "may be higher" in known.reason) == (3, False)
    del pairs["s1"]
    assert "may be higher" in plan_mating(_book(pairs), "d", "s").reason


def test_bucks_are_ranked_and_say_how_much_is_known() -> None:
    lines = [
        Parentage("opal", "basalt", "agate", sex="doe", name="Opal"),
        Parentage("flint", "basalt", "mica", sex="buck", name="Flint"),
        Parentage("basalt", "f1", "f2", sex="buck", name="Basalt"),
        Parentage("stranger", sex="buck", name="Stranger"),
        Parentage("guest", "g1", "g2", sex="buck", name="Guest"),
    ]
    ranked = rank_bucks(herd_book(lines), "opal", ["flint", "basalt", "stranger", "guest"])
    assert [mating.buck for mating in ranked] == ["guest", "stranger", "flint", "basalt"]
    assert [mating.inbreeding for mating in ranked] == [0, 0, Fraction(1, 8), Fraction(1, 4)]
    assert ranked[0].completeness.complete_generations == 2
    assert ranked[1].completeness.complete_generations == 1
    assert "no ancestor in common" in ranked[0].reason
    assert "through Basalt" in ranked[2].reason
    assert "may be higher" in ranked[2].reason
    assert ranked[2].common_ancestors == ("basalt",)


def test_impossible_pairs_are_refused_with_a_sentence() -> None:
    book = herd_book([Parentage("d", sex="doe"), Parentage("b", sex="buck"), Parentage("x")])
    for doe, buck, words in [
        ("d", "d", "itself"), ("b", "x", "cannot be the doe"), ("x", "d", "cannot be the buck"),
        ("d", "nobody", "not in the herd book"), ("nobody", "b", "not in the herd book"),
    ]:  # fmt: skip
        with pytest.raises(ValueError, match=words):
            plan_mating(book, doe, buck)
    with pytest.raises(ValueError, match="not in the herd book"):
        relate(book, "d", "nobody")
    assert plan_mating(book, "d", "x").inbreeding == 0


def test_a_fault_behind_a_mating_is_said_and_one_elsewhere_is_not() -> None:
    lines = [Parentage("a", "b", None), Parentage("b", "a", None), Parentage("k", "a", "d")]
    lines += [Parentage("e", "e", None), Parentage("x"), Parentage("y")]
    book = herd_book(lines)
    assert [fault.kind for fault in plan_mating(book, "d", "k").faults] == ["loop"]
    assert plan_mating(book, "x", "y").faults == ()


def test_a_herd_book_of_five_thousand() -> None:
    # Two sires and forty dams a generation, 119 generations: exact to the last binary place.
    pairs: Pairs = {}
    for number in range(42, 5000):
        base = number - number % 42 - 42
        pairs[f"{number:04d}"] = (f"{base + number % 2:04d}", f"{base + 2 + number % 40:04d}")
    found = inbreeding_of_all(_book(pairs))
    assert len(found) == 5000
    last = found["4999"]
    assert Fraction(1, 2) < last < 1
    assert last.denominator & (last.denominator - 1) == 0
