"""Papers on a real farm by one key, of one animal and of several that are selected."""

from __future__ import annotations

from pathlib import Path

import pytest

from herdsync.acts import fonts
from herdsync.acts.proving import check_proof
from herdsync.farm import Farm
from herdsync.wall import Wall
from tests.tui.test_real_farm import MORNING, founded, laptop, type_in


@pytest.fixture(autouse=True)
def keys_and_fonts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    monkeypatch.setattr(fonts, "folders", list)


async def test_one_key_hands_over_one_animal_or_several(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    founded(folder)
    with Farm.open(folder, Wall(MORNING)) as farm:
        for name in ("Agate", "Opal"):
            farm.record("animal", {"name": name, "sex": "doe", "born": "2022-03-01",
                                   "tattoo_right": "QMR", "tattoo_left": f"P{len(name)}"})  # fmt: skip
        test = farm.record("disease-test", {"animal": "Opal", "disease": "CAE",
                                            "result": "positive", "on": "2026-03-01"}).id  # fmt: skip
    one, both = tmp_path / "one", tmp_path / "both"
    async with laptop(folder, (100, 40)) as stage:
        await stage.press("2", "f9", "enter", "enter")
        await type_in(stage, "Marta", "")
        await stage.press("ctrl+u")
        await stage.type(str(one))
        text = await stage.press("ctrl+s")
        assert "Sale sheet: ✓ may be handed over" in text
        await stage.press("enter")
        # Both are selected: the one that may not leave names the record that keeps it.
        await stage.press("s", "down", "s", "f9", "enter", "enter")
        await type_in(stage, "Marta", "")
        await stage.press("ctrl+u")
        await stage.type(str(both))
        text = await stage.press("ctrl+s")
        assert "Sale sheet: ▲ may NOT be handed over yet" in text
        assert test[:8] in text
    names = sorted(file.name for file in both.iterdir())
    assert "sale-sheet-agate-proof.txt" in names
    assert "sale-sheet-opal.pdf" in names
    assert "sale-sheet-opal-proof.txt" not in names
    sheet = (one / "sale-sheet-agate.txt").read_text(encoding="utf-8")
    assert "Buyer                     Marta" in sheet
    assert check_proof(one / "sale-sheet-agate.pdf").holds
