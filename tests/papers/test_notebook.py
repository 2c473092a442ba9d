"""What keepers write in their own tables, turned into what they would type here."""

from __future__ import annotations

from fractions import Fraction

import pytest

from herdsync.faults import Refused
from herdsync.kinds import CATALOGUE
from herdsync.kinds.quantities import amount
from herdsync.papers.columns import matched
from herdsync.papers.notebook import typed
from tests.kinds.reading import Barn

WEIGHING = CATALOGUE["weighing"].fields
ANIMAL = CATALOGUE["animal"].fields


@pytest.mark.parametrize(
    ("cell", "typed_here"),
    [
        ("2026-02-22", "2026-02-22"),
        ("22.2.2026", "2026-02-22"),
        ("22.2.26 6:30", "2026-02-22 06:30"),
        ("2/22/26", "2026-02-22"),
        ("22/2/26", "2026-02-22"),
        ("5/5/2026", "2026-05-05"),
        ("2026/2/3", "2026-02-03"),
        ("22 Feb 2026", "2026-02-22"),
        ("9th March 2025", "2025-03-09"),
        ("Feb 22, 2026", "2026-02-22"),
        ("2/22/2026 6:30 pm", "2026-02-22 18:30"),
        ("2/22/2026 12:05 AM", "2026-02-22 00:05"),
        ("Feb 2026", "2026-02"),
        ("1.3.98", "1998-03-01"),
        ("", ""), ("-", ""), ("n/a", ""), ("?", ""),
    ],
)  # fmt: skip
def test_dates(cell: str, typed_here: str) -> None:
    assert typed(WEIGHING["on"], cell) == typed_here


@pytest.mark.parametrize("cell", ["3/4/2026", "3-4-26", "1 Smarch 2026", "1/2/3", "1/2/026"])
def test_a_date_that_may_be_two_is_refused(cell: str) -> None:
    with pytest.raises(Refused):
        typed(WEIGHING["on"], cell)


def test_the_keeper_says_which_comes_first() -> None:
    assert typed(WEIGHING["on"], "3/4/2026", order="dmy") == "2026-04-03"
    assert typed(WEIGHING["on"], "3/4/2026", order="mdy") == "2026-03-04"


# 1 lb = 0.45359237 kg exactly (international yard and pound agreement, 1959), 16 oz to the pound.
@pytest.mark.parametrize(
    ("cell", "kg"),
    [
        ("44", "19.95806428"),
        ("44 lbs", "19.95806428"),
        ("8 lb 6 oz", "3.79883609875"),
        ("20,5 kg", "20.5"),
        ("20.5kg", "20.5"),
        ("0,125 kg", "0.125"),
    ],
)
def test_weights(cell: str, kg: str) -> None:
    form = WEIGHING["weight_kg"].form
    told = form.parse(typed(WEIGHING["weight_kg"], cell, unit="lb"), Barn())
    assert amount(told, "kg") == Fraction(kg)


def test_a_comma_that_may_part_thousands_is_refused() -> None:
    with pytest.raises(Refused, match=r"1.200 or 1200"):
        typed(WEIGHING["weight_kg"], "1,200 kg")


def test_letters_for_sex() -> None:
    assert [typed(ANIMAL["sex"], one) for one in ("F", "m", "unknown")] == [
        "doe",
        "buck",
        "unknown",
    ]


@pytest.mark.parametrize(
    ("kind", "headings", "fields"),
    [
        ("weighing", ["Goat", "Date", "Weight (lbs)", "Method", "zzz"],
         ["animal", "on", "weight_kg", "how", ""]),
        ("animal", ["Name", "DOB", "Sex", "Dam", "Sire", "Right ear", "Registered name"],
         ["name", "born", "sex", "dam", "sire", "tattoo_right", "registry_name"]),
        ("dose", ["Goat", "Date given", "Drug", "Dose (mL)", "Reason", "Withdrawal"],
         ["animal", "on", "product", "amount_ml", "because", ""]),
        ("kidding", ["Doe", "Date", "Live kids", "Stillborn"],
         ["doe", "on", "born_alive", "born_dead"]),
    ],
)  # fmt: skip
def test_headings_of_notebooks(kind: str, headings: list[str], fields: list[str]) -> None:
    assert [one.field for one in matched(CATALOGUE[kind], headings, {}, {})] == fields


def test_units_of_headings() -> None:
    kind = CATALOGUE["weighing"]
    assert [one.unit for one in matched(kind, ["weight [lb]", "girth in"], {}, {})] == ["lb", "in"]
    assert matched(kind, ["weight"], {}, {"weight_kg": "lbs"})[0].unit == "lb"


@pytest.mark.parametrize(
    ("match", "unit"),
    [({"Wt": "weight_kg"}, {}), ({"weight": "wieght_kg"}, {}), ({}, {"weight_kg": "mL"})],
)
def test_what_the_keeper_says_must_fit(match: dict[str, str], unit: dict[str, str]) -> None:
    with pytest.raises(Refused):
        matched(CATALOGUE["weighing"], ["weight"], match, unit)


def test_a_table_of_something_else_is_refused() -> None:
    with pytest.raises(Refused, match="--match"):
        matched(CATALOGUE["weighing"], ["price", "shop"], {}, {})
