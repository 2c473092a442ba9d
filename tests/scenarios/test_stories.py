"""Every story plays as it is told, and the parts that play it hold their own."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from herdsync.faults import BadBytes, Refused
from scenarios.reaching import reach, reach_one, unmet
from scenarios.stage import play_story
from scenarios.story import Expect, Laptop, Step, Story, names, shaped, story_named, titles

ANSWER = {"due": [{"name": "Agate", "days": [1, 2]}, {"name": "Opal", "days": []}], "sum": 2}


@pytest.mark.parametrize("name", names())
def test_the_story_plays_as_told(name: str) -> None:
    story = story_named(name)
    if any(step.proved for step in story.step) and shutil.which("openssl") is None:
        pytest.skip("no openssl on this machine")
    told: list[str] = []
    played = play_story(story, None, tell=told.append)
    assert played.failed == []
    assert played.held >= sum(len(step.expect) for step in story.step)
    assert all(len(line) <= 84 for line in told)


def test_the_stories_that_are_promised_are_there() -> None:
    promised = {"two-laptops", "hoof-conflict", "remote-barn", "audit"}
    assert promised <= {name for name, _ in titles()}
    with pytest.raises(Refused, match="audit"):
        story_named("_founded")


def test_a_story_that_goes_another_way_says_so() -> None:
    story = Story(
        title="Slips",
        laptop=[Laptop("house", "Oda")],
        step=[
            Step(on="house", at="2026-03-01T09:00:00+00:00",
                 run="found Q --keeper Oda --device house"),
            Step(on="house", run="herd", expect=[Expect(count=3)]),
            Step(on="house", run="show Granite"),
            Step(on="house", run="herd", refused="no"),
            Step(on="house", run="herd", keep={"first": "0.id"}),
        ],
    )  # fmt: skip
    played = play_story(story, None, tell=None)
    assert len(played.failed) == 4


def test_laptops_are_kept_where_asked(tmp_path: Path) -> None:
    story = story_named("refused-things")
    play_story(story, tmp_path / "kept", tell=None)
    assert (tmp_path / "kept" / "house" / "farm.db").is_file()
    with pytest.raises(Refused, match="holds something"):
        play_story(story, tmp_path / "kept", tell=None)


@pytest.mark.parametrize(
    ("path", "found"),
    [
        ("", [ANSWER]),
        ("sum", [2]),
        ("due.1.name", ["Opal"]),
        ("due.*.name", ["Agate", "Opal"]),
        ("due.[name=Opal].days", [[]]),
        ("due.*.first.name", ["Agate"]),
        ("due.7", []),
        ("sum.deeper", []),
    ],
)
def test_paths_reach_into_answers(path: str, found: list[object]) -> None:
    assert reach(ANSWER, path) == found


def test_one_value_is_one() -> None:
    assert reach_one(ANSWER, "sum") == 2
    with pytest.raises(LookupError):
        reach_one(ANSWER, "due.*")


@pytest.mark.parametrize(
    ("expect", "holds"),
    [
        (Expect(at="sum", equals=2), True),
        (Expect(at="sum", equals=3), False),
        (Expect(at="due", count=2), True),
        (Expect(at="due.0.days", count=1), False),
        (Expect(at="due.*.name", holds="gat"), True),
        (Expect(at="due.*.name", holds="Mica"), False),
        (Expect(at="nothing", equals=None), False),
    ],
)
def test_expectations(expect: Expect, holds: bool) -> None:
    assert (unmet(ANSWER, expect) == "") is holds


def test_a_story_file_with_an_unknown_word_is_refused() -> None:
    with pytest.raises(BadBytes, match="Mend"):
        shaped(b'title = "x"\nwhatever = 1\n', Story, "x")
    with pytest.raises(BadBytes):
        shaped(b"\xff", Story, "x")
