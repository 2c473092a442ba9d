"""Meetings of laptops over a folder, for the tests of exchange."""

from __future__ import annotations

from pathlib import Path

from herdsync.exchange.bundles import Moved, exchange_folder
from herdsync.log.entry import Entry
from tests.exchange.conftest import Maker
from tests.exchange.laptops import Laptop, admission_of, entropy_of, founding_of

FOUNDING = founding_of("house")


def meet(laptop: Laptop, folder: Path) -> Moved:
    return exchange_folder(folder, laptop.ledger, 0, entropy_of(f"{laptop.name} exchange"))


def quietly(laptop: Laptop, folder: Path) -> Moved:
    """An exchange at which nothing is refused and nothing noticed."""
    moved = meet(laptop, folder)
    assert (moved.refused, moved.noticed) == ([], [])
    return moved


def farm(laptop: Maker, *names: str) -> list[Laptop]:
    """Laptops that only have the founding entry, all admitted by the first, who alone knows it."""
    first, *others = [laptop(name, FOUNDING) for name in names]
    for one in others:
        first.write(admission_of(one.name))
    return [first, *others]


def bundles_in(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir() if one.name.endswith(".bundle"))


def everything(laptop: Laptop) -> list[Entry]:
    return list(laptop.ledger.entries(laptop.ledger.runs()))
