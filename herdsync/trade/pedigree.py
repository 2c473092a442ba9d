"""The herd book as a graph: who descends from whom, put in order, with what cannot be set apart.

A loop, an animal that is its own parent or an impossible age is a value on a list, never a crash:
the rest of the book stays usable. Knows parents, sexes and birth dates; must not know how close
two animals are (``relationship``), and nothing of records or conflicts.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from herdsync.trade.maturity import FEMALE_ABLE_DAYS, MALE_ABLE_DAYS
from herdsync.trade.reproduction import WATCH_FROM_DAYS

# No herd book is as deep; the bound keeps the exact sums small. Deeper links are left out and said.
DEEPEST_GENERATIONS = 250

UNKNOWN = -1


class Parentage(NamedTuple):
    """One line of the herd book; ids are opaque, ``name`` serves the sentences only.

    ``sex`` is doe, buck, intersex or unknown as born. A parent that is only presumed (pen mating,
    hearsay, disputed) has ``sire_sure`` or ``dam_sure`` false.
    """

    animal: str
    sire: str | None = None
    dam: str | None = None
    sex: str = "unknown"
    born: date | None = None
    name: str = ""
    sire_sure: bool = True
    dam_sure: bool = True


class PedigreeFault(NamedTuple):
    """One thing that cannot be so.

    ``kind`` is own-parent, one-parent-twice, loop, sex, age or too-deep; ``left_out`` says whether
    the parents concerned are left out of the sums (counted as unknown).
    """

    kind: str
    animals: tuple[str, ...]
    left_out: bool
    reason: str


@dataclass(frozen=True, slots=True)
class HerdBook:
    """The pedigree in an order that puts parents before offspring; build it with ``herd_book``.

    ``sires`` and ``dams`` hold positions, ``UNKNOWN`` where there is none; ``deepest`` the longest
    line of known ancestors of each animal.
    """

    ids: tuple[str, ...]
    sires: tuple[int, ...]
    dams: tuple[int, ...]
    deepest: tuple[int, ...]
    lines: dict[str, Parentage]
    faults: tuple[PedigreeFault, ...] = ()
    places: dict[str, int] = field(default_factory=dict)

    def place(self, animal: str) -> int:
        """The position of an animal; raises ValueError where the book lacks it."""
        found = self.places.get(animal)
        if found is None:
            raise ValueError(f"{animal} is not in the herd book; record the animal first")
        return found

    def called(self, animal: str) -> str:
        """The name an animal goes by in a sentence, else its id."""
        line = self.lines.get(animal)
        return (line.name or animal) if line else animal

    def parents(self, place: int) -> Iterator[int]:
        """Positions of the known parents."""
        for parent in (self.sires[place], self.dams[place]):
            if parent != UNKNOWN:
                yield parent

    def ancestors(self, places: Iterable[int]) -> set[int]:
        """Positions of some animals and of all they descend from."""
        found: set[int] = set()
        ahead = list(places)
        while ahead:
            place = ahead.pop()
            if place not in found:
                found.add(place)
                ahead.extend(self.parents(place))
        return found

    def part(self, animals: Iterable[str]) -> HerdBook:
        """The book of some animals and their ancestors only, for a sum about few of many."""
        kept = sorted(self.ancestors(self.place(animal) for animal in animals))
        moved = {old: new for new, old in enumerate(kept)}
        moved[UNKNOWN] = UNKNOWN
        ids = tuple(self.ids[old] for old in kept)
        return HerdBook(
            ids,
            tuple(moved[self.sires[old]] for old in kept),
            tuple(moved[self.dams[old]] for old in kept),
            tuple(self.deepest[old] for old in kept),
            {animal: self.lines[animal] for animal in ids},
            self.faults,
            {animal: new for new, animal in enumerate(ids)},
        )


def herd_book(
    lines: Iterable[Parentage],
    *,
    male_able_days: int = MALE_ABLE_DAYS,
    female_able_days: int = FEMALE_ABLE_DAYS,
) -> HerdBook:
    """Put a herd book in order, whatever order its lines come in.

    A parent must have been able to breed (settings of the farm, in days of age) before the
    earliest day a kidding is watched for. Parents without a line of their own become founders.
    The answer depends on the set of lines only. Raises ValueError where two lines are about one animal.
    """
    by_id = _by_id(lines)
    links: dict[str, tuple[str | None, str | None]] = {
        animal: (line.sire, line.dam) for animal, line in by_id.items()
    }
    faults = _without_impossible_pairs(by_id, links)
    faults += _without_loops(by_id, links)
    order = _parents_first(links)
    deepest, too_deep = _depths(by_id, links, order)
    faults += too_deep
    faults += _doubtful_parents(by_id, male_able_days, female_able_days)
    places = {animal: place for place, animal in enumerate(order)}
    sires = tuple(_place(places, links[animal][0]) for animal in order)
    dams = tuple(_place(places, links[animal][1]) for animal in order)
    return HerdBook(tuple(order), sires, dams, deepest, by_id, tuple(faults), places)


def _by_id(lines: Iterable[Parentage]) -> dict[str, Parentage]:
    found: dict[str, Parentage] = {}
    for line in lines:
        if line.animal in found:
            raise ValueError(f"two lines of the herd book are about {line.animal}; give one")
        found[line.animal] = line
    named = {parent for line in found.values() for parent in (line.sire, line.dam) if parent}
    for parent in named - found.keys():
        found[parent] = Parentage(parent)
    return dict(sorted(found.items()))


def _place(places: dict[str, int], animal: str | None) -> int:
    return UNKNOWN if animal is None else places[animal]


def _name(by_id: dict[str, Parentage], animal: str) -> str:
    return by_id[animal].name or animal


def _without_impossible_pairs(
    by_id: dict[str, Parentage], links: dict[str, tuple[str | None, str | None]]
) -> list[PedigreeFault]:
    """Cut links to oneself, and both links where one animal stands as sire and as dam."""
    faults = []
    for animal, (sire, dam) in links.items():
        name = _name(by_id, animal)
        if animal in (sire, dam):
            links[animal] = (None if sire == animal else sire, None if dam == animal else dam)
            reason = f"{name} is written down as its own parent; that parent is left out"
            faults.append(PedigreeFault("own-parent", (animal,), True, reason))
        elif sire is not None and sire == dam:
            links[animal] = (None, None)
            reason = f"{_name(by_id, sire)} is both sire and dam of {name}; both are left out"
            faults.append(PedigreeFault("one-parent-twice", (animal, sire), True, reason))
    return faults


def _without_loops(
    by_id: dict[str, Parentage], links: dict[str, tuple[str | None, str | None]]
) -> list[PedigreeFault]:
    """Cut every link inside a ring of descent: which of them is wrong nobody can tell."""
    faults = []
    for ring in _rings(links):
        members = set(ring)
        for animal in ring:
            sire, dam = links[animal]
            links[animal] = (None if sire in members else sire, None if dam in members else dam)
        names = ", ".join(_name(by_id, animal) for animal in ring)
        reason = f"{names} descend from each other; the links between them are left out"
        faults.append(PedigreeFault("loop", ring, True, reason))
    return faults


def _rings(links: dict[str, tuple[str | None, str | None]]) -> list[tuple[str, ...]]:
    """Groups of animals that descend from each other (strongly connected; Tarjan 1972, by hand).

    A stack of our own instead of recursion: a long pedigree must not depend on the caller's stack.
    """
    found: dict[str, int] = {}
    lowest: dict[str, int] = {}
    open_ones: list[str] = []
    is_open: set[str] = set()
    rings = []
    for start in links:
        if start in found:
            continue
        path = [(start, _known(links[start]))]
        while path:
            animal, ahead = path[-1]
            if animal not in found:
                found[animal] = lowest[animal] = len(found)
                open_ones.append(animal)
                is_open.add(animal)
            for parent in ahead:
                if parent not in found:
                    path.append((parent, _known(links[parent])))
                    break
                if parent in is_open:
                    lowest[animal] = min(lowest[animal], lowest[parent])
            else:
                path.pop()
                if path:
                    child = path[-1][0]
                    lowest[child] = min(lowest[child], lowest[animal])
                if lowest[animal] == found[animal]:
                    rings.append(_closed(animal, open_ones, is_open))
    return sorted(tuple(sorted(ring)) for ring in rings if len(ring) > 1)


def _known(parents: tuple[str | None, str | None]) -> Iterator[str]:
    return iter([parent for parent in parents if parent is not None])


def _closed(animal: str, open_ones: list[str], is_open: set[str]) -> list[str]:
    """Take the finished group headed by ``animal`` off the stack."""
    ring: list[str] = []
    while not ring or ring[-1] != animal:
        ring.append(open_ones.pop())
        is_open.discard(ring[-1])
    return ring


def _parents_first(links: dict[str, tuple[str | None, str | None]]) -> list[str]:
    """All animals, each after its parents, the smallest id first among those that are free."""
    waiting = {animal: sum(p is not None for p in pair) for animal, pair in links.items()}
    offspring: dict[str, list[str]] = {}
    for animal, pair in links.items():
        for parent in _known(pair):
            offspring.setdefault(parent, []).append(animal)
    free = [animal for animal, count in waiting.items() if count == 0]
    heapq.heapify(free)
    order = []
    while free:
        animal = heapq.heappop(free)
        order.append(animal)
        for child in offspring.get(animal, ()):
            waiting[child] -= 1
            if waiting[child] == 0:
                heapq.heappush(free, child)
    assert len(order) == len(links), "a ring of descent was left in the book"
    return order


def _depths(
    by_id: dict[str, Parentage],
    links: dict[str, tuple[str | None, str | None]],
    order: Sequence[str],
) -> tuple[tuple[int, ...], list[PedigreeFault]]:
    """Longest line behind each animal; links beyond the bound are cut and said."""
    depths: dict[str, int] = {}
    faults = []
    for animal in order:
        depth = max((depths[parent] + 1 for parent in _known(links[animal])), default=0)
        if depth > DEEPEST_GENERATIONS:
            links[animal] = (None, None)
            depth = 0
            reason = (
                f"{_name(by_id, animal)} has more than {DEEPEST_GENERATIONS} generations behind "
                "it, which no herd book has; its parents are left out"
            )
            faults.append(PedigreeFault("too-deep", (animal,), True, reason))
        depths[animal] = depth
    return tuple(depths[animal] for animal in order), faults


def _doubtful_parents(
    by_id: dict[str, Parentage], male_able_days: int, female_able_days: int
) -> list[PedigreeFault]:
    """Parents of the wrong sex or too young; kept in the sums, for sex or date may be the slip."""
    faults = []
    for line in by_id.values():
        for parent, role, wrong, youngest in (
            (line.sire, "sire", "doe", male_able_days),
            (line.dam, "dam", "buck", female_able_days),
        ):
            if parent is None or parent == line.animal:
                continue
            whole = (line.animal, parent)
            kid, name = _name(by_id, line.animal), _name(by_id, parent)
            if by_id[parent].sex == wrong:
                reason = f"{name} is the {role} of {kid} but is written down as a {wrong}"
                faults.append(PedigreeFault("sex", whole, False, reason))
            age = _age_at_birth(by_id[parent].born, line.born)
            if age is not None and age < youngest + WATCH_FROM_DAYS:
                reason = (
                    f"{name}, {role} of {kid}, was {age} days old at that birth; "
                    f"{youngest + WATCH_FROM_DAYS} is the least that can be"
                )
                faults.append(PedigreeFault("age", whole, False, reason))
    return faults


def _age_at_birth(parent_born: date | None, kid_born: date | None) -> int | None:
    if parent_born is None or kid_born is None:
        return None
    return (kid_born - parent_born).days
