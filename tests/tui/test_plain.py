"""Every place, board and picture as plain lines: words for marks, no drawing, no colour, no harm."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from herdsync.deeds import PLACES, PRINTED, printed_as
from herdsync.farm import Farm
from herdsync.wall import Wall
from scenarios.demo import make_demo
from tests.tui import fake_farm
from tests.tui.fake_farm import FakeFarm
from tests.tui.test_hostile import HOSTILE, HostileFarm
from tui.plain import print_place, worded

OF_WHOM = {"NAME": "Agate", "DOE": "Agate", "PEN": "North pen"}
BOARDS = [one for one in PRINTED if ":" not in one]
NAMED = [one.partition(":") for one in PRINTED if ":" in one]
ASKED = [
    *(place.id for place in PLACES),
    *BOARDS,
    *(f"{name}:{OF_WHOM[wants]}" for name, _, wants in NAMED),
]
MARKS = set("◆▲●○▪✕■▸✓◷≠│─╭╰▔▏█░")


def printed(farm: type[FakeFarm], word: str, capsys: pytest.CaptureFixture[str]) -> str:
    assert print_place(farm, fake_farm.StillWall(), word) == 0  # type: ignore[arg-type]
    return capsys.readouterr().out


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plain")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HERDSYNC_KEYS", str(folder / "keys"))
        return Path(make_demo(folder / "demo", Wall()).house)


@pytest.mark.parametrize("word", ASKED)
def test_everything_there_is_can_be_printed(
    word: str, demo: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(demo.parent.parent / "keys"))
    wall = Wall()
    assert print_place(lambda: Farm.open(demo, wall), wall, word) == 0
    told = capsys.readouterr()
    first, *lines = told.out.splitlines()
    assert "Quillmoor Dairy" in first and lines and not told.err
    assert not set(told.out) & MARKS
    assert "\x1b" not in told.out
    drawn = [
        one for one in told.out if unicodedata.category(one) in ("So", "Sk", "Cc") and one != "\n"
    ]
    assert set(drawn) <= {"°"}


def test_marks_are_told_as_words(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(FakeFarm, "Rounds", capsys)
    assert "Doe barn; 13 to do, 12 press:" in out and "late; Agate; P1" in out
    assert "closing; Onyx" in out and "Opal milk held" in out
    assert "  Caution: Heat the iron and prove it on wood" in out
    assert worded("! Disbud, if horned") == "caution: Disbud, if horned"
    assert worded("≠ front right: rot → ok") == "differs: front right: rot to ok"


@pytest.mark.parametrize("place", [place.id for place in PLACES])
def test_hostile_text_is_harmless(place: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert "\x1b" in HOSTILE
    out = printed(HostileFarm, place, capsys)
    assert all(" " <= letter != "\x7f" or letter == "\n" for letter in out)
    assert not any(unicodedata.category(letter) in ("Cc", "Cf") for letter in out if letter != "\n")


def test_an_empty_place_says_what_to_do_next(capsys: pytest.CaptureFixture[str]) -> None:
    class Empty(FakeFarm):
        def __init__(self) -> None:
            super().__init__()
            self.lines, self.animals, self.disputes = [], [], []

    assert "No animal is written down yet." in printed(Empty, "rounds", capsys)
    assert "Everything written agrees." in printed(Empty, "conflicts", capsys)


def test_what_is_no_place_is_refused_with_those_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    wall = fake_farm.StillWall()
    for word in ("attic", "rounds:Agate", "animal", "animal:"):
        assert printed_as(word) is None
        assert print_place(FakeFarm, wall, word) == 1  # type: ignore[arg-type]
        told = capsys.readouterr()
        assert "There is no place" in told.err and "animal:NAME" in told.err and not told.out
