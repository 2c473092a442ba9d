"""What cannot be in a herd: one mark on two animals, parents of the wrong sex or age, loops of descent.

Survives anything: loops, missing parents, dates that cannot be.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds.kind import PairRule
from herdsync.kinds.on import span
from herdsync.log import canonical
from herdsync.log.entry import RECORD_BYTES
from herdsync.merge.records import Record, Records

_UTC = ZoneInfo("UTC")
ANIMAL = "animal"
TAG_KEY = b"herdsync/1/key\0"
MEND = "Amend the birth date, sex, dam or sire that is wrong."

# A doeling can conceive from about 3 months (Extension Goat Handbook, NAL 1992, D-6) and carries at
# least 145 days (Storey's Guide to Raising Dairy Goats, 5th ed.): no dam is younger than this.
YOUNGEST_DAM = timedelta(days=90 + 145)

Impossible = tuple[str, list[Record], str]


def doubly_marked(animal: Record, records: Records) -> Iterator[tuple[list[str], Record]]:
    """Each other animal that bears a mark of this one, with all such marks in words."""
    shared: dict[bytes, list[str]] = {}
    others: dict[bytes, Record] = {}
    for mark in sorted(marks_of(animal)):
        for other in records.naming(mark_key(mark), ANIMAL):
            if other.id != animal.id and mark in marks_of(other):
                words = f"{mark[0]} {' '.join(part for part in mark[1:] if part)}"
                shared.setdefault(other.id, []).append(words)
                others[other.id] = other
    for id, other in sorted(others.items()):
        yield shared[id], other


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


def perhaps_one(animal: Record, rule: PairRule, records: Records) -> Iterator[Record]:
    """Each other animal that agrees with this one on one of the rule's alternatives."""
    found: dict[bytes, Record] = {}
    for fields in rule.any_of:
        alike = _alike(animal, fields, records)
        if alike is None:
            continue
        # What names the same dam is found by her; of the rest a key is kept.
        named = next((animal.value(f) for f in fields if isinstance(animal.value(f), bytes)), None)
        key = named if named is not None else _alike_key(fields, alike)
        for other in records.naming(key, ANIMAL):
            if other.id != animal.id and _alike(other, fields, records) == alike:
                found[other.id] = other
    yield from found.values()


def contradict(a: Record, b: Record) -> bool:
    """Whether two animals bear names or sexes that differ: then nobody wrote one animal twice."""
    for name in ("name", "sex"):
        one, other = a.value(name), b.value(name)
        known = one not in (None, "", "unknown") and other not in (None, "", "unknown")
        if known and str(one).casefold() != str(other).casefold():
            return True
    return False


def keys_of(animal: Record, rule: PairRule) -> set[bytes]:
    """The keys under which an animal is found by its marks and by what it shares with its like."""
    keys = {mark_key(mark) for mark in marks_of(animal)}
    for fields in rule.any_of:
        told = [animal.value(field) for field in fields]
        if not any(isinstance(one, bytes) for one in told) and _all_known(told):
            keys.add(_alike_key(fields, told))
    return keys


def mark_key(mark: tuple[str, ...]) -> bytes:
    """Under which id the animals that bear a mark are found."""
    return key_of(["mark", *mark])


def _alike(animal: Record, fields: tuple[str, ...], records: Records) -> list[Any] | None:
    """What an animal says in these fields, where it says something in all of them."""
    told = [animal.value(field) for field in fields]
    if not _all_known(told):
        return None
    return [records.canonical(one) if isinstance(one, bytes) else one for one in told]


def _all_known(told: list[Any]) -> bool:
    return all(part not in (None, "", "unknown") for part in told)


def _alike_key(fields: tuple[str, ...], told: list[Any]) -> bytes:
    return key_of(["alike", *fields, *told])


def key_of(parts: list[Any]) -> bytes:
    """The id that what is told by these parts is found under."""
    return hashlib.sha256(TAG_KEY + canonical.encode(parts)).digest()[:RECORD_BYTES]


def impossible(animal: Record, records: Records) -> Iterator[Impossible]:
    """Parents of an animal that are of the wrong sex or age; the parent comes first."""
    for field, wrong in (("dam", "buck"), ("sire", "doe")):
        parent = _parent(animal, field, records)
        if parent is None or parent.id == animal.id:
            continue
        if parent.values("sex") == [wrong]:
            says = f"The {field} of an animal is recorded as a {wrong}."
            yield (f"{field} of the wrong sex", [parent, animal], says)
        if _too_young(parent, animal, field):
            says = f"The {field} of an animal was not old enough when it was born."
            yield (f"{field} too young", [parent, animal], says)


def _parent(animal: Record, field: str, records: Records) -> Record | None:
    told = animal.value(field)
    return records.get(told) if isinstance(told, bytes) else None


def _too_young(parent: Record, child: Record, field: str) -> bool:
    born, when = parent.value("born"), child.value("born")
    if not isinstance(born, str) or not isinstance(when, str):
        return False
    least = YOUNGEST_DAM if field == "dam" else timedelta(0)
    return span(when, _UTC)[1] - span(born, _UTC)[0] <= least


def loops(seeds: Iterable[Record], records: Records) -> Iterator[list[Record]]:
    """Each knot of animals that are their own ancestors and that one of ``seeds`` is in, once.

    Only from an animal with parents and young can one come back to it; from there its ancestors are
    walked (Tarjan's strongly connected components).
    """
    animals: dict[bytes, Record] = {}
    parents: dict[bytes, list[bytes]] = {}
    begun = {one.id for one in seeds if _may_loop(one, records)}
    queue = sorted(begun)
    while queue:
        one = records.get(queue.pop())
        if one is None or one.id in parents or one.kind != ANIMAL or not one.counts:
            continue
        animals[one.id] = one
        found = (_parent(one, field, records) for field in ("dam", "sire"))
        parents[one.id] = sorted({parent.id for parent in found if parent is not None})
        queue += parents[one.id]
    for knot in knots(parents):
        looped = len(knot) > 1 or knot[0] in parents.get(knot[0], [])
        if looped and begun & set(knot):
            yield [animals[id] for id in sorted(knot)]


def _may_loop(animal: Record, records: Records) -> bool:
    if animal.kind != ANIMAL or not animal.counts:
        return False
    if not any(_parent(animal, field, records) for field in ("dam", "sire")):
        return False
    return bool(records.naming(animal.id, ANIMAL))


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
