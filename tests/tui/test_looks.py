"""A place is opened in the look of the moment without reading the style sheets anew, and follows the look."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from textual.css.stylesheet import Stylesheet

from tests.tui.fake_farm import FakeFarm
from tests.tui.stage import Stage, staged
from tui.places import place
from tui.widgets.lines import Lines

PLACES = "2345678"


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Grows whenever all style sheets are read anew."""
    found: list[str] = []
    reparse = Stylesheet.reparse

    def counted(self: Stylesheet) -> None:
        found.append("read")
        reparse(self)

    monkeypatch.setattr(Stylesheet, "reparse", counted)
    return found


async def opened(read: list[str]) -> int:
    """How often the style sheets are read while every place is opened for the first time."""
    async with staged(FakeFarm()) as stage:
        read.clear()
        await stage.press(*PLACES)
        return len(read)


async def test_no_style_sheet_is_read_anew_for_a_place(read: list[str]) -> None:
    assert await opened(read) == 0


async def test_without_it_every_place_would_read_them_twice(
    read: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(place, "styled_as_mounted", lambda screen, app: None)
    assert await opened(read) >= len(PLACES), "Textual does it no longer: take the count out"


def ground(stage: Stage) -> object:
    return stage.app.screen.query_one(Lines).rich_style.bgcolor


async def test_places_opened_before_and_after_follow_a_change_of_the_look() -> None:
    async with staged(FakeFarm()) as stage:
        before = ground(stage)
        await stage.press("2")
        assert ground(stage) == before
        await stage.press("f8")
        after = ground(stage)
        assert after != before
        for key in ("1", "3", "2", "4"):  # opened before, never opened, changed in, never opened
            await stage.press(key)
            assert ground(stage) == after


def test_a_textual_that_counts_no_looks_is_left_alone() -> None:
    screen, app = SimpleNamespace(), SimpleNamespace()
    place.styled_as_mounted(screen, app)
    assert vars(screen) == {}
    app._css_update_count = 3
    place.styled_as_mounted(screen, app)
    assert vars(screen) == {}
    screen._css_update_count = -1
    place.styled_as_mounted(screen, app)
    assert vars(screen) == {"_css_update_count": 3}
