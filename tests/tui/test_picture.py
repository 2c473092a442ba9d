"""A picture of a place is an SVG file that fetches nothing, stands at the moment set, and comes out alike."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest

from herdsync import founding
from herdsync.farm import Farm
from herdsync.wall import Wall
from tui import picture

MORNING = datetime(2026, 3, 14, 6, 30, tzinfo=UTC)


async def test_a_picture_shows_the_place_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("HERDSYNC_AT", MORNING.isoformat())
    folder = tmp_path / "farm"
    folder.mkdir()
    founding.found(folder, Wall(MORNING), name="Quillmoor Dairy", keeper="Oda", device="house")
    with Farm.open(folder, Wall(MORNING)) as farm:
        farm.record("animal", {"name": "Marl", "sex": "doe", "born": "2024-01-01"})
    drawn = []
    for out in (tmp_path / "once.svg", tmp_path / "again.svg"):
        await picture.picture(folder, "herd", out, (80, 24))
        drawn.append(out.read_text("utf-8"))
    words = " ".join("".join(ElementTree.fromstring(drawn[0]).itertext()).split())
    assert "Marl" in words and "Sat 14 Mar 06:30" in words
    assert "url(http" not in drawn[0] and "@font-face" not in drawn[0] and "circle" not in drawn[0]
    assert drawn[0] == drawn[1]


def test_misuse_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert picture.main(["farm", "herd", "out.svg"]) == picture.MISUSED
    assert "100x30" in capsys.readouterr().err
