"""Every paper in words a buyer, a veterinarian and a registry's clerk read: nothing of the program's own."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
from icalendar import Calendar

from herdsync.acts.printing import PAPERS
from herdsync.farm import Farm
from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Choice
from herdsync.papers.as_pdf import Style, pdf_of
from herdsync.papers.in_words import day_words
from herdsync.papers.outcomes import PaperLine
from herdsync.papers.paper import Paper, Section
from herdsync.projections.moments import moment_words
from tests.cli.laptops import Laptops
from tests.papers.conftest import AT
from tests.papers.test_blocks import disputed
from tests.papers.test_pages import BASIS
from tests.papers.test_printing import fill

# A moment as RFC 3339 writes it, and an id as this program does.
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d|[+-]\d\d:\d\d\b")
ID = re.compile(r"\[[a-z2-7]{8}|\b[a-z2-7]{26}\b")
REFERENCE = re.compile(r"  Reference: [a-z2-7]{12}, farm\s+[a-z2-7]{12}\.\n$")


def live(farm: Farm) -> None:
    """A herd whose acts are told to the minute, in words of every list a paper shows."""
    fill(farm)
    early = "2026-05-20T06:30:00+00:00"
    farm.record("pen", {"name": "Far shed"})
    farm.record("mating", {"doe": "Agate", "buck": "Flint", "on": "2025-10-14", "how": "ai"})
    for name, sex in (("Onyx", "buck"), ("Topaz", "doe")):
        farm.record("animal", {"name": name, "sex": sex, "born": "2026-03-14T04:20:00+00:00",
                               "dam": "Agate", "sire": "Flint"})  # fmt: skip
    for kind, told in (
        ("castration", {"animal": "Onyx", "method": "ring", "complete": "yes", "on": early}),
        ("weighing", {"animal": "Onyx", "weight_kg": "9.4", "how": "girth-tape", "on": early}),
        ("eyelid-score", {"animal": "Agate", "score": "2", "light": "daylight", "on": early}),
        ("condition-score", {"animal": "Agate", "score": "3.5", "on": early}),
        ("egg-count", {"animal": "Agate", "eggs": "3", "sample_g": "2", "fluid_ml": "28",
                       "counted_ml": "0.3", "sampled": "after", "on": early}),
        ("hoof-trim", {"animal": "Agate", "front_left": "not-done", "hind_left": "ok", "on": early}),
        ("disease-test", {"animal": "Agate", "disease": "Johnes", "result": "negative",
                          "sample": "blood", "on": early}),
        ("test-day", {"doe": "Agate", "milk_kg": "2.7", "cells_per_ml": "480000", "on": early}),
        ("kidding", {"doe": "Agate", "ease": "some-help", "born_alive": "3",
                     "on": "2026-03-14T04:20:00+00:00"}),
        ("illness", {"animal": "Agate", "what": "off-feed", "over": early, "on": "2026-05-19"}),
        ("pen-move", {"animal": "Onyx", "pen": "Far shed", "on": early}),
        ("arrival", {"animal": "Flint", "how": "returned", "on": "2026-05-25T06:30:00+00:00",
                     "quarantine_until": "2026-06-20"}),
        ("tattoo", {"animal": "Topaz", "stage": "re-read", "right": "QMR",
                    "legibility_right": "part-unreadable", "on": early}),
    ):  # fmt: skip
        farm.record(kind, told)


def every(farm: Farm, **more: Any) -> list[PaperLine]:
    animals = ["Agate", "Flint", "Shale", "Onyx", "Topaz"]
    return [
        line for paper in PAPERS for line in farm.papers(paper, animals, first="2026-01-01", **more)
    ]


def one(farm: Farm, paper: str, animal: str) -> str:
    (line,) = farm.papers(paper, [animal])
    return " ".join(line.text.split())


def test_no_paper_speaks_the_programs_own_language(farm: Farm) -> None:
    live(farm)
    hyphened = {
        word
        for kind in CATALOGUE.values()
        for field in kind.fields.values() if isinstance(field.form, Choice)
        for word in field.form.words if "-" in word
    }  # fmt: skip
    lines = every(farm)
    assert len(lines) > 20
    for line in lines:
        text, said = REFERENCE.subn("", line.text)
        assert said == 1, "what the keepers find it again by stands last, once"
        for spoilt in (MOMENT, ID):
            assert not spoilt.search(text), (line.paper, line.about, spoilt.search(text))
        said_so = set(re.findall(r"[a-z]+(?:-[a-z]+)+", text.replace(f"{line.paper}-", "")))
        assert not said_so & hyphened, (line.paper, said_so & hyphened)


def test_no_section_is_empty(farm: Farm) -> None:
    live(farm)
    for line in every(farm):
        rows = line.text.splitlines()
        for at, row in enumerate(rows):
            if re.fullmatch("-+", row):
                assert rows[at + 1].strip(), (line.paper, line.about, rows[at - 1])


def test_pages_say_the_same_as_the_text(farm: Farm, tmp_path: Path) -> None:
    live(farm)
    for at, paper in enumerate(("sale", "treatments", "history")):
        for line in farm.papers(paper, ["Agate", "Flint"], first="2026-01-01",
                                out=tmp_path / str(at)):  # fmt: skip
            file = next(file for file in line.files if file.endswith(".pdf"))
            document = pypdfium2.PdfDocument(file)
            told = "".join(
                document[at].get_textpage().get_text_range() for at in range(len(document))
            )
            document.close()
            assert not MOMENT.search(told)
            assert not ID.search(told)


def test_what_acts_hold_is_told_as_people_say_it(farm: Farm) -> None:
    live(farm)
    sheet = one(farm, "sale-sheet", "Agate")
    for told in (
        "2026-05-20: 3.5 of 5", "2026-05-20: 2 of 5, in daylight", "front left not done",
        # 3 eggs x 30 mL / (2 g x 0.3 mL) (RVC/FAO Guide to Veterinary Parasitology).
        "2026-05-20: 150 eggs per gram, after treatment", "Johne's negative as of 2026-05-20",
        "milk 2.7 kg, 480000 cells per mL", "2026-03-14: some help, 3 born alive",
        "2026-05-19: off feed, over 2026-05-20",
    ):  # fmt: skip
        assert told in sheet, told
    # A castrated male counts as entire until 28 days after (from memory; a setting).
    assert "2026-05-20: ring, complete; counts as entire until 2026-06-17" in one(
        farm, "sale-sheet", "Onyx"
    )
    assert "none on record; counts as entire" in one(farm, "sale-sheet", "Flint")
    assert "Born 2026-03-14 " in one(farm, "sale-sheet", "Onyx")
    assert "Weaned not on record" in one(farm, "sale-sheet", "Onyx")
    assert "right QMR (part unreadable)" in one(farm, "sale-sheet", "Topaz")
    assert "Not to leave until 2026-06-20" in one(farm, "sale-sheet", "Flint")
    # 2025-10-14 and 151 days.
    assert "Dam served 2025-10-14" in one(farm, "kid-registration", "Topaz")


def test_a_time_is_a_day_in_the_farms_zone(farm: Farm) -> None:
    assert day_words("2026-02-21T23:30:00-05:00", farm.zone) == "2026-02-22"
    assert day_words("2026-02", farm.zone) == "2026-02"
    assert moment_words("2026-02-22T06:30:00+01:00") == "2026-02-22 06:30"


def test_what_is_disputed_says_so_beside_its_value(pair: Laptops) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-01")
    trim = pair.ask("house", "record", "hoof-trim", "animal=Agate", "on=2026-03-01",
                    "front_left=ok")["id"]  # fmt: skip
    disputed(pair, trim, "front_left", ("soft", "rot"))
    shown = pair.type("house", "papers", "sale-sheet", "Agate")
    assert re.search(r"front left (soft|rot) \(disputed\)", " ".join(shown.out.split()))
    # The paper names the record as a buyer can ask for it; the keeper is told which to open.
    assert "Two accounts stand on front left (hoof trim of 2026-03-01)." in shown.out
    assert trim[:8] not in shown.out
    assert f"[{trim[:8]}]" in shown.err


def test_lines_to_sign_on_do_not_stand_alone_on_a_second_page() -> None:
    """A paper that nearly fits one page is drawn closer; one that does not is drawn as it is."""
    signs = Section("Seller and buyer", [("Seller signs", ""), ("Buyer signs", "")])

    def height(rows: int) -> tuple[int, float]:
        """How many pages, and how high the letters of its first line stand."""
        acts = Section("Acts", [(f"act {row}", "told at some length, " * 4) for row in range(rows)])
        paper = Paper("sheet", "Sheet", "Agate", BASIS, [acts, signs])
        document = pypdfium2.PdfDocument(pdf_of(paper, AT, Style("A4")).content)
        heights = [box[3] - box[1] for box in _boxes(document[0])]
        pages = len(document)
        document.close()
        return pages, min(heights)

    found = [height(rows) for rows in range(36, 70)]
    pages = [count for count, _ in found]
    assert pages == sorted(pages)
    assert {1, 2} == set(pages)
    closer = [
        rows for rows, (count, high) in enumerate(found, 36) if count == 1 and high < found[0][1]
    ]
    assert closer, "some number of rows fits one page only when drawn closer"
    assert found[-1][0] == 2
    assert found[-1][1] == pytest.approx(found[0][1], rel=0.01)


def _boxes(page: Any) -> list[tuple[float, float, float, float]]:
    text = page.get_textpage()
    return [
        text.get_charbox(at)
        for at in range(text.count_chars())
        if text.get_text_range(at, 1) == "a"
    ]


def test_how_long_a_treatment_went_on_is_told(farm: Farm) -> None:
    """21 CFR 530.5 asks for the duration of treatment (from memory)."""
    fill(farm)
    for day in (28, 29):
        farm.record("dose", {"animal": "Agate", "on": f"2026-05-{day}", "because": "cough",
                             "product": "Examplin 10", "amount_ml": "2.5"})  # fmt: skip
    (line,) = farm.papers("treatments", first="2026-05-01")
    assert "Agate Examplin 10 cough 2026-05-28 2026-05-31 3" in " ".join(line.text.split())


def test_a_calendar_speaks_plainly_and_rings_at_the_moment_of_work(
    farm: Farm, tmp_path: Path
) -> None:
    live(farm)
    farm.calendar(tmp_path / "farm.ics", 30)
    events = Calendar.from_ical((tmp_path / "farm.ics").read_bytes()).walk("VEVENT")
    told = [(event, f"{event['summary']} {event['description']}") for event in events]
    assert told
    for _, words in told:
        assert not MOMENT.search(words), words
    feeding = [event for event, words in told if "Water, hay" in words]
    assert feeding
    assert any(hasattr(event.decoded("dtstart"), "hour") for event in feeding)
