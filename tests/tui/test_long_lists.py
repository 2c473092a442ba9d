"""Of a long list only what is seen is worked out, told and drawn: counted, not timed."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from herdsync.answers import DueLine, HerdLine
from tests.tui.fake_farm import NOW, FakeFarm, due_line, herd_line
from tests.tui.stage import Stage, staged
from tui.pages import kidding, rounds
from tui.widgets.lines import Lines

ANIMALS = 600
SEEN = 24


class Long(FakeFarm):
    """A farm of many animals with one piece of work each."""

    def _due(self) -> list[DueLine]:
        return [due_line(f"w{n}", f"Doe {n}", "Doe barn", "trim", "x") for n in range(ANIMALS)]

    def _animals(self) -> list[HerdLine]:
        return [herd_line(f"Doe {n}", "doe", 900, "Doe barn") for n in range(ANIMALS)]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often the cells of each line were worked out, and how often facts were told."""
    counted: Counter[str] = Counter()
    cells, facts = rounds._cells, rounds.line_facts

    def counting_cells(line: DueLine, *rest: Any, **more: Any) -> Any:
        counted[line.id] += 1
        return cells(line, *rest, **more)

    def counting_facts(*told: Any) -> Any:
        counted["facts"] += 1
        return facts(*told)

    monkeypatch.setattr(rounds, "_cells", counting_cells)
    monkeypatch.setattr(rounds, "line_facts", counting_facts)
    return counted


async def shown(stage: Stage, told: Counter[str]) -> list[str]:
    """The lines worked out since last asked, facts left aside."""
    await stage.settle()
    found = [id for id in told.elements() if id != "facts"]
    told.clear()
    return found


async def test_only_lines_that_are_seen_are_worked_out(told: Counter[str]) -> None:
    async with staged(Long()) as stage:
        assert f"{ANIMALS} to do" in stage.text
        assert 0 < told["facts"] < 4
        first = await shown(stage, told)
        assert len(set(first)) < SEEN
        await stage.press("end")
        last = await shown(stage, told)
        assert f"w{ANIMALS - 1}" in last and len(set(last)) < SEEN


async def test_a_key_draws_one_line_that_was_not_drawn_before(told: Counter[str]) -> None:
    async with staged(Long()) as stage:
        await stage.press("down")
        await shown(stage, told)
        await stage.press("down")
        # The line come to, with its mark; the line left was drawn without one before.
        assert await shown(stage, told) == ["w2"]
        await stage.press("up")
        assert await shown(stage, told) == []


async def test_scrolling_draws_only_what_comes_into_sight(told: Counter[str]) -> None:
    async with staged(Long()) as stage:
        await stage.press(*["down"] * SEEN)
        await shown(stage, told)
        await stage.press("down")
        assert len(await shown(stage, told)) <= 3


async def test_another_page_look_or_width_is_drawn_anew() -> None:
    farm = Long()
    async with staged(farm) as stage:
        lines = stage.app.screen.query_one(Lines)
        before = {y: lines.render_line(y) for y in range(4)}
        await stage.press("f8")
        other = {y: lines.render_line(y) for y in range(4)}
        assert all([*before[y]] != [*other[y]] for y in range(4))
        farm.lines[0] = due_line("w0", "Renamed", "Doe barn", "trim", "x")
        assert "Renamed" not in stage.text
        stage.app._refresh_place()
        assert "Renamed" in await stage.press()
        await stage.press("space")
        assert "✓" in stage.text
        await stage.pilot.resize_terminal(60, 20)
        assert all(len(line) <= 60 for line in (await stage.press()).splitlines())


def test_a_meeting_in_a_large_pen_is_told_when_it_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    farm = FakeFarm()
    farm.exposures = lambda: FakeFarm.exposures(farm) * ANIMALS  # type: ignore[method-assign]
    told: Counter[str] = Counter()
    cells, facts = kidding._met, kidding._met_facts
    monkeypatch.setattr(kidding, "_met", lambda *of: told.update(["cells"]) or cells(*of))
    monkeypatch.setattr(kidding, "_met_facts", lambda of: told.update(["facts"]) or facts(of))
    page = kidding.read(farm, NOW)  # type: ignore[arg-type]
    met = [row for row in page.rows if row.key.startswith("met ")]
    assert len(met) == ANIMALS and not told
    assert "with Flint" in met[7].cells[1].text
    assert page.facts[met[7].key][1].text == "25 %"
    assert told == {"cells": 1, "facts": 1}
