"""Milk and medicine of the farm made of answers."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from tests.tui.fake_barn import Barn
from tests.tui.fake_lines import id_of


class Shelf(Barn):
    """What is milked and what stands on the shelf."""

    def milk(self, days: int = 7) -> list[Any]:
        return [
            SimpleNamespace(
                animal=id_of(name), name=name, milkings=8, milk_kg=10.5, sold_kg=9.0, held_kg=1.5,
                in_milk=True, days_in_milk=80, disputed=False,
            )
            for name in ("Agate", "Opal")
        ]  # fmt: skip
