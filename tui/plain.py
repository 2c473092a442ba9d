"""Any place as plain lines on standard output, for pipes and screen readers: no box is drawn."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.deeds import PLACES, place_named
from herdsync.faults import DamagedFarm, Fault
from herdsync.safe_text import safe_text
from herdsync.wall import Wall
from tui.pages import clocks, conflicts, herd, kidding, medicine, milk, partners, rounds, trail

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.pages.page import Page

REFUSED, DAMAGED = 1, 3


def print_place(opening: Callable[[], Farm], wall: Wall, word: str) -> int:
    """Print a place; the exit code."""
    place = place_named(word)
    if place is None and word.strip().casefold() != "clocks":
        known = ", ".join(one.id for one in PLACES)
        print(
            f"There is no place '{safe_text(word)}'. Places are: {known}, clocks.", file=sys.stderr
        )
        return REFUSED
    try:
        with opening() as farm:
            now = wall.now().astimezone(farm.zone)
            lines = place_lines(farm, place.id if place is not None else "clocks", now)
    except Fault as fault:
        print(safe_text(str(fault)), file=sys.stderr)
        return DAMAGED if isinstance(fault, DamagedFarm) else REFUSED
    for line in lines:
        print(line)
    return 0


def place_lines(farm: Farm, place: str, now: datetime) -> list[str]:
    """The lines of a place."""
    if place == "conflicts":
        return conflict_lines(farm, now)
    return page_of(farm, place, now).plain_lines()


def page_of(farm: Farm, place: str, now: datetime) -> Page:
    """The page of a place."""
    pages: dict[str, Callable[[], Page]] = {
        "rounds": lambda: rounds.page(rounds.read(farm, every=False), now),
        "herd": lambda: herd.page(herd.read(farm, every=False), now),
        "kidding": lambda: kidding.read(farm, now),
        "medicine": lambda: medicine.page(medicine.read(farm), now),
        "milk": lambda: milk.read(farm, now),
        "trail": lambda: trail.page(trail.read(farm), now),
        "partners": lambda: partners.page(partners.read(farm), now),
        "clocks": lambda: clocks.page(farm.timers(), now),
    }
    return pages[place]()


def conflict_lines(farm: Farm, now: datetime) -> list[str]:
    """Every open conflict with its accounts, one after another."""
    told = conflicts.read(farm, every=False)
    lines = []
    for line in told.lines:
        lines.append(f"{line.name or 'the farm'}; {conflicts.what(line)}; {line.says}:")
        for claim in line.claims:
            said = [text for text, _ in conflicts.account_lines(claim, line, told, now)]
            lines.append("  " + "; ".join([conflicts.who(claim), *said]))
        lines.append(f"  {line.mend}")
    return [safe_text(one) for one in lines] or [conflicts.EMPTY]
