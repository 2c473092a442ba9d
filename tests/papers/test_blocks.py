"""What stands in the way of each paper, and that it names the record that causes it."""

from __future__ import annotations

import pytest

from herdsync.farm import Farm
from herdsync.papers.outcomes import PaperLine
from tests.cli.laptops import Laptops
from tests.papers.test_printing import fill

SALE = ("sale-sheet", "transfer", "service-memo", "kid-registration")


def disputed(pair: Laptops, record: str, field: str, values: tuple[str, str]) -> None:
    """Both keepers amend one field apart, and meet."""
    pair.meet()
    for laptop, value in zip(("house", "barn"), values, strict=True):
        pair.ask(laptop, "amend", record, f"{field}={value}")
    pair.meet()


def herd(pair: Laptops) -> dict[str, str]:
    """Agate, mated by Flint, and her kid Shale; the ids of what is on record."""
    told = {
        "Agate": ("animal", "name=Agate", "sex=doe", "born=2021-03-01", "tattoo_left=N1"),
        "Flint": ("animal", "name=Flint", "sex=buck", "born=2021-03-01", "tattoo_left=N2"),
        "Shale": ("animal", "name=Shale", "sex=doe", "born=2026-02-01", "dam=Agate", "sire=Flint"),
        "mating": ("mating", "doe=Agate", "buck=Flint", "on=2026-02-20", "how=hand"),
        "trim": ("hoof-trim", "animal=Agate", "on=2026-03-01", "front_left=ok"),
        "product": ("product", "substance=examplin", "milk_h=96", "meat_d=28"),
        "dose": ("dose", "animal=Agate", "on=2026-03-02", "product=examplin", "amount_ml=2"),
    }
    return {name: pair.ask("house", "record", *words)["id"] for name, words in told.items()}


@pytest.mark.parametrize(
    ("what", "field", "values", "blocked"),
    [
        ("trim", "front_left", ("soft", "rot"), {"sale-sheet"}),
        ("mating", "on", ("2026-02-19", "2026-02-18"), {"sale-sheet", "transfer", "service-memo"}),
        ("Agate", "born", ("2021-03-02", "2021-03-03"),
         {"sale-sheet", "transfer", "service-memo"}),
        ("Flint", "breed", ("Saanen", "Toggenburg"), {"service-memo"}),
        ("dose", "amount_ml", ("3", "4"), {"sale-sheet"}),
    ],
)  # fmt: skip
def test_a_disagreement_blocks_the_papers_that_rest_on_it(
    pair: Laptops, what: str, field: str, values: tuple[str, str], blocked: set[str]
) -> None:
    ids = herd(pair)
    disputed(pair, ids[what], field, values)
    papers = {one["paper"]: one for one in pair.ask("house", "papers", "sale", "Agate")}
    for paper, told in papers.items():
        named = [block for block in told["blocks"] if ids[what][:8] in block]
        assert bool(named) == (paper in blocked), (paper, told["blocks"])


def test_a_kids_application_rests_on_its_parents_sheets(pair: Laptops) -> None:
    ids = herd(pair)
    disputed(pair, ids["Flint"], "name", ("Flint II", "Flint III"))
    (told,) = pair.ask("house", "papers", "kid-registration", "Shale")
    assert not told["fit"]
    assert ids["Flint"][:8] in told["blocks"][0]


def test_the_treatment_record_marks_what_is_disputed_of_dose_and_medicine(pair: Laptops) -> None:
    ids = herd(pair)
    disputed(pair, ids["dose"], "amount_ml", ("3", "4"))
    disputed(pair, ids["product"], "meat_d", ("30", "35"))
    (told,) = pair.ask("house", "papers", "treatments", "--from", "2026-01-01")
    for name in ("dose", "product"):
        assert any(ids[name][:8] in mark for mark in told["marks"]), name


def test_who_is_gone_and_what_is_held_name_their_records(farm: Farm) -> None:
    fill(farm)
    sold = farm.record("leaving", {"animal": "Agate", "on": "2026-05-31", "how": "sold"}).id
    lines = {one.paper: one for one in farm.papers("sale", ["Agate"])}
    for paper in ("sale-sheet", "transfer"):
        assert any(sold[:8] in block for block in lines[paper].blocks)
    dead = farm.record("death", {"animal": "Shale", "on": "2026-05-31", "how": "died"}).id
    assert any(dead[:8] in block for block in one(farm, "sale-sheet", "Shale").blocks)


def test_a_missing_mark_is_marked_on_every_paper_a_registry_reads(farm: Farm) -> None:
    bare = farm.record("animal", {"name": "Opal", "sex": "doe", "born": "2024-01-01"}).id
    for paper in ("sale-sheet", "transfer", "kid-registration"):
        marks = one(farm, paper, "Opal").marks
        assert any("No tattoo, tag or chip" in mark and bare[:8] in mark for mark in marks)


def one(farm: Farm, paper: str, animal: str) -> PaperLine:
    (line,) = farm.papers(paper, [animal])
    return line
