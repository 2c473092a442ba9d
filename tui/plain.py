"""Any place, board or picture as plain lines on standard output, for pipes and screen readers.

No box is drawn, no colour is sent, and every mark of the screen is told as a word.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from herdsync.deeds import all_printed, place_named, printed_as
from herdsync.faults import DamagedFarm, Fault, Refused
from herdsync.safe_text import safe_text
from herdsync.wall import Wall
from tui import words
from tui.pages import (
    animal,
    boards,
    clocks,
    conflicts,
    counts,
    drawn,
    herd,
    kidding,
    lactations,
    medicine,
    milk,
    partners,
    rounds,
    settings,
    trail,
)

if TYPE_CHECKING:
    from herdsync.farm import Farm
    from tui.pages.drawn import Drawn
    from tui.pages.page import Fact, Page

REFUSED, DAMAGED = 1, 3
# Said under a line, though the screen tells them beside it: nobody may miss these.
NEVER_LEFT_OUT = ("!", "?", "In the way", "Law")
TAG_WORDS = {
    "■MILK": "milk held",
    "■MEAT": "meat held",
    "■BREED": "not to be bred",
    "■STAY": "to stay",
}
MARK_WORDS = {
    **{f"{mark} {state}": state for state, (mark, _) in words.STATES.items()},
    **TAG_WORDS, "■ held": "held", "■": "held",
    "≠": "differs:", "→": "to", "✓": "done", "▸": "", "▪": "", "◷": "",
}  # fmt: skip
# What only draws: bars, boxes and shades. The figures stand in words beside them.
DRAWN_FIRST, DRAWN_LAST = "\u2500", "\u28ff"


def print_place(opening: Callable[[], Farm], wall: Wall, word: str) -> int:
    """Print a place; the exit code."""
    told = printed_as(word)
    if told is None:
        print(
            f"There is no place '{safe_text(word)}'. Places are: {all_printed()}.", file=sys.stderr
        )
        return REFUSED
    try:
        with opening() as farm:
            now = wall.now().astimezone(farm.zone)
            with farm.one_look():
                lines = [title(farm, told[0], now), *place_lines(farm, *told, now)]
    except Fault as fault:
        print(safe_text(str(fault)), file=sys.stderr)
        return DAMAGED if isinstance(fault, DamagedFarm) else REFUSED
    for line in lines:
        print(line)
    return 0


def title(farm: Farm, name: str, now: datetime) -> str:
    """What is told, of which farm, when."""
    place = place_named(name)
    said = place.word if place is not None else name.capitalize()
    day = f"{words.WEEKDAYS[now.weekday()]} {now.day} {words.MONTHS[now.month - 1]} {now:%H:%M}"
    return worded(f"{said}, {farm.name}, {day}")


def place_lines(farm: Farm, name: str, whose: str, now: datetime) -> list[str]:
    """The lines of a place, board or picture."""
    if name == "conflicts":
        return conflict_lines(farm, now)
    if name in ("pens", "kiddings", "drawn"):
        return drawn_lines(_pictures(farm, name, whose))
    return page_lines(page_of(farm, name, whose, now))


def page_of(farm: Farm, name: str, whose: str, now: datetime) -> Page:
    """The page of a place or board."""
    pages: dict[str, Callable[[], Page]] = {
        "rounds": lambda: rounds.page(rounds.read(farm, every=False), now),
        "herd": lambda: herd.page(herd.read(farm, every=False), now),
        "kidding": lambda: kidding.read(farm, now),
        "medicine": lambda: medicine.page(medicine.read(farm, farm.timers()), now),
        "milk": lambda: milk.read(farm, now),
        "trail": lambda: trail.page(trail.read(farm), now),
        "partners": lambda: partners.page(partners.read(farm), now),
        "clocks": lambda: clocks.page(farm.timers(), now),
        "yields": lambda: lactations.read(farm),
        "worms": lambda: boards.worms(farm),
        "tests": lambda: boards.tests(farm),
        "marks": lambda: boards.marks(farm),
        "bucks": lambda: boards.bucks(farm, whose),
        "settings": lambda: settings.settings_page(farm.settings()),
        "plan": lambda: settings.plan_page(farm.plan()),
        "unvouched": lambda: trail.unvouched_page(trail.unvouched(farm), now),
        "animal": lambda: animal.page(animal.read(farm, whose), now),
        "walk": lambda: walk_page(farm, whose, now),
    }
    return pages[name]()


def walk_page(farm: Farm, pen: str, now: datetime) -> Page:
    """The work of one pen, in the order of the walk. Raises Refused where there is no such pen."""
    told = rounds.read(farm, every=False)
    known = {line.pen for line in told.due} | set(told.pens)
    named = {one.casefold(): one for one in known}
    if pen.casefold() not in named:
        raise Refused(f"No pen is called '{pen}'.", f"Pens are: {', '.join(sorted(known))}.")
    due = [line for line in told.due if line.pen == named[pen.casefold()]]
    heads = counts.of_pen(told.counts, named[pen.casefold()])
    return rounds.page(rounds.Rounds(due, told.herd, told.pens, heads), now)


def _pictures(farm: Farm, name: str, whose: str) -> list[Drawn]:
    if name == "drawn":
        return drawn.of_animal(farm, whose)
    return drawn.pens(farm) if name == "pens" else drawn.kiddings(farm)


def drawn_lines(pictures: Sequence[Drawn]) -> list[str]:
    """Of each picture its title and its figures."""
    lines = []
    for one in pictures:
        lines += [worded(f"{one.title}:"), *(f"  {line}" for line in page_lines(one.page))]
    return lines


def page_lines(page: Page) -> list[str]:
    """Every line of a page in words, its cells parted by semicolons, what to beware of under it."""
    lines = []
    before: list[str] = []
    for row in page.rows:
        cells = [worded(cell.text) for cell in row.cells]
        line = "; ".join(cell for cell in cells if cell)
        lines.append(f"{line}:" if row.heading else line)
        beware = list(_beware(page.facts.get(row.key, [])))
        lines += [one for one in beware if one not in before]
        before = beware
    return lines or [safe_text(line) for line in page.empty.split("\n")]


def _beware(facts: Sequence[Fact]) -> Iterator[str]:
    for fact in facts:
        if fact.label.startswith(NEVER_LEFT_OUT):
            said = " ".join(worded(line) for line in fact.text.split("\n"))
            yield f"  {worded(fact.label.lstrip('!? ')) or 'Beware'}: {said}"


def conflict_lines(farm: Farm, now: datetime) -> list[str]:
    """Every open conflict with its accounts, one after another."""
    told = conflicts.read(farm, farm.timers(), every=False)
    lines = []
    for line in told.lines:
        lines.append(f"{line.name or 'the farm'}; {conflicts.what(line)}; {line.says.rstrip('.')}:")
        for claim in line.claims:
            said = [text for text, _ in conflicts.account_lines(claim, line, told, now)]
            lines.append("  " + "; ".join([conflicts.who(claim), *said]))
        shared = conflicts.in_common(line, told, now)
        lines += [f"  {one}" for one in (shared, line.mend) if one]
    empty = conflicts.EMPTY.split("\n")
    return [f"{'  ' if one[:2] == '  ' else ''}{worded(one)}" for one in lines] or empty


def worded(text: str) -> str:
    """``text`` made safe, every mark in it told as a word, nothing in it that only draws."""
    told = safe_text(text.strip())
    told = f"caution: {told[2:]}" if told.startswith("! ") else told
    told = f"in doubt: {told[2:]}" if told.startswith("? ") else told
    for mark, word in MARK_WORDS.items():
        told = told.replace(mark, word)
    told = "".join(letter for letter in told if not DRAWN_FIRST <= letter <= DRAWN_LAST)
    return " ".join(told.split())
