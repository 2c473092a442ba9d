"""What cannot be in a herd: one mark on two animals, parents of the wrong sex or age, loops of descent.

Survives anything: loops, missing parents, dates that cannot be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds.kind import PairRule
from herdsync.kinds.on import span
from herdsync.merge.records import Record, Records

_UTC = ZoneInfo("UTC")

# A doeling can conceive from about 3 months (Extension Goat Handbook, NAL 1992, D-6) and carries at
# least 145 days (Storey's Guide to Raising Dairy Goats, 5th ed.): no dam is younger than this.
YOUNGEST_DAM = timedelta(days=90 + 145)

Impossible = tuple[str, list[Record], str]


def doubly_marked(animals: Iterable[Record]) -> Iterator[tuple[list[str], Record, Record]]:
    """Two animals that bear one mark between them, with all such marks in words."""
    bearing: dict[tuple[str, ...], list[Record]] = {}
    for animal in animals:
        for mark in marks_of(animal):
            bearing.setdefault(mark, []).append(animal)
    marks: dict[tuple[bytes, bytes], list[str]] = {}
    pairs: dict[tuple[bytes, bytes], tuple[Record, Record]] = {}
    for mark, who in sorted(bearing.items()):
        for a, b in combinations(sorted(who, key=lambda one: one.id), 2):
            words = f"{mark[0]} {' '.join(part for part in mark[1:] if part)}"
            marks.setdefault((a.id, b.id), []).append(words)
            pairs[(a.id, b.id)] = (a, b)
    for ids, (a, b) in sorted(pairs.items()):
        yield marks[ids], a, b


def marks_of(animal: Record) -> set[tuple[str, ...]]:
    """Every mark that should be the animal's alone; a tattoo is both ears together."""
    marks: set[tuple[str, ...]] = set()
    for left in animal.values("tattoo_left"):
        for right in animal.values("tattoo_right") or [""]:
            marks.add(("tattoo", folded(right), folded(left)))
    for field, word in (("tattoo_tail", "tail tattoo"), ("tag", "tag"), ("chip", "chip")):
        marks |= {(word, folded(told)) for told in animal.values(field)}
    return {mark for mark in marks if mark[-1]}


def folded(mark: Any) -> str:
    """A mark as it is compared: capitals, no blanks, a number's leading noughts dropped after a letter."""
    text = "".join(str(mark).upper().split())
    letters = text.rstrip("0123456789")
    digits = text[len(letters) :]
    return letters + (digits.lstrip("0") or digits) if letters else text


def perhaps_one(
    animals: Iterable[Record], rule: PairRule, records: Records
) -> Iterator[tuple[Record, Record]]:
    """Pairs of animals that agree on one of the rule's alternatives."""
    pairs: dict[tuple[bytes, bytes], tuple[Record, Record]] = {}
    for fields in rule.any_of:
        groups: dict[tuple[Any, ...], list[Record]] = {}
        for animal in animals:
            told = (animal.value(field) for field in fields)
            key = tuple(records.canonical(one) if isinstance(one, bytes) else one for one in told)
            if all(part not in (None, "", "unknown") for part in key):
                groups.setdefault(key, []).append(animal)
        for group in groups.values():
            for a, b in combinations(group, 2):
                pairs[(a.id, b.id)] = (a, b)
    yield from pairs.values()


def impossible(animals: list[Record], records: Records) -> Iterator[Impossible]:
    """Parents of the wrong sex or age, and animals that descend from themselves."""
    for animal in animals:
        for field, wrong, word in (("dam", "buck", "dam"), ("sire", "doe", "sire")):
            parent = _parent(animal, field, records)
            if parent is None or parent.id == animal.id:
                continue
            if parent.values("sex") == [wrong]:
                says = f"The {word} of an animal is recorded as a {wrong}."
                yield (f"{word} of the wrong sex", [parent, animal], says)
            if _too_young(parent, animal, field):
                says = f"The {word} of an animal was not old enough when it was born."
                yield (f"{word} too young", [parent, animal], says)
    for loop in _loops(animals, records):
        says = "These animals descend from each other, which cannot be."
        yield ("pedigree loop", loop, says)


def _parent(animal: Record, field: str, records: Records) -> Record | None:
    told = animal.value(field)
    return records.get(told) if isinstance(told, bytes) else None


def _too_young(parent: Record, child: Record, field: str) -> bool:
    born, when = parent.value("born"), child.value("born")
    if not isinstance(born, str) or not isinstance(when, str):
        return False
    least = YOUNGEST_DAM if field == "dam" else timedelta(0)
    return span(when, _UTC)[1] - span(born, _UTC)[0] <= least


def _loops(animals: list[Record], records: Records) -> Iterator[list[Record]]:
    """Each knot of animals that are their own ancestors, once (Tarjan's strongly connected components)."""
    parents = {
        animal.id: sorted(
            {
                parent.id
                for field in ("dam", "sire")
                if (parent := _parent(animal, field, records)) is not None
            }
        )
        for animal in animals
    }
    by_id = {animal.id: animal for animal in animals}
    for knot in knots(parents):
        if len(knot) > 1 or knot[0] in parents.get(knot[0], []):
            yield [by_id[id] for id in sorted(knot) if id in by_id]


def knots(parents: dict[bytes, list[bytes]]) -> Iterator[list[bytes]]:
    """Strongly connected components of the graph child -> parents (Tarjan 1972), without recursion."""
    index: dict[bytes, int] = {}
    low: dict[bytes, int] = {}
    on_stack: set[bytes] = set()
    stack: list[bytes] = []
    for root in sorted(parents):
        if root in index:
            continue
        work = [(root, iter(parents[root]))]
        index[root] = low[root] = len(index)
        stack.append(root)
        on_stack.add(root)
        while work:
            node, rest = work[-1]
            child = next(rest, None)
            if child is None:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[node])
                if low[node] == index[node]:
                    yield _pop_knot(stack, on_stack, node)
            elif child not in index:
                index[child] = low[child] = len(index)
                stack.append(child)
                on_stack.add(child)
                work.append((child, iter(parents.get(child, []))))
            elif child in on_stack:
                low[node] = min(low[node], index[child])


def _pop_knot(stack: list[bytes], on_stack: set[bytes], node: bytes) -> list[bytes]:
    knot: list[bytes] = []
    while not knot or knot[-1] != node:
        knot.append(stack.pop())
        on_stack.discard(knot[-1])
    return knot
